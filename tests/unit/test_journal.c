/* SPDX-License-Identifier: Apache-2.0 */
/* The journal on a good disk: what is stored, when, by whom, for how long and at what price. */
#include "journal.h"

#include "clock.h"
#include "err.h"
#include "journal_bed.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static struct bed bed;

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    return 0;
}

static int end(void **state)
{
    (void)state;
    bed_remove(&bed);
    return 0;
}

static void stores_every_kind(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 3);
    const struct journal_event event = bed_event("", JOURNAL_NOTICE, "started");
    const struct journal_day day = bed_day("basil", BED_DAY, true);
    const struct journal_state saved = {"basil", BED_WALL_S, 5, "hello"};
    assert_true(journal_put_event(bed.journal, &event));
    assert_true(journal_put_day(bed.journal, &day));
    assert_true(journal_put_state(bed.journal, &saved));
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute"), 3);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute WHERE air_c IS NULL"), 3);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM event WHERE b IS NULL AND a = 1.5"), 1);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM day_missing"), 2);
    assert_int_equal(bed_ask(&bed, "SELECT data = x'68656c6c6f' FROM state"), 1);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM space"), 3);
    assert_int_equal(bed_ask(&bed, "PRAGMA user_version"), JOURNAL_SCHEMA_VERSION);
    const struct journal_status status = journal_get_status(bed.journal);
    assert_int_equal(status.health, JOURNAL_HEALTHY);
    assert_string_equal(status.reason, "");
    assert_int_equal(status.written, 5);
    assert_int_equal(status.dropped, 0);
    assert_int_equal(status.queued, 0);
    assert_true(status.file_bytes > 4096);
    assert_true(status.last_commit_ns > 0);
}

/* Told only after the commit: the latest moment and the latest event that the file holds. */
static void says_what_is_stored(void **state)
{
    (void)state;
    bed_open(&bed);
    struct journal_status status = journal_get_status(bed.journal);
    assert_int_equal(status.stored_s, 0);
    assert_int_equal(status.stored_event, 0);
    bed_put_minutes(&bed, "lettuce", 0, 3);
    assert_true(journal_flush(bed.journal, 20));
    status = journal_get_status(bed.journal);
    assert_int_equal(status.stored_s, bed_ask(&bed, "SELECT max(wall_s) FROM minute"));
    assert_int_equal(status.stored_event, 0);
    const struct journal_event event = bed_event("", JOURNAL_NOTICE, "started");
    assert_true(journal_put_event(bed.journal, &event));
    assert_true(journal_put_event(bed.journal, &event));
    const struct journal_state saved = {"basil", BED_WALL_S + 3600, 5, "hello"};
    assert_true(journal_put_state(bed.journal, &saved));
    assert_int_equal(journal_get_status(bed.journal).stored_event, 0);
    assert_true(journal_flush(bed.journal, 20));
    status = journal_get_status(bed.journal);
    assert_int_equal(status.stored_event, bed_ask(&bed, "SELECT max(id) FROM event"));
    assert_int_equal(status.stored_s, BED_WALL_S + 3600);
}

/* The clock was set back: the newest observation of a minute stands. A day is written again and
 * again. */
static void newest_row_stands(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 2);
    struct journal_minute minute = bed_minute("lettuce", 1);
    minute.level = 0.25;
    assert_true(journal_put_minute(bed.journal, &minute));
    struct journal_day day = bed_day("lettuce", BED_DAY, false);
    assert_true(journal_put_day(bed.journal, &day));
    assert_true(journal_flush(bed.journal, 20));
    day.is_closed = true;
    day.summary.account.missing_mol[LIMITER_BY_HAND] = 0;
    assert_true(journal_put_day(bed.journal, &day));
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute"), 2);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute WHERE level = 0.25"), 1);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM day WHERE is_closed"), 1);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM day_missing"), 1);
}

static void one_writer_only(void **state)
{
    (void)state;
    bed_open(&bed);
    struct journal *second = NULL;
    struct err err;
    assert_int_equal(journal_open(&bed.options, &second, &err), -EBUSY);
    assert_non_null(strstr(err.text, "another process writes it"));
    assert_null(second);
    pid_t child = fork();
    if (child == 0) { /* another process, for certain */
        _exit(journal_open(&bed.options, &second, NULL) == -EBUSY ? 0 : 1);
    }
    int status = -1;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    bed_put_minutes(&bed, "lettuce", 0, 1);
    bed_close(&bed);
    bed_open(&bed); /* and free again */
    bed_put_minutes(&bed, "lettuce", 1, 1);
}

/* A successor that starts while its predecessor is stopping waits for it. */
static void successor_waits(void **state)
{
    (void)state;
    int to_child[2];
    int to_parent[2];
    assert_int_equal(pipe(to_child), 0);
    assert_int_equal(pipe(to_parent), 0);
    char byte = 0;
    pid_t child = fork(); /* before the lock is taken: a child would share it */
    if (child == 0) {
        struct journal *second = NULL;
        bool is_told = read(to_child[0], &byte, 1) == 1 && write(to_parent[1], "x", 1) == 1;
        int result = journal_open(&bed.options, &second, NULL);
        journal_close(second);
        _exit(is_told && result == 0 ? 0 : 1);
    }
    bed_open(&bed);
    assert_int_equal(write(to_child[1], "x", 1), 1);
    assert_int_equal(read(to_parent[0], &byte, 1), 1);
    bed_close(&bed);
    int status = -1;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    for (int i = 0; i < 2; i++) {
        (void)close(to_child[i]);
        (void)close(to_parent[i]);
    }
}

static void await_written(uint64_t written)
{
    const int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    while (journal_get_status(bed.journal).written < written) {
        assert_true(clock_boot_ns() < until_ns);
        (void)clock_sleep_until(clock_boot_ns() + CLOCK_NS_PER_MS, NULL);
    }
}

/* With an hour between commits only an alarm can be the reason for one. */
static void alarms_are_committed_at_once(void **state)
{
    (void)state;
    bed_open(&bed);
    assert_true(journal_flush(bed.journal, 20));
    const struct journal_minute minute = bed_minute("lettuce", 0);
    const struct journal_event alarm = bed_event("lettuce", JOURNAL_ALARM, "heat");
    assert_true(journal_put_minute(bed.journal, &minute));
    assert_int_equal(journal_get_status(bed.journal).written, 0);
    assert_true(journal_put_event(bed.journal, &alarm));
    await_written(2); /* what waited goes with it */
}

/* A storm of alarms must not wear the card: only the first ones are committed at once. */
static void a_storm_of_alarms_waits(void **state)
{
    (void)state;
    bed_open(&bed);
    assert_true(journal_flush(bed.journal, 20));
    const struct journal_event alarm = bed_event("lettuce", JOURNAL_ALARM, "contact chatters");
    for (uint64_t i = 0; i < 30; i++) {
        assert_true(journal_put_event(bed.journal, &alarm));
        await_written(i + 1);
    }
    for (int i = 0; i < 100; i++) {
        assert_true(journal_put_event(bed.journal, &alarm));
    }
    (void)clock_sleep_until(clock_boot_ns() + 50 * CLOCK_NS_PER_MS,
                            NULL); /* a chance to be wrong */
    assert_int_equal(journal_get_status(bed.journal).written, 30);
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_get_status(bed.journal).written, 130);
}

static void commits_by_itself(void **state)
{
    (void)state;
    bed.options.commit_s = 0.05;
    bed_open(&bed);
    const struct journal_minute minute = bed_minute("lettuce", 0);
    assert_true(journal_put_minute(bed.journal, &minute));
    await_written(1);
}

/* No minute gets lost between stop and start. */
static void stop_writes_the_rest(void **state)
{
    (void)state;
    bed_open(&bed);
    for (int i = 0; i < 500; i++) {
        const struct journal_minute minute = bed_minute("lettuce", i);
        assert_true(journal_put_minute(bed.journal, &minute));
    }
    bed_close(&bed);
    assert_int_equal(bed_files(&bed, "-wal"), 0); /* closed properly */
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute"), 500);
}

static void no_journal_takes_nothing(void **state)
{
    (void)state;
    const struct journal_minute minute = bed_minute("lettuce", 0);
    assert_false(journal_put_minute(NULL, &minute));
    assert_true(journal_flush(NULL, 1));
    assert_int_equal(journal_get_status(NULL).health, JOURNAL_OFF);
    journal_close(NULL);
}

/* In a rehearsal a full queue waits instead of dropping. */
static void rehearsal_drops_nothing(void **state)
{
    (void)state;
    bed.options.is_rehearsal = true;
    bed.options.queue_max = 16;
    bed_open(&bed);
    for (int i = 0; i < 5000; i++) {
        const struct journal_minute minute = bed_minute("lettuce", i);
        assert_true(journal_put_minute(bed.journal, &minute));
    }
    assert_true(journal_flush(bed.journal, 20));
    const struct journal_status status = journal_get_status(bed.journal);
    assert_int_equal(status.written, 5000);
    assert_int_equal(status.dropped, 0);
    assert_int_equal(bed_files(&bed, ".lock"), 0);
    bed_close(&bed);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute"), 5000);
}

static void fill_days(int days)
{
    for (int day = 0; day < days; day++) {
        const struct journal_day summary = bed_day("lettuce", BED_DAY + day, true);
        assert_true(journal_put_day(bed.journal, &summary));
        struct journal_event event = bed_event("lettuce", JOURNAL_INFO, "x");
        event.wall_s = (BED_DAY + day) * INT64_C(86400) + 60;
        event.light_day = BED_DAY + day;
        assert_true(journal_put_event(bed.journal, &event));
        for (int i = 0; i < 24; i++) {
            struct journal_minute minute = bed_minute("lettuce", 0);
            minute.wall_s = (BED_DAY + day) * INT64_C(86400) + i * 3600;
            minute.light_day = BED_DAY + day;
            assert_true(journal_put_minute(bed.journal, &minute));
        }
    }
    assert_true(journal_flush(bed.journal, 20));
}

static void await_minutes(int64_t count)
{
    const int64_t until_ns = clock_boot_ns() + 60 * CLOCK_NS_PER_S;
    while (bed_ask(&bed, "SELECT count(*) FROM minute") != count) {
        if (clock_boot_ns() > until_ns) {
            fail_msg("%lld minutes are left",
                     (long long)bed_ask(&bed, "SELECT count(*) FROM minute"));
        }
        (void)clock_sleep_until(clock_boot_ns() + 20 * CLOCK_NS_PER_MS, NULL);
    }
}

/* Whole days go, the oldest first; summaries stay; a clock that once ran far ahead costs one day.
 */
static void old_days_go(void **state)
{
    (void)state;
    bed_open(&bed);
    fill_days(5);
    struct journal_day stray = bed_day("lettuce", BED_DAY + 40000, true);
    assert_true(journal_put_day(bed.journal, &stray));
    bed_close(&bed);
    bed.options.keep_days = 4;
    bed.options.commit_s = 0.1;
    bed_open(&bed);
    await_minutes(3 * 24);
    assert_int_equal(bed_ask(&bed, "SELECT min(light_day) FROM minute"), BED_DAY + 2);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM event"), 3);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM day"), 6);
    assert_int_equal(journal_get_status(bed.journal).health, JOURNAL_HEALTHY);
}

static uint64_t bytes_written(void)
{
    char line[64];
    unsigned long long bytes = 0;
    FILE *io = fopen("/proc/self/io", "r");
    assert_non_null(io);
    while (fgets(line, sizeof line, io)) {
        if (strncmp(line, "wchar: ", 7) == 0) {
            bytes = strtoull(line + 7, NULL, 10);
        }
    }
    (void)fclose(io);
    return bytes;
}

/*
 * What an hour costs at the file's level: one space, one commit a minute, the running day every ten
 * minutes. Rewriting per sample instead of per minute costs tens of MB an hour; SD cards died of it
 * within a year (common practice, no source). The bound is twice what was measured.
 */
static void an_hour_costs_little(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 120);
    const uint64_t before = bytes_written();
    for (int i = 0; i < 60; i++) {
        if (i % 10 == 0) {
            const struct journal_day day = bed_day("lettuce", BED_DAY, false);
            assert_true(journal_put_day(bed.journal, &day));
        }
        bed_put_minutes(&bed, "lettuce", 120 + i, 1);
    }
    bed_close(&bed); /* with the checkpoint that the hour owes */
    const uint64_t bytes = bytes_written() - before;
    print_message("an hour of one space writes %llu kB\n", (unsigned long long)(bytes / 1000));
    assert_true(bytes > 60 * 100);
    assert_true(bytes < 1200 * 1000);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, begin, end)
    const struct CMUnitTest tests[] = {
        TEST(stores_every_kind),       TEST(says_what_is_stored),
        TEST(newest_row_stands),       TEST(one_writer_only),
        TEST(successor_waits),         TEST(alarms_are_committed_at_once),
        TEST(a_storm_of_alarms_waits), TEST(commits_by_itself),
        TEST(stop_writes_the_rest),    TEST(no_journal_takes_nothing),
        TEST(rehearsal_drops_nothing), TEST(old_days_go),
        TEST(an_hour_costs_little),
    };
#undef TEST
    return cmocka_run_group_tests(tests, NULL, NULL);
}
