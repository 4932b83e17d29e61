/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A whole sweep of the verb in simulated time: this file stands in the daemon's place, answers
 * `status`, `try`, `try_end` and `resume`, and lets a simulated lamp do what the tries ask.
 */
#include "sweep_run.h"

#include "client.h"
#include "clock.h"
#include "config.h"
#include "err.h"
#include "fileio.h"
#include "lamprig.h"
#include "near.h"
#include "record.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { DIM_A, CONTACT_A, CONTACT_B, OUTPUTS };

struct output {
    const char *name, *fixture, *kind;
    bool is_tried;
    double value, until_s;
};

static struct {
    struct lamprig rig;
    struct lampsight sight;
    struct output outputs[OUTPUTS];
    int naps, tries, resumes;
    bool is_night, resumes_next, has_sensor;
    double restart_s; /* uptime begins anew then */
    double longest_s; /* of all tries */
} daemon_;

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *output_json(const struct output *output)
{
    const bool is_a = strcmp(output->fixture, "a") == 0;
    const bool is_dim = strcmp(output->kind, "dim") == 0;
    const double written = is_dim ? daemon_.sight.drive
                           : is_a ? daemon_.sight.is_closed
                                  : !(output->is_tried && output->value < 0.5);
    const bool is_held = is_dim && output->value > daemon_.rig.held_drive;
    json_t *held =
        is_held ? json_string("held at 0.78 by: PPFD ceiling of the stage") : json_null();
    json_t *trial = output->is_tried ? json_pack("{s:f,s:f,s:O}", "value", output->value, "left_s",
                                                 output->until_s - daemon_.rig.now_s, "held", held)
                                     : json_null();
    json_decref(held);
    return json_pack("{s:s,s:s,s:s,s:s,s:o,s:o}", "output", output->name, "space", "lettuce",
                     "fixture", output->fixture, "kind", output->kind, "written", number(written),
                     "try", trial);
}

static json_t *status(void)
{
    const struct lampsight *sight = &daemon_.sight;
    json_t *outputs = json_array();
    for (int i = 0; i < OUTPUTS; i++) {
        json_array_append_new(outputs, output_json(&daemon_.outputs[i]));
    }
    json_t *sensors = json_array();
    if (daemon_.has_sensor) {
        json_array_append_new(sensors, json_string("par"));
    }
    json_t *fixture = json_pack("{s:s,s:s,s:o,s:o,s:o}", "fixture", "a", "limiter",
                                sight->has_tripped ? "driver-trip" : "by-hand", "measured_watts",
                                number(sight->watts), "heat_c", number(sight->heat_c), "drive_cap",
                                number(daemon_.rig.ceiling.drive_cap));
    json_t *fixtures = json_array();
    json_array_append_new(fixtures, fixture);
    json_array_append_new(fixtures, json_pack("{s:s}", "fixture", "b"));
    json_t *space = json_pack("{s:s,s:s,s:o,s:o,s:o,s:o}", "space", "lettuce", "ppfd_quality",
                              "good", "ppfd_umol", number(sight->umol), "ppfd_age_s",
                              number(sight->now_s - sight->taken_s), "ppfd_sensors", sensors,
                              "fixtures", fixtures);
    json_t *spaces = json_array();
    json_array_append_new(spaces, space);
    const double now_s = daemon_.rig.now_s;
    return json_pack("{s:s,s:f,s:o,s:o}", "time", "2026-11-20T10:00:00+01:00", "uptime_s",
                     now_s >= daemon_.restart_s ? now_s - daemon_.restart_s : now_s, "spaces",
                     spaces, "outputs", outputs);
}

static int try_it(const json_t *params, struct err *err)
{
    const char *name = json_string_value(json_object_get(params, "output"));
    const json_t *value = json_object_get(params, "value");
    const char *word = json_string_value(value);
    const double seconds = json_number_value(json_object_get(params, "seconds"));
    daemon_.tries++;
    if (daemon_.is_night && word && strcmp(word, "closed") == 0) {
        return err_fail(err, EREMOTEIO, "it is night; --break-night lights it on purpose");
    }
    for (int i = 0; i < OUTPUTS; i++) {
        struct output *output = &daemon_.outputs[i];
        if (strcmp(output->name, name) == 0) {
            assert_true(word != NULL || strcmp(output->kind, "dim") == 0);
            output->is_tried = true;
            output->value = word ? strcmp(word, "closed") == 0 : json_number_value(value);
            output->until_s = daemon_.rig.now_s + seconds;
            daemon_.longest_s = fmax(daemon_.longest_s, seconds);
            return 0;
        }
    }
    return err_fail(err, EREMOTEIO, "no output %s", name);
}

int client_ask(const char *socket_path, const char *method, json_t *params, json_t **ret_result,
               struct err *err)
{
    (void)socket_path;
    int rc = 0;
    if (strcmp(method, "status") == 0) {
        *ret_result = status();
    } else if (strcmp(method, "try") == 0) {
        rc = try_it(params, err);
    } else if (strcmp(method, "resume") == 0) {
        daemon_.resumes++;
        daemon_.resumes_next = true;
    } else {
        assert_string_equal(method, "try_end");
        for (int i = 0; i < OUTPUTS; i++) {
            const char *name = json_string_value(json_object_get(params, "output"));
            daemon_.outputs[i].is_tried &= strcmp(daemon_.outputs[i].name, name) != 0;
        }
    }
    json_decref(params);
    return rc;
}

/* A second of the lamp, by its tries or by the plan. */
static void second(void)
{
    const struct output *outputs = daemon_.outputs;
    const struct lampwish wish = {
        .is_closed = outputs[CONTACT_A].is_tried ? outputs[CONTACT_A].value > 0.5 : true,
        .drive = outputs[DIM_A].is_tried ? outputs[DIM_A].value : 0.5,
        .acknowledges = daemon_.resumes_next,
    };
    daemon_.resumes_next = false;
    const bool was_tripped = daemon_.sight.has_tripped;
    lamprig_second(&daemon_.rig, &wish, &daemon_.sight);
    const bool trips = daemon_.sight.has_tripped && !was_tripped;
    for (int i = 0; i < OUTPUTS; i++) {
        struct output *output = &daemon_.outputs[i];
        output->is_tried &= daemon_.rig.now_s < output->until_s;
        output->is_tried &= !(trips && strcmp(output->fixture, "a") == 0);
    }
}

int __wrap_clock_sleep_until(int64_t boot_ns, const void *stop);
int __wrap_clock_sleep_until(int64_t boot_ns, const void *stop)
{
    (void)boot_ns;
    (void)stop;
    if (++daemon_.naps % 4 == 0) { /* it looks four times a second */
        second();
    }
    return 0;
}

static struct sweep sweep;
static struct sweep_run run;

static void begin(double trip_drive)
{
    static const struct output outputs[OUTPUTS] = {
        {.name = "dim_a", .fixture = "a", .kind = "dim"},
        {.name = "contact_a", .fixture = "a", .kind = "switch"},
        {.name = "contact_b", .fixture = "b", .kind = "switch"}};
    memset(&daemon_, 0, sizeof daemon_);
    memset(&run, 0, sizeof run);
    memcpy(daemon_.outputs, outputs, sizeof outputs);
    lamprig_defaults(&daemon_.rig, 11);
    daemon_.rig.setup.fixtures[0].trip_drive = trip_drive;
    daemon_.rig.min_off_s = daemon_.rig.min_on_s = 5;
    daemon_.restart_s = 1e9;
    daemon_.has_sensor = true;
    lamprig_start(&daemon_.rig);
    second();
    run.sweep = &sweep;
    run.lamp.space = "lettuce";
    run.lamp.fixture = "a";
    run.rules = (struct sweep_rules){.steps = 20,
                                     .top_drive = 1,
                                     .reference_drive = 0.6,
                                     .fine = 0.004,
                                     .reference_every = 4,
                                     .settle = {.least_s = 3, .most_s = 40, .samples = 8},
                                     .warm_least_s = 120,
                                     .warm_most_s = 1200,
                                     .lost_s = 30,
                                     .trips_most = 1,
                                     .has_switch = true};
    run.ceiling_rules = (struct ceilingsearch_rules){.from_drive = 0.8,
                                                     .top_drive = 1,
                                                     .step = 0.01,
                                                     .dwell_s = 12,
                                                     .margin = SWEEP_MARGIN,
                                                     .lost_s = 30,
                                                     .rounds = 2,
                                                     .trips_most = 2};
}

static void end(void)
{
    for (int i = 0; i < OUTPUTS; i++) {
        assert_false(daemon_.outputs[i].is_tried); /* the plan rules again */
    }
    assert_true(daemon_.longest_s <= 120);
    lamprig_stop(&daemon_.rig);
}

static void open_it(void)
{
    struct err err = {0};
    if (sweep_lamp_open(&run.lamp, &err) < 0) {
        fail_msg("%s", err.text);
    }
}

static void a_whole_sweep(void **state)
{
    (void)state;
    struct err err = {0};
    begin(2);
    open_it();
    assert_string_equal(run.lamp.sensors, "par");
    if (sweep_run(&run, &err) < 0) {
        fail_msg("%s", err.text);
    }
    end();
    const struct sweep_result *result = &run.finding.result;
    assert_near(result->off_drive, 0.08, 0.005);
    assert_near(result->on_drive, 0.10, 0.005);
    assert_near(result->fit.saturated_above, 0.95, 0.01);
    assert_near(dimcurve_level(&result->fit.curve, 0.7), 0.745, 0.008);
    assert_true(isnan(run.finding.ceiling) && isnan(run.finding.cap_today));
    assert_string_equal(run.finding.held_by, "");
    assert_int_equal(daemon_.rig.trips, 0);
    assert_int_equal(daemon_.resumes, 0);
    assert_true(daemon_.tries < 2.5 * sweep.count); /* asked once a move, and now and then */
}

static void keep_words(void *context, const char *text)
{
    char *all = context;
    (void)strncat(all, text, 2047 - strlen(all));
    (void)strncat(all, "\n", 2047 - strlen(all));
}

static void what_holds_the_lamp_back(void **state)
{
    (void)state;
    struct err err = {0};
    char words[2048] = "";
    begin(2);
    daemon_.rig.held_drive = 0.78;
    open_it();
    assert_int_equal(sweep_run(&run, &err), 0);
    end();
    assert_near(run.finding.ceiling, 0.78, 0.001);
    assert_string_equal(run.finding.held_by, "PPFD ceiling of the stage");
    sweep_words(&run.finding, keep_words, words);
    assert_non_null(strstr(words, "read up to drive 0.780"));
    assert_non_null(strstr(words, "held there by: PPFD ceiling of the stage."));
}

/* The record of a lamp that trips, as its configuration takes it. */
static void check_record(void)
{
    static char folder[] = "/tmp/test_sweep_run_XXXXXX";
    char path[64];
    char *text = NULL;
    struct err err = {0};
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/a.record", folder);
    assert_int_equal(sweep_record(&run.finding, path, &err), 0);
    assert_int_equal(fileio_read(path, 1 << 16, &text, NULL, &err), 0);
    assert_non_null(strstr(text, "cold, it trips at drive 0.88 at "));
    assert_non_null(strstr(text, "\ndrive_ceiling = 0.8200;\n"));
    assert_non_null(strstr(text, "  sensor = \"par\";\n"));
    assert_non_null(strstr(text, "  ceiling_heat_c = "));
    assert_non_null(strstr(text, "  ceiling_margin = 0.050000;\n"));
    assert_non_null(strstr(text, "\ncommissioned = \"2026-11-20\";\ncommissioned_c = "));
    assert_non_null(strstr(text, "  readings = (\n    { drive = "));
    free(text);
    struct config *config = NULL;
    struct config_report report = {0};
    if (record_load(path, &config, &report) < 0) {
        fail_msg("%s", report.text);
    }
    const struct config_fixture *lamp = &config->fixtures[0];
    assert_int_equal(config->spaces[0].rules.ageing.commissioned, 20777); /* 2026-11-20 */
    assert_near(lamp->commissioned_c, run.finding.result.warm_c, 0.06);
    assert_int_equal(lamp->measured.reading_count, run.finding.result.count);
    assert_near(lamp->measured.ceiling_margin, 0.05, 1e-9);
    config_report_free(&report);
    config_free(config);
    (void)unlink(path);
    (void)rmdir(folder);
}

static void the_ceiling_too(void **state)
{
    (void)state;
    struct err err = {0};
    begin(0.87);
    open_it();
    run.seeks_ceiling = true;
    (void)snprintf(run.finding.sensor, sizeof run.finding.sensor, "%s", run.lamp.sensors);
    (void)snprintf(run.finding.date, sizeof run.finding.date, "%s", run.lamp.time);
    if (sweep_run(&run, &err) < 0) {
        fail_msg("%s", err.text);
    }
    end();
    assert_near(run.finding.ceiling, 0.82, 0.005);
    assert_int_equal(daemon_.rig.trips, 4); /* two cold, two warm, as was said */
    assert_int_equal(sweep.trips, 0);
    assert_int_equal(daemon_.resumes, 3);
    assert_near(run.finding.cap_today, 0.83, 0.005);
    assert_near(run.finding.result.fit.curve.points[run.finding.result.fit.curve.count - 1].drive,
                0.82, 0.005);
    check_record();
}

/* No meter: a person types, wrong at first, and is away for the last steps. */
static void watts_by_hand(void **state)
{
    (void)state;
    char text[512] = "what?\n-3\n";
    struct err err = {0};
    for (int i = 2; i <= 19; i++) {
        (void)snprintf(text + strlen(text), sizeof text - strlen(text), "%d\n", 10 + 14 * i);
    }
    char path[] = "/tmp/test_sweep_run_XXXXXX";
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), (ssize_t)strlen(text));
    (void)unlink(path);
    assert_int_equal(lseek(fd, 0, SEEK_SET), 0);
    assert_int_equal(dup2(fd, STDIN_FILENO), STDIN_FILENO);
    (void)close(fd);
    begin(2);
    open_it();
    run.asks_watts = true;
    daemon_.rig.has_meter = false;
    if (sweep_run(&run, &err) < 0) {
        fail_msg("%s", err.text);
    }
    end();
    int asked = 0;
    for (int i = 0; i < sweep.count; i++) {
        const struct sweep_step *step = &sweep.steps[i];
        const bool is_asked = step->kind == SWEEP_UP && step->is_lit && step->drive < 0.98;
        assert_true(is_asked == isfinite(step->watts));
        asked += is_asked;
    }
    assert_int_equal(asked, 18); /* 0.10 is lit or not by where it came from */
    assert_true(run.finding.result.fit.has_watts);
}

static void fails(const char *words)
{
    struct err err = {0};
    open_it();
    assert_true(sweep_run(&run, &err) < 0);
    if (!strstr(err.text, words)) {
        fail_msg("'%s' is not in '%s'", words, err.text);
    }
    end();
}

static void what_ends_it(void **state)
{
    (void)state;
    begin(2);
    daemon_.is_night = true;
    fails("it is night; --break-night");
    begin(2);
    daemon_.restart_s = 400;
    fails("the daemon was started anew meanwhile");
    begin(2);
    const struct bench_fault dead = {0, 1e6, BENCH_DEAD, 0, 0};
    assert_int_equal(bench_model_add_fault(daemon_.rig.model, &dead), 0);
    fails("a: given up: no light from the lamp at drive 0.60");
}

static void refuses(const char *words)
{
    struct err err = {0};
    assert_int_equal(sweep_lamp_open(&run.lamp, &err), -ENOENT);
    if (!strstr(err.text, words)) {
        fail_msg("'%s' is not in '%s'", words, err.text);
    }
    end();
}

static void what_cannot_be_swept(void **state)
{
    (void)state;
    begin(2);
    run.lamp.space = "mint";
    refuses("there is no space 'mint'; there are: lettuce");
    begin(2);
    run.lamp.fixture = "c";
    refuses("lettuce has no fixture 'c'; it has: a, b");
    begin(2);
    run.lamp.fixture = "b";
    refuses("b has no dimming output");
    begin(2);
    daemon_.has_sensor = false;
    refuses("lettuce has no light sensor");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_sweep),   cmocka_unit_test(what_holds_the_lamp_back),
        cmocka_unit_test(the_ceiling_too), cmocka_unit_test(watts_by_hand),
        cmocka_unit_test(what_ends_it),    cmocka_unit_test(what_cannot_be_swept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
