/* SPDX-License-Identifier: Apache-2.0 */
/* The gain of the light, shown and accepted through the control protocol, over a kill and a reload.
 * The steps of the lamps come from a saved state. */
#include "clock.h"
#include "commands.h"
#include "err.h"
#include "lamp_config.h"
#include "log.h"
#include "near.h"
#include "resume.h"
#include "tick.h"

#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define NOON_S INT64_C(1794308400) /* 2026-11-10T11:00:00Z */
#define DAY    (NOON_S / 86400)

static struct {
    char folder[64], resume_path[96];
    struct tick *tick;
    struct commands commands;
    struct config *next;
} rig;

static int reload(void *context, struct config_report *ret_report, struct err *err)
{
    (void)ret_report;
    (void)context;
    const int code = tick_reload(rig.tick, rig.next, err);
    return code < 0 ? code : err_fail(err, 0, "reloaded");
}

static struct config *config_with(double canopy_factor)
{
    struct config *config = lamp_config(NOON_S, 10 * 3600, 8, 6);
    config->spaces[0].canopy_factor = canopy_factor;
    return config;
}

/* Steps that saw `ratio`, two a day since the sixth. */
static void save_steps(int count, double ratio)
{
    static struct resume_record record;
    struct resume *file = NULL;
    struct err err = {""};
    struct config *config = config_with(1.04);
    memset(&record, 0, sizeof record);
    space_init(&record.state, &config->spaces[0].rules);
    (void)snprintf(record.space, sizeof record.space, "%s", config->spaces[0].name);
    resume_boot_id(record.boot_id);
    record.boot_ns = clock_boot_ns();
    record.wall_s = NOON_S;
    record.state.lampstep.count = count;
    record.state.lampstep.next = count % LAMPSTEP_KEPT;
    for (int i = 0; i < count; i++) {
        record.state.lampstep.ratio[i] = (float)(ratio + 0.001 * (i - 0.5 * (count - 1)));
        record.state.lampstep.day[i] = (int32_t)(DAY - 4 + i / 2);
    }
    assert_int_equal(resume_create(rig.resume_path, 1, &file, &err), 0);
    resume_store(file, 0, &record);
    assert_int_equal(resume_commit(file, &err), 0);
    resume_close(file);
    config_free(config);
}

static void run_once(void)
{
    const int64_t boot_ns = clock_boot_ns();
    const struct tick_time time = {boot_ns, NOON_S * CLOCK_NS_PER_S, CLOCK_SYNC_YES, 0};
    (void)tick_run(rig.tick, &time);
}

static void start(struct config *config)
{
    struct err err = {""};
    const struct tick_setup setup = {.config = config,
                                     .resume_path = rig.resume_path,
                                     .build_s = 1790000000,
                                     .now_boot_ns = clock_boot_ns(),
                                     .now_wall_ns = NOON_S * CLOCK_NS_PER_S,
                                     .sync = CLOCK_SYNC_YES};
    assert_int_equal(tick_create(&setup, &rig.tick, &err), 0);
    rig.commands = (struct commands){rig.tick, "0", reload, NULL};
    tick_let_light(rig.tick, INT64_MAX);
    run_once();
}

static int set_up(void **state)
{
    (void)state;
    log_set_level(LOG_LEVEL_ERROR);
    (void)snprintf(rig.folder, sizeof rig.folder, "/tmp/lampwarden-gain-XXXXXX");
    assert_non_null(mkdtemp(rig.folder));
    (void)snprintf(rig.resume_path, sizeof rig.resume_path, "%s/resume", rig.folder);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    tick_destroy(rig.tick);
    rig.tick = NULL;
    (void)unlink(rig.resume_path);
    return rmdir(rig.folder);
}

static const struct correction *correction(void)
{
    return &tick_state(rig.tick, 0)->correction;
}

/* Compares the error code (0: none) and a part of the answer. */
static void ask(const char *params, int want_code, const char *want)
{
    char line[256];
    (void)snprintf(line, sizeof line,
                   "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"gain\",\"params\":%s}", params);
    char *text = commands_answer(&rig.commands, line, strlen(line));
    json_t *root = json_loads(text, 0, NULL);
    const json_t *error = json_object_get(root, "error");
    if (!strstr(text, want)) {
        print_error("%s: %s\n", params, text);
    }
    assert_int_equal(json_integer_value(json_object_get(error, "code")), want_code);
    assert_non_null(strstr(text, want));
    json_decref(root);
    free(text);
}

static void too_few_steps_are_refused(void **state)
{
    (void)state;
    save_steps(3, 1.2);
    start(config_with(1.04));
    ask("{\"space\":\"basil\"}", 0, "3 of the 9 steps of the lamps that it takes");
    ask("{\"space\":\"basil\"}", 0, "since 2026-11-06");
    ask("{\"space\":\"basil\",\"accept\":\"sensor\"}", -32001, "only 3 of the 9 steps");
    ask("{\"space\":\"mint\"}", -32602, "there are: basil");
    ask("{\"space\":\"basil\",\"accept\":\"both\"}", -32602, "\\\"sensor\\\" or \\\"lamp\\\"");
    ask("{\"space\":\"basil\",\"accept\":\"lamp\",\"clear\":true}", -32602, "not beside clear");
    ask("{\"space\":\"basil\",\"clear\":1}", -32602, "true or false");
    assert_true(correction_is_none(correction()));
}

static void what_cannot_be_is_refused(void **state)
{
    (void)state;
    save_steps(9, 1.6);
    start(config_with(1.04));
    ask("{\"space\":\"basil\",\"accept\":\"sensor\"}", -32001, "would leave 0.7 … 1.4");
    assert_true(correction_is_none(correction()));
}

static void nothing_to_correct_is_said(void **state)
{
    (void)state;
    save_steps(9, 1.001);
    start(config_with(1.04));
    ask("{\"space\":\"basil\",\"accept\":\"lamp\"}", -32001, "nothing to correct");
}

static void accepted_it_holds_over_kill_and_reload(void **state)
{
    (void)state;
    save_steps(9, 1.05);
    start(config_with(1.04));
    ask("{\"space\":\"basil\"}", 0, "the sensor shows 1.050 of the light");
    ask("{\"space\":\"basil\"}", 0, "2026-11-06 to 2026-11-10");
    ask("{\"space\":\"basil\"}", 0, "count as configured");
    ask("{\"space\":\"basil\",\"accept\":\"sensor\"}", 0, "readings ÷ 1.050, ppfd_full × 1.000");
    run_once();
    tick_destroy(rig.tick); /* what a kill leaves is the state of the last tick */
    start(config_with(1.04));
    assert_near(correction()->sensor, 1.05, 1e-6);
    assert_int_equal(correction()->since_s, NOON_S);
    rig.next = config_with(1.04);
    struct err err = {""};
    assert_int_equal(reload(NULL, NULL, &err), 0);
    assert_near(correction()->sensor, 1.05, 1e-6);
    ask("{\"space\":\"basil\"}", 0, "0 of the 9 steps"); /* counted afresh */
    rig.next = config_with(1.04 / 1.05); /* the cure stands in the configuration now */
    assert_int_equal(reload(NULL, NULL, &err), 0);
    assert_true(correction_is_none(correction()));
}

static void lamps_are_corrected_and_cleared(void **state)
{
    (void)state;
    save_steps(9, 0.9);
    start(config_with(1.04));
    ask("{\"space\":\"basil\",\"accept\":\"lamp\"}", 0, "readings ÷ 1.000, ppfd_full × 0.900");
    assert_near(correction()->lamp, 0.9, 1e-6);
    ask("{\"space\":\"basil\",\"clear\":true}", 0, "count as configured");
    assert_near(correction()->lamp, 1, 0);
    ask("{\"space\":\"basil\",\"clear\":true}", 0, "count as configured"); /* again: done already */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(too_few_steps_are_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_cannot_be_is_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(nothing_to_correct_is_said, set_up, tear_down),
        cmocka_unit_test_setup_teardown(accepted_it_holds_over_kill_and_reload, set_up, tear_down),
        cmocka_unit_test_setup_teardown(lamps_are_corrected_and_cleared, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
