/* SPDX-License-Identifier: Apache-2.0 */
/* Moments and offsets of the changes: IANA tz database (2026: Europe/Berlin, America/New_York,
 * Australia/Lord_Howe), as seconds since 1970 UTC. */
#include "civil.h"
#include "prng.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

enum { H = 3600, DAY = 86400 };

static const struct civil_change BERLIN[] = {
    {1774746000, 2 * H}, /* 2026-03-29T01:00Z */
    {1792890000, 1 * H}, /* 2026-10-25T01:00Z */
};
static const struct civil_change NEW_YORK[] = {
    {1772953200, -4 * H}, /* 2026-03-08T07:00Z */
    {1793512800, -5 * H}, /* 2026-11-01T06:00Z */
};
static const struct civil_change LORD_HOWE[] = {
    {1775314800, 37800}, /* 2026-04-04T15:00Z: half an hour back */
    {1791041400, 39600}, /* 2026-10-03T15:30Z */
};

static const struct civil berlin = {H, 2, BERLIN};
static const struct civil new_york = {-5 * H, 2, NEW_YORK};
static const struct civil lord_howe = {39600, 2, LORD_HOWE};
static const struct civil fixed = {-34200, 0, NULL};

static void check_shown(const struct civil *civil, int64_t wall_s, int hour, int minute)
{
    struct civil_time time = civil_time(civil, wall_s);
    assert_int_equal(time.second, hour * H + minute * 60 + wall_s % 60);
}

/* The last second before a change and the first one after it. */
static void the_clock_jumps(void **state)
{
    (void)state;
    assert_int_equal(civil_time(&berlin, BERLIN[0].from_s - 1).second, 2 * H - 1);
    check_shown(&berlin, BERLIN[0].from_s, 3, 0);
    assert_int_equal(civil_time(&berlin, BERLIN[1].from_s - 1).second, 3 * H - 1);
    check_shown(&berlin, BERLIN[1].from_s, 2, 0);
    assert_int_equal(civil_time(&new_york, NEW_YORK[0].from_s - 1).second, 2 * H - 1);
    check_shown(&new_york, NEW_YORK[0].from_s, 3, 0);
    assert_int_equal(civil_time(&lord_howe, LORD_HOWE[0].from_s - 1).second, 2 * H - 1);
    check_shown(&lord_howe, LORD_HOWE[0].from_s, 1, 30);
    check_shown(&lord_howe, LORD_HOWE[1].from_s, 2, 30);
    struct civil_time time = civil_time(&berlin, BERLIN[0].from_s);
    assert_int_equal(time.year, 2026);
    assert_int_equal(time.month, 3);
    assert_int_equal(time.day, 29);
    assert_int_equal(time.weekday, 6);
}

static void changes_are_found(void **state)
{
    (void)state;
    assert_int_equal(civil_offset(&berlin, 0), H);
    assert_int_equal(civil_offset(&berlin, BERLIN[0].from_s), 2 * H);
    assert_int_equal(civil_offset(&berlin, INT64_MAX), H);
    assert_true(civil_next_change(&berlin, 0) == BERLIN[0].from_s);
    assert_true(civil_next_change(&berlin, BERLIN[0].from_s - 1) == BERLIN[0].from_s);
    assert_true(civil_next_change(&berlin, BERLIN[0].from_s) == BERLIN[1].from_s);
    assert_true(civil_next_change(&berlin, BERLIN[1].from_s) == INT64_MAX);
    assert_true(civil_next_change(&fixed, 0) == INT64_MAX);
    assert_int_equal(civil_offset(&fixed, BERLIN[0].from_s), -34200);
}

static int64_t length_of_day(const struct civil *civil, int64_t wall_s)
{
    int64_t start_s = civil_day_start(civil, wall_s);
    assert_int_equal(civil_time(civil, start_s).second, 0);
    return civil_day_start(civil, start_s + 36 * H) - start_s;
}

static void lengths_of_days(void **state)
{
    (void)state;
    for (int hour = 0; hour < 22; hour++) { /* whichever moment of the day is asked for */
        assert_true(length_of_day(&berlin, BERLIN[0].from_s + (hour - 1) * H) == 23 * H);
        assert_true(length_of_day(&berlin, BERLIN[1].from_s + (hour - 2) * H) == 25 * H);
    }
    assert_true(length_of_day(&new_york, NEW_YORK[0].from_s) == 23 * H);
    assert_true(length_of_day(&new_york, NEW_YORK[1].from_s) == 25 * H);
    assert_true(length_of_day(&lord_howe, LORD_HOWE[0].from_s) == 24 * H + 1800);
    assert_true(length_of_day(&lord_howe, LORD_HOWE[1].from_s) == 24 * H - 1800);
    assert_true(length_of_day(&berlin, BERLIN[0].from_s + 2 * DAY) == DAY);
    assert_true(length_of_day(&fixed, BERLIN[0].from_s) == DAY);
}

/* Clocks that jump at midnight, as in Santiago, 2026-09-06T04:00Z: the day begins at 01:00. */
static void a_day_without_its_midnight(void **state)
{
    (void)state;
    static const struct civil_change change = {1788667200, -3 * H};
    const struct civil santiago = {-4 * H, 1, &change};
    for (int hour = 0; hour < 23; hour++) {
        assert_true(civil_day_start(&santiago, change.from_s + hour * H) == change.from_s);
    }
    assert_true(civil_day_start(&santiago, change.from_s - 1) == change.from_s - DAY);
    assert_true(civil_day_start(&santiago, change.from_s + 23 * H) == change.from_s + 23 * H);
    /* Saturday's last hour is shown twice, as there on 2026-04-05T03:00Z. */
    static const struct civil_change back = {1775358000, -4 * H};
    const struct civil autumn = {-3 * H, 1, &back};
    assert_int_equal(civil_time(&autumn, back.from_s).second, 23 * H);
    assert_true(civil_day_start(&autumn, back.from_s + 1800) == back.from_s - DAY);
    assert_true(civil_day_start(&autumn, back.from_s + H) == back.from_s + H);
}

/* The C library's calendar. */
static void dates_agree_with_the_c_library(void **state)
{
    (void)state;
    struct prng prng = prng_start("dates");
    const struct civil utc = {0, 0, NULL};
    for (int i = 0; i < 20000; i++) {
        time_t moment = prng_int(&prng, -5000000000, 90000000000);
        struct tm want;
        assert_non_null(gmtime_r(&moment, &want));
        struct civil_time time = civil_time(&utc, moment);
        assert_int_equal(time.year, want.tm_year + 1900);
        assert_int_equal(time.month, want.tm_mon + 1);
        assert_int_equal(time.day, want.tm_mday);
        assert_int_equal(time.weekday, (want.tm_wday + 6) % 7);
        assert_int_equal(time.second, want.tm_hour * H + want.tm_min * 60 + want.tm_sec);
        int64_t midnight_s = civil_day(time.year, time.month, time.day) * DAY;
        assert_true(midnight_s + time.second == moment);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_clock_jumps),
        cmocka_unit_test(changes_are_found),
        cmocka_unit_test(lengths_of_days),
        cmocka_unit_test(a_day_without_its_midnight),
        cmocka_unit_test(dates_agree_with_the_c_library),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
