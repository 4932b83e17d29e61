/* SPDX-License-Identifier: Apache-2.0 */
/* The daemon's second with real workers over the in-process bench. Boot time is real, since the
 * samples carry it; wall time is a Tuesday of our choice that runs beside it. */
#include "tick.h"

#include "clock.h"
#include "commands.h"
#include "err.h"
#include "lamp_config.h"
#include "log.h"
#include "near.h"
#include "resume.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const int64_t noon_s = 1794308400; /* 2026-11-10T11:00:00Z */
static const int64_t build_s = 1790000000;
enum { OTHER_DIM = 2, OTHER_CONTACT = 3 }; /* in lamp_config */
static const int64_t step_ns = 100 * CLOCK_NS_PER_MS;

struct rig {
    char folder[64], resume_path[96];
    struct config *next_config; /* what a reload command loads */
    struct tick *tick;
    struct commands commands;
    int64_t boot0_ns;
    int64_t wall_s; /* at boot0_ns */
    enum clock_sync sync;
};

static int reload(void *context, struct config_report *ret_report, struct err *err)
{
    (void)ret_report;
    struct rig *rig = context;
    int code = tick_reload(rig->tick, rig->next_config, err);
    return code < 0 ? code : err_fail(err, 0, "reloaded");
}

static void start(struct rig *rig, struct config *config)
{
    struct err err = {""};
    int64_t boot_ns = clock_boot_ns();
    const struct tick_setup setup = {
        .config = config,
        .resume_path = rig->resume_path,
        .build_s = build_s,
        .now_boot_ns = boot_ns,
        .now_wall_ns = rig->wall_s * CLOCK_NS_PER_S + boot_ns - rig->boot0_ns,
        .sync = rig->sync,
    };
    int code = tick_create(&setup, &rig->tick, &err);
    if (code < 0) {
        print_error("%s\n", err.text);
    }
    assert_int_equal(code, 0);
    rig->commands = (struct commands){rig->tick, "0", reload, rig};
}

static void set_up(struct rig *rig)
{
    log_set_level(LOG_LEVEL_ERROR);
    memset(rig, 0, sizeof *rig);
    (void)snprintf(rig->folder, sizeof rig->folder, "/tmp/lampwarden-tick-XXXXXX");
    assert_non_null(mkdtemp(rig->folder));
    (void)snprintf(rig->resume_path, sizeof rig->resume_path, "%s/resume", rig->folder);
    rig->boot0_ns = clock_boot_ns();
    rig->wall_s = noon_s;
    rig->sync = CLOCK_SYNC_YES;
}

static void begin(struct rig *rig, int32_t on_s, double target_mol)
{
    set_up(rig);
    start(rig, lamp_config(noon_s, on_s, 8, target_mol));
}

static void end(struct rig *rig)
{
    tick_destroy(rig->tick);
    (void)unlink(rig->resume_path);
    assert_int_equal(rmdir(rig->folder), 0);
}

static void step(struct rig *rig)
{
    (void)clock_sleep_until(clock_boot_ns() + step_ns, NULL);
    struct tick_time time = {.boot_ns = clock_boot_ns(), .sync = rig->sync};
    time.wall_ns = rig->wall_s * CLOCK_NS_PER_S + time.boot_ns - rig->boot0_ns;
    assert_true(tick_run(rig->tick, &time));
}

static void get_ready(struct rig *rig, double delay_s)
{
    for (int i = 0; i < 100 && !tick_outputs_are_decided(rig->tick); i++) {
        step(rig);
    }
    assert_true(tick_outputs_are_decided(rig->tick));
    tick_let_light(rig->tick, clock_boot_ns() + (int64_t)(delay_s * 1e9));
    step(rig);
}

/* A member of the only space's status, or of the whole; the caller's to json_decref. */
static json_t *status(struct rig *rig)
{
    static const char question[] = "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"status\"}";
    char *text = commands_answer(&rig->commands, question, sizeof question - 1);
    assert_non_null(text);
    json_t *root = json_loads(text, 0, NULL);
    free(text);
    json_t *result = json_incref(json_object_get(root, "result"));
    assert_non_null(result);
    json_decref(root);
    return result;
}

static double space_number(struct rig *rig, const char *name)
{
    json_t *whole = status(rig);
    const json_t *space = json_array_get(json_object_get(whole, "spaces"), 0);
    const json_t *value = json_object_get(space, name);
    double number = json_is_number(value) ? json_number_value(value) : (double)NAN;
    json_decref(whole);
    return number;
}

/* Sends a request and compares its error code (0: none) and a part of its sentence. */
static void ask(struct rig *rig, const char *method, const char *params, int want_code,
                const char *want)
{
    char line[512];
    (void)snprintf(line, sizeof line,
                   "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"%s\",\"params\":%s}", method,
                   params);
    char *text = commands_answer(&rig->commands, line, strlen(line));
    assert_non_null(text);
    json_t *root = json_loads(text, 0, NULL);
    const json_t *error = json_object_get(root, "error");
    json_int_t code = json_integer_value(json_object_get(error, "code"));
    if (code != want_code || !strstr(text, want)) {
        print_error("%s %s: %s\n", method, params, text);
    }
    assert_int_equal(code, want_code);
    assert_non_null(strstr(text, want));
    json_decref(root);
    free(text);
}

static void wait_for_light(struct rig *rig, double above)
{
    double ppfd_umol = 0;
    for (int i = 0; i < 300 && !(ppfd_umol > above); i++) {
        step(rig);
        ppfd_umol = space_number(rig, "ppfd_umol");
    }
    assert_true(ppfd_umol > above);
}

static void lights_up(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 10 * 3600, 6);
    step(&rig);
    json_t *whole = status(&rig);
    assert_true(json_is_false(json_object_get(whole, "is_ready")));
    assert_int_equal(json_array_size(json_object_get(whole, "spaces")), 0);
    json_decref(whole);
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"minutes\":5}", -32003, "only just");
    get_ready(&rig, 1.5);
    int64_t from_ns = clock_boot_ns() + CLOCK_NS_PER_S;
    while (clock_boot_ns() < from_ns) { /* no contact closes before its time */
        step(&rig);
        assert_near(space_number(&rig, "level"), 0, 0);
    }
    wait_for_light(&rig, 10);
    assert_near(space_number(&rig, "target_mol"), 6, 1e-9);
    assert_true(space_number(&rig, "delivered_mol") > 0);
    end(&rig);
}

static void hand_commands(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 10 * 3600, 6);
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    ask(&rig, "hold", "{\"space\":\"mint\",\"level\":0.4,\"minutes\":5}", -32602, "basil");
    ask(&rig, "hold", "{\"level\":0.4,\"minutes\":5}", -32602, "basil");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":1.4,\"minutes\":5}", -32602, "0 … 1");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":\"0.4\",\"minutes\":5}", -32602, "0 … 1");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"minutes\":0}", -32602, "1440");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"minutes\":1441}", -32602, "1440");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"for\":5}", -32602, "'for'");
    ask(&rig, "dance", "{}", -32601, "dance");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0,\"minutes\":5}", 0, "0 % by hand");
    step(&rig);
    json_t *whole = status(&rig);
    const json_t *space = json_array_get(json_object_get(whole, "spaces"), 0);
    assert_string_equal(json_string_value(json_object_get(space, "limiter")), "by-hand");
    assert_near(json_number_value(json_object_get(json_object_get(space, "hand"), "level")), 0, 0);
    json_decref(whole);
    ask(&rig, "resume", "{\"space\":\"basil\"}", 0, "the plan rules again");
    wait_for_light(&rig, 10);
    ask(&rig, "version", "{}", 0, "\"0\"");
    end(&rig);
}

static void the_night_is_kept(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 20 * 3600, 6); /* lit from 20:00 to 04:00; it is 11:00 */
    get_ready(&rig, 0);
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"minutes\":5}", -32001, "unbroken");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0,\"minutes\":5}", 0, "by hand");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"minutes\":5,\"break_night\":1}", -32602,
        "true or false");
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.4,\"minutes\":5,\"break_night\":true}", 0,
        "by hand");
    wait_for_light(&rig, 10);
    ask(&rig, "resume", "{\"space\":\"basil\"}", 0, "again");
    for (int i = 0; i < 100 && space_number(&rig, "level") > 0; i++) {
        step(&rig);
    }
    assert_near(space_number(&rig, "level"), 0, 0);
    end(&rig);
}

/* A member of one output in status; the caller's to json_decref. */
static json_t *output_member(struct rig *rig, int output, const char *name)
{
    json_t *whole = status(rig);
    const json_t *its = json_array_get(json_object_get(whole, "outputs"), (size_t)output);
    json_t *value = json_incref(json_object_get(its, name));
    json_decref(whole);
    return value;
}

static double output_number(struct rig *rig, int output, const char *name)
{
    json_t *value = output_member(rig, output, name);
    const double number = json_is_number(value) ? json_number_value(value) : (double)NAN;
    json_decref(value);
    return number;
}

static void wait_for_read_back(struct rig *rig, int output, double want)
{
    for (int i = 0; i < 100 && !(fabs(output_number(rig, output, "read_back") - want) < 1e-6);
         i++) {
        step(rig);
    }
    assert_near(output_number(rig, output, "read_back"), want, 1e-6);
}

/* What was asked, written and read back stand side by side; a try ends with the time it was given,
 * by try_end, by resume and by a reload. */
static void outputs_are_tried(void **state)
{
    (void)state;
    struct rig rig;
    set_up(&rig);
    struct config *config = lamp_config(noon_s, 10 * 3600, 8, 6);
    config->fixture_rules[0].ceiling.drive_max = 0.9;
    start(&rig, config);
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.3}", -32003, "only just");
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    ask(&rig, "try", "{\"output\":\"dimm\",\"value\":0.3}", -32602, "no output 'dimm'");
    ask(&rig, "try", "{\"output\":\"other_dim\",\"value\":0.3}", -32001, "no fixture of a space");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":1.3}", -32602, "0 … 1");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":\"closed\"}", -32602, "dimming output");
    ask(&rig, "try", "{\"output\":\"contact\",\"value\":1}", -32602, "open or closed");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.3,\"seconds\":601}", -32602, "600");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.3,\"break_night\":1}", -32602, "true or");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.3,\"seconds\":600}", 0, "drive 0.30 for 10");
    wait_for_read_back(&rig, 0, 0.3);
    assert_near(output_number(&rig, 0, "asked"), 0.3, 1e-9);
    assert_near(output_number(&rig, 0, "written"), 0.3, 1e-9);
    assert_true(output_number(&rig, 0, "since_s") >= 0);
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":1,\"seconds\":600}", 0, "drive 1.00");
    step(&rig);
    json_t *trial = output_member(&rig, 0, "try");
    assert_string_equal(json_string_value(json_object_get(trial, "held")),
                        "held at 0.90 by: drive ceiling of the LED driver");
    json_decref(trial);
    ask(&rig, "try_end", "{\"output\":\"dim\"}", 0, "the plan rules again");
    step(&rig);
    trial = output_member(&rig, 0, "try");
    assert_true(json_is_null(trial));
    json_decref(trial);
    ask(&rig, "try", "{\"output\":\"contact\",\"value\":\"open\",\"seconds\":60}", 0, "open for");
    wait_for_read_back(&rig, 1, 0);
    ask(&rig, "resume", "{\"space\":\"basil\"}", 0, "the plan rules again");
    wait_for_light(&rig, 10);
    end(&rig);
}

/* What trips under a hand is let go: the hand does not light it again. */
static void a_trip_ends_the_try(void **state)
{
    (void)state;
    struct rig rig;
    set_up(&rig);
    struct config *config = lamp_config(noon_s, 10 * 3600, 8, 6);
    start(&rig, config);
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.3,\"seconds\":600}", 0, "drive 0.30");
    wait_for_read_back(&rig, 0, 0.3);
    config->fixture_rules[0].heat.trip_c = 5; /* as if the heatsink were that much hotter */
    wait_for_read_back(&rig, 1, 0);
    step(&rig);
    json_t *trial = output_member(&rig, 0, "try");
    assert_true(json_is_null(trial));
    json_decref(trial);
    end(&rig);
}

static void no_try_breaks_a_night(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 20 * 3600, 6); /* lit from 20:00 to 04:00; it is 11:00 */
    get_ready(&rig, 0);
    ask(&rig, "try", "{\"output\":\"contact\",\"value\":\"closed\"}", -32001, "unbroken");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.7,\"seconds\":26}", 0,
        "no light comes of it");
    for (int i = 0; i < 150; i++) {
        step(&rig);
        assert_near(output_number(&rig, 0, "asked"), 0, 1e-9); /* a welded contact shows first */
    }
    wait_for_read_back(&rig, 0, 0.7);
    wait_for_read_back(&rig, 0, 0); /* it ended by itself */
    ask(&rig, "try",
        "{\"output\":\"contact\",\"value\":\"closed\",\"seconds\":60,\"break_night\":true}", 0,
        "closed for");
    wait_for_read_back(&rig, 1, 1);
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.7}", -32001, "unbroken");
    rig.next_config = lamp_config(noon_s, 20 * 3600, 8, 6);
    ask(&rig, "reload", "{}", 0, "reloaded");
    wait_for_read_back(&rig, 1, 0);
    end(&rig);
}

static void a_reload_goes_on(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 10 * 3600, 6);
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    double before = space_number(&rig, "delivered_mol");
    rig.next_config = lamp_config(noon_s, 10 * 3600, 8, 7);
    ask(&rig, "reload", "{}", 0, "reloaded");
    assert_near(space_number(&rig, "delivered_mol"), before,
                1e-9); /* the last picture still shows */
    step(&rig);
    assert_true(space_number(&rig, "delivered_mol") >= before);
    assert_true(space_number(&rig, "level") > 0); /* the lamp burned on */
    assert_near(space_number(&rig, "target_mol"), 7, 1e-9);
    rig.next_config = lamp_config(noon_s, 10 * 3600, 8, 6);
    ask(&rig, "reload", "{}", 0, "reloaded");
    rig.next_config = lamp_config(noon_s, 10 * 3600, 8, 6);
    ask(&rig, "reload", "{}", 0, "reloaded"); /* before a tick saved the state of the first */
    const int64_t before_ns = clock_boot_ns();
    step(&rig);
    struct resume_record record;
    const char *space = tick_config(rig.tick)->spaces[0].name;
    assert_int_equal(resume_read(rig.resume_path, space, &record, NULL), 0);
    assert_true(record.boot_ns >= before_ns); /* saved after both */
    end(&rig);
}

/* The lamp hangs on other lines now: how long that contact was open is not known, so it rests. */
static void a_rewired_lamp_rests(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 10 * 3600, 6);
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    int64_t reloaded_ns = clock_boot_ns();
    rig.next_config = lamp_config(noon_s, 10 * 3600, 8, 6);
    rig.next_config->fixtures[0].dim_output = OTHER_DIM;
    rig.next_config->fixtures[0].switch_output = OTHER_CONTACT;
    ask(&rig, "reload", "{}", 0, "reloaded");
    step(&rig);
    assert_near(space_number(&rig, "level"), 0, 0);
    for (int i = 0; i < 300 && !(space_number(&rig, "level") > 0); i++) {
        step(&rig);
    }
    assert_true(space_number(&rig, "level") > 0);
    assert_true(clock_boot_ns() - reloaded_ns >= CLOCK_NS_PER_S); /* min_off_s */
    end(&rig);
}

/* Nobody can tell whether it is night: not even light "in the night too" is taken. */
static void no_hold_without_a_clock(void **state)
{
    (void)state;
    struct rig rig;
    set_up(&rig);
    rig.sync = CLOCK_SYNC_NO;
    struct config *config = lamp_config(noon_s, 10 * 3600, 8, 6);
    config->trust_held_over_clock = false;
    start(&rig, config);
    get_ready(&rig, 0);
    char params[128];
    (void)snprintf(params, sizeof params,
                   "{\"space\":\"%s\",\"level\":0.5,\"minutes\":5,\"break_night\":true}",
                   config->spaces[0].name);
    ask(&rig, "hold", params, -32001, "the time of day is not known");
    ask(&rig, "try", "{\"output\":\"contact\",\"value\":\"closed\",\"break_night\":true}", -32001,
        "the time of day is not known");
    ask(&rig, "try", "{\"output\":\"dim\",\"value\":0.5}", 0, "no light comes of it");
    end(&rig);
}

static void a_restart_goes_on(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 10 * 3600, 6);
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    ask(&rig, "hold", "{\"space\":\"basil\",\"level\":0.5,\"minutes\":5}", 0, "by hand");
    step(&rig);
    double before = space_number(&rig, "delivered_mol");
    tick_destroy(rig.tick);
    rig.sync = CLOCK_SYNC_NO; /* the network is gone, but nobody set the clock */
    start(&rig, lamp_config(noon_s, 10 * 3600, 8, 6));
    get_ready(&rig, 0);
    assert_true(space_number(&rig, "delivered_mol") >= before);
    json_t *whole = status(&rig);
    assert_string_equal(json_string_value(json_object_get(whole, "clock")), "held-over");
    const json_t *space = json_array_get(json_object_get(whole, "spaces"), 0);
    assert_true(json_is_object(json_object_get(space, "hand")));
    json_decref(whole);
    wait_for_light(&rig, 10);
    end(&rig);
}

static void ends_safe(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig, 10 * 3600, 6);
    get_ready(&rig, 0);
    wait_for_light(&rig, 10);
    bool is_safe = false;
    for (int i = 0; i < 60 && !is_safe; i++) {
        (void)clock_sleep_until(clock_boot_ns() + 20 * CLOCK_NS_PER_MS, NULL);
        is_safe = tick_make_safe(rig.tick, clock_boot_ns());
    }
    assert_true(is_safe);
    tick_finish_records(rig.tick);
    end(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lights_up),
        cmocka_unit_test(hand_commands),
        cmocka_unit_test(the_night_is_kept),
        cmocka_unit_test(outputs_are_tried),
        cmocka_unit_test(a_trip_ends_the_try),
        cmocka_unit_test(no_try_breaks_a_night),
        cmocka_unit_test(a_reload_goes_on),
        cmocka_unit_test(no_hold_without_a_clock),
        cmocka_unit_test(a_rewired_lamp_rests),
        cmocka_unit_test(a_restart_goes_on),
        cmocka_unit_test(ends_safe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
