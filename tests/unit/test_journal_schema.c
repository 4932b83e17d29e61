/* SPDX-License-Identifier: Apache-2.0 */
/* A journal that an earlier version of the program wrote is read as it lies, and goes on: one of
 * schema 1, whose days know less, and one of schema 2, whose minutes do. */
#include "err.h"
#include "journal_bed.h"
#include "journal_read.h"
#include "journal_schema.h"
#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define OLD_DAY 20759 /* 2026-11-02, the first of the two in it */

static struct bed bed;

struct days {
    int count;
    struct journal_day of[16];
};

static int begin_with(const char *path)
{
    static char sql[16384];
    FILE *file = fopen(path, "re");
    assert_non_null(file);
    sql[fread(sql, 1, sizeof sql - 1, file)] = '\0';
    assert_true(feof(file));
    (void)fclose(file);
    bed_make(&bed);
    bed_run(&bed, sql);
    return 0;
}

static int begin(void **state)
{
    (void)state;
    return begin_with(TESTS_DATA "/journal_1.sql");
}

static int begin_2(void **state)
{
    (void)state;
    return begin_with(TESTS_DATA "/journal_2.sql");
}

static int end(void **state)
{
    (void)state;
    if (bed.journal) {
        bed_close(&bed);
    }
    bed_remove(&bed);
    return 0;
}

static int keep_day(const struct journal_day *day, void *context)
{
    struct days *days = context;
    assert_true(days->count < 16);
    days->of[days->count++] = *day;
    return 0;
}

/* Minutes of a journal that did not keep the chain. */
static int count_minute(const struct journal_minute *minute, void *context)
{
    assert_string_equal(minute->chain, "");
    assert_true(minute->level >= 0 && minute->limiter < LIMITER_COUNT);
    ++*(int *)context;
    return 0;
}

static void read_days(struct days *ret)
{
    const struct journal_range range = {NULL, INT64_MIN, INT64_MAX};
    struct journal_reader *reader = NULL;
    struct err err = {""};
    ret->count = 0;
    if (journal_reader_open(bed.path, &reader, &err) != 0) {
        fail_msg("%s", err.text);
    }
    assert_int_equal(journal_read_days(reader, &range, keep_day, ret, &err), 0);
    int minutes = 0;
    assert_int_equal(journal_read_minutes(reader, &range, count_minute, &minutes, &err), 0);
    assert_int_equal(minutes, 6);
    journal_reader_close(reader);
}

static void check_old(const struct journal_day *day)
{
    assert_string_equal(day->space, "basil");
    assert_string_equal(day->stage, "herbs");
    assert_int_equal(day->summary.light_day, OLD_DAY);
    assert_true(day->is_closed && day->summary.is_feasible);
    assert_near(day->summary.energy_kwh, 2.4808716666666912, 1e-12);
    assert_near(day->summary.cost, 0.7442614999999962, 1e-12);
    assert_int_equal(day->summary.night_breaks, 0);
    assert_true(isnan(day->summary.lamp_cost));
    assert_true(isnan(day->summary.bound_cost));
    assert_true(isnan(day->summary.even_cost));
    assert_true(isnan(day->summary.night_possible_umol_m2));
}

static void an_old_journal_is_read(void **state)
{
    (void)state;
    static struct days days;
    read_days(&days);
    assert_int_equal(days.count, 9);
    check_old(&days.of[1]);
    assert_int_equal(bed_ask(&bed, "PRAGMA user_version"), 1); /* and not changed by it */
}

static void an_old_journal_goes_on(void **state)
{
    (void)state;
    static struct days days;
    bed_open(&bed);
    const struct journal_day fresh = bed_day("basil", OLD_DAY + 3, true);
    assert_true(journal_put_day(bed.journal, &fresh));
    assert_true(journal_flush(bed.journal, 20));
    bed_close(&bed);
    assert_int_equal(bed_files(&bed, ".corrupt-"), 0);
    assert_int_equal(bed_ask(&bed, "PRAGMA user_version"), JOURNAL_SCHEMA_VERSION);
    assert_int_equal(bed_ask(&bed, "SELECT value FROM meta WHERE key = 'schema_version'"),
                     JOURNAL_SCHEMA_VERSION);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM event"), 4);
    read_days(&days);
    assert_int_equal(days.count, 10);
    check_old(&days.of[1]);
    assert_near(days.of[9].summary.bound_cost, fresh.summary.bound_cost, 0);
    assert_near(days.of[9].summary.lamp_cost, fresh.summary.lamp_cost, 0);
    assert_near(days.of[9].summary.even_cost, fresh.summary.even_cost, 0);
    bed_open(&bed); /* once more, as one of this version */
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(bed_files(&bed, ".corrupt-"), 0);
}

/* A journal that is begun today and one that was brought up have the same columns. */
static void both_ways_lead_to_the_same(void **state)
{
    (void)state;
    static const char columns[] = "SELECT count(*) FROM pragma_table_info('day')"
                                  " WHERE name LIKE '%_cost' AND type = 'REAL' AND \"notnull\" = 0";
    bed_open(&bed);
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(bed_ask(&bed, columns), 3);
    const int64_t brought_up = bed_ask(&bed, "SELECT count(*) FROM pragma_table_info('day')");
    const int64_t minutes = bed_ask(&bed, "SELECT count(*) FROM pragma_table_info('minute')");
    bed_close(&bed);
    bed_remove(&bed);
    bed_make(&bed);
    bed_open(&bed);
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(bed_ask(&bed, columns), 3);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM pragma_table_info('day')"), brought_up);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM pragma_table_info('minute')"), minutes);
}

static struct journal_minute newest;

static int keep_newest(const struct journal_minute *minute, void *context)
{
    ++*(int *)context;
    newest = *minute;
    return 0;
}

/* The minutes from before stay as they are, the new one has its chain. */
static void minutes_get_their_chain(void **state)
{
    (void)state;
    static struct days days;
    read_days(&days);
    assert_int_equal(bed_ask(&bed, "PRAGMA user_version"), 2); /* a reader changes nothing */
    bed_open(&bed);
    struct journal_minute fresh = bed_minute("basil", 60 * 24 * 365);
    (void)snprintf(fresh.chain, sizeof fresh.chain, "%s", "@59 L62 =p p62");
    assert_true(journal_put_minute(bed.journal, &fresh));
    assert_true(journal_flush(bed.journal, 20));
    bed_close(&bed);
    assert_int_equal(bed_files(&bed, ".corrupt-"), 0);
    assert_int_equal(bed_ask(&bed, "PRAGMA user_version"), JOURNAL_SCHEMA_VERSION);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute WHERE chain IS NULL"), 6);
    const struct journal_range range = {NULL, INT64_MIN, INT64_MAX};
    struct journal_reader *reader = NULL;
    int count = 0;
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    assert_int_equal(journal_read_minutes(reader, &range, keep_newest, &count, NULL), 0);
    journal_reader_close(reader);
    assert_int_equal(count, 7);
    assert_int_equal(newest.wall_s, fresh.wall_s);
    assert_string_equal(newest.space, "basil");
    assert_string_equal(newest.chain, fresh.chain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(an_old_journal_is_read, begin, end),
        cmocka_unit_test_setup_teardown(an_old_journal_goes_on, begin, end),
        cmocka_unit_test_setup_teardown(minutes_get_their_chain, begin_2, end),
        cmocka_unit_test_setup_teardown(both_ways_lead_to_the_same, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
