/* SPDX-License-Identifier: Apache-2.0 */
/* The log of a light day comes back from the journal, to its own day, or not at all. */
#include "daylogs.h"

#include "clock.h"
#include "err.h"
#include "journal_bed.h"
#include "lamp_config.h"
#include "log.h"
#include "near.h"
#include "tick.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static const int64_t noon_s = 1794312000; /* 2026-11-10T12:00:00Z */

static struct bed bed;

static int begin(void **state)
{
    (void)state;
    log_set_level(LOG_LEVEL_ERROR);
    bed_make(&bed);
    bed_open(&bed);
    return 0;
}

static int end(void **state)
{
    (void)state;
    bed_close(&bed);
    bed_remove(&bed);
    return 0;
}

static int restore(const char *space, int64_t light_day, struct daylog *ret)
{
    struct journal_reader *reader = NULL;
    struct err err = {""};
    assert_true(journal_flush(bed.journal, 10));
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), 0);
    const int code = daylogs_restore(reader, space, light_day, ret, &err);
    journal_reader_close(reader);
    return code;
}

static void comes_back(void **state)
{
    (void)state;
    struct daylog log;
    struct daylog back;
    daylog_open(&log);
    daylog_book(&log, 40000, 3000, &(struct daylog_step){120, 0.9, 0.3});
    log.promised_mol = 3.25;
    daylogs_keep(bed.journal, "lettuce", BED_WALL_S, BED_DAY, &log);
    assert_int_equal(restore("lettuce", BED_DAY, &back), 0);
    assert_memory_equal(&back, &log, sizeof back);
    memset(&back, 0x5a, sizeof back);
    const struct daylog untouched = back;
    assert_int_equal(restore("lettuce", BED_DAY + 1, &back), -ENOENT); /* it is yesterday's */
    assert_int_equal(restore("basil", BED_DAY, &back), -ENOENT);
    log.cap[3] = (float)NAN; /* a sound record of what cannot be */
    daylogs_keep(bed.journal, "lettuce", BED_WALL_S, BED_DAY, &log);
    assert_int_equal(restore("lettuce", BED_DAY, &back), -EILSEQ);
    assert_memory_equal(&back, &untouched, sizeof back);
    daylogs_keep(NULL, "lettuce", BED_WALL_S, BED_DAY, &log); /* no journal: nothing happens */
}

/* Seconds after noon, of both clocks. */
static void run_at(struct tick *tick, int64_t boot_ns, int second)
{
    const struct tick_time time = {
        .boot_ns = boot_ns + second * CLOCK_NS_PER_S,
        .wall_ns = (noon_s + second) * CLOCK_NS_PER_S,
        .sync = CLOCK_SYNC_YES,
    };
    (void)tick_run(tick, &time); /* its buses live by another clock and seem late */
}

static struct tick *start(int64_t boot_ns, int second)
{
    struct config *config = lamp_config(noon_s, 8 * 3600, 12, 10);
    (void)snprintf(config->journal.path, sizeof config->journal.path, "%s", bed.path);
    const struct tick_setup setup = {
        .config = config,
        .resume_path = "",
        .journal = bed.journal,
        .build_s = 1790000000,
        .now_boot_ns = boot_ns + second * CLOCK_NS_PER_S,
        .now_wall_ns = (noon_s + second) * CLOCK_NS_PER_S,
        .sync = CLOCK_SYNC_YES,
    };
    struct tick *tick = NULL;
    struct err err = {""};
    if (tick_create(&setup, &tick, &err) < 0) {
        fail_msg("%s", err.text);
    }
    tick_let_light(tick, setup.now_boot_ns);
    return tick;
}

/* Killed after 22 minutes: a quarter of an hour is on record. Stopped later: all of it. */
static void a_restart_goes_on(void **state)
{
    (void)state;
    const int64_t boot_ns = clock_boot_ns();
    struct daylog log;
    struct tick *tick = start(boot_ns, 0);
    for (int second = 0; second <= 1320; second += 60) {
        run_at(tick, boot_ns, second);
    }
    tick_destroy(tick);
    assert_int_equal(restore("basil", noon_s / 86400, &log), 0);
    assert_int_equal(daylog_seen_s(&log), 900);
    tick = start(boot_ns, 1400);
    for (int second = 1400; second <= 1700; second += 60) {
        run_at(tick, boot_ns, second);
    }
    tick_finish_records(tick);
    tick_destroy(tick);
    assert_int_equal(restore("basil", noon_s / 86400, &log), 0);
    assert_int_equal(log.seconds[48], 900);
    /* from the last state in the journal at 1320 s on, which is the first step after it */
    assert_int_equal(log.seconds[49], 1700 - 1320);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(comes_back, begin, end),
        cmocka_unit_test_setup_teardown(a_restart_goes_on, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
