/* SPDX-License-Identifier: Apache-2.0 */
#include "lightday.h"
#include "prng.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

static const int64_t HOUR_S = 3600;
static const int64_t DAY_S = 86400;

enum { H = 3600 }; /* hours in rules, which are 32 bits wide */

static const struct lightday_rules UTC_MIDNIGHT = {0, 0};

/* Days are floored, also before 1970 and far after 2038. */
static void test_days(void **state)
{
    (void)state;
    static const struct {
        int32_t utc_offset_s, start_s;
        int64_t wall_s, day;
    } cases[] = {
        {0, 0, 0, 0},
        {0, 0, 86399, 0},
        {0, 0, 86400, 1},
        {0, 0, -1, -1},
        {0, 0, -86400, -1},
        {0, 0, -86401, -2},
        {3600, 0, -3600, 0},
        {3600, 0, -3601, -1},
        {-18000, 0, 17999, -1},
        {-18000, 0, 18000, 0},
        {0, 21600, 21599, -1},
        {0, 21600, 21600, 0},
        {50400, 86399, 0, -1},
        {50400, 86399, 86399 - 50400, 0},
        {0, 0, INT64_C(2147483648), 24855},     /* 2038-01-19 03:14:08, one past a 32-bit time */
        {0, 0, INT64_C(253402300799), 2932896}, /* 9999-12-31 23:59:59 */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct lightday_rules rules = {cases[i].utc_offset_s, cases[i].start_s};
        assert_int_equal(lightday_of(&rules, cases[i].wall_s), cases[i].day);
    }
}

static void test_second_of_the_day(void **state)
{
    (void)state;
    struct lightday_rules rules = {3600, 21600};
    assert_int_equal(lightday_second(&rules, 0), 3600);
    assert_int_equal(lightday_second(&rules, -3601), 86399);
    assert_int_equal(lightday_second(&rules, -3600), 0);
    assert_int_equal(lightday_second(&rules, 82799), 86399);
    assert_int_equal(lightday_second(&rules, 82800), 0);
}

static void test_place_in_a_plain_window(void **state)
{
    (void)state;
    struct lightday_window window = {6 * H, 16 * H};
    struct lightday_place dark = lightday_place(&UTC_MIDNIGHT, &window, 6 * HOUR_S - 1);
    assert_false(dark.is_lit);
    assert_int_equal(dark.since_on_s, -1);
    assert_int_equal(dark.until_off_s, -1);
    assert_int_equal(dark.until_on_s, 1);
    struct lightday_place on = lightday_place(&UTC_MIDNIGHT, &window, 6 * HOUR_S);
    assert_true(on.is_lit);
    assert_false(on.is_always);
    assert_int_equal(on.since_on_s, 0);
    assert_int_equal(on.until_off_s, 16 * HOUR_S);
    assert_int_equal(on.until_on_s, 0);
    struct lightday_place last = lightday_place(&UTC_MIDNIGHT, &window, 22 * HOUR_S - 1);
    assert_true(last.is_lit);
    assert_int_equal(last.until_off_s, 1);
    struct lightday_place off = lightday_place(&UTC_MIDNIGHT, &window, 22 * HOUR_S);
    assert_false(off.is_lit);
    assert_int_equal(off.until_on_s, 8 * HOUR_S);
}

static void test_place_never_and_always(void **state)
{
    (void)state;
    struct lightday_window never = {6 * H, 0};
    struct lightday_window always = {6 * H, 86400};
    for (int64_t wall_s = -DAY_S; wall_s < DAY_S; wall_s += 997) {
        struct lightday_place place = lightday_place(&UTC_MIDNIGHT, &never, wall_s);
        assert_false(place.is_lit);
        assert_int_equal(place.since_on_s, -1);
        assert_int_equal(place.until_on_s, -1);
        place = lightday_place(&UTC_MIDNIGHT, &always, wall_s);
        assert_true(place.is_lit);
        assert_true(place.is_always);
        assert_int_equal(place.until_on_s, 0);
        /* The longest ramp of any stage is four hours: no edge is that near. */
        assert_true(place.since_on_s >= DAY_S);
        assert_true(place.until_off_s > DAY_S);
        struct lightday_piece pieces[2];
        assert_int_equal(lightday_pieces(&UTC_MIDNIGHT, &never, wall_s, pieces), 0);
    }
}

static void test_always_lit_pieces(void **state)
{
    (void)state;
    struct lightday_rules rules = {3600, 6 * H};
    struct lightday_window always = {20 * H, 86400};
    int64_t begin_s = lightday_begin(&rules, 19000);
    struct lightday_piece pieces[2];
    assert_int_equal(lightday_pieces(&rules, &always, begin_s + 100, pieces), 1);
    assert_int_equal(pieces[0].from_s, begin_s + 100);
    assert_int_equal(pieces[0].to_s, begin_s + DAY_S);
    assert_int_equal(pieces[0].window_on_s, begin_s - DAY_S);
    assert_int_equal(pieces[0].window_off_s, begin_s + 2 * DAY_S);
}

/* Lit 18:00-10:00, the light day begins at 06:00: 4 h of the window begun yesterday, then 12 h of
 * today's. */
static void test_window_in_two_pieces(void **state)
{
    (void)state;
    struct lightday_rules rules = {0, 6 * H};
    struct lightday_window window = {18 * H, 16 * H};
    int64_t begin_s = lightday_begin(&rules, 100);
    assert_int_equal(begin_s, 100 * DAY_S + 6 * HOUR_S);
    struct lightday_piece pieces[2];
    assert_int_equal(lightday_pieces(&rules, &window, begin_s, pieces), 2);
    assert_int_equal(pieces[0].from_s, begin_s);
    assert_int_equal(pieces[0].to_s, begin_s + 4 * HOUR_S);
    assert_int_equal(pieces[0].window_on_s, begin_s - 12 * HOUR_S);
    assert_int_equal(pieces[0].window_off_s, begin_s + 4 * HOUR_S);
    assert_int_equal(pieces[1].from_s, begin_s + 12 * HOUR_S);
    assert_int_equal(pieces[1].to_s, begin_s + DAY_S);
    assert_int_equal(pieces[1].window_on_s, begin_s + 12 * HOUR_S);
    assert_int_equal(pieces[1].window_off_s, begin_s + 28 * HOUR_S);
    /* From the middle of the first piece, between the two, and from the last second. */
    assert_int_equal(lightday_pieces(&rules, &window, begin_s + 7201, pieces), 2);
    assert_int_equal(pieces[0].from_s, begin_s + 7201);
    assert_int_equal(lightday_pieces(&rules, &window, begin_s + 4 * HOUR_S, pieces), 1);
    assert_int_equal(pieces[0].from_s, begin_s + 12 * HOUR_S);
    assert_int_equal(lightday_pieces(&rules, &window, begin_s + DAY_S - 1, pieces), 1);
    assert_int_equal(pieces[0].to_s - pieces[0].from_s, 1);
}

static void check_pieces(const struct lightday_rules *rules, const struct lightday_window *window,
                         int64_t wall_s)
{
    struct lightday_piece pieces[2];
    int count = lightday_pieces(rules, window, wall_s, pieces);
    int64_t end_s = lightday_begin(rules, lightday_of(rules, wall_s) + 1);
    int64_t cursor_s = wall_s;
    int64_t lit_s = 0;
    for (int i = 0; i < count; i++) {
        assert_true(pieces[i].from_s >= cursor_s);
        assert_true(pieces[i].from_s < pieces[i].to_s);
        assert_true(pieces[i].window_on_s <= pieces[i].from_s);
        assert_true(pieces[i].window_off_s >= pieces[i].to_s);
        assert_true(lightday_place(rules, window, pieces[i].from_s).is_lit);
        assert_true(lightday_place(rules, window, pieces[i].to_s - 1).is_lit);
        lit_s += pieces[i].to_s - pieces[i].from_s;
        cursor_s = pieces[i].to_s;
    }
    assert_true(cursor_s <= end_s);
    bool starts_lit = count > 0 && pieces[0].from_s == wall_s;
    assert_int_equal(starts_lit, lightday_place(rules, window, wall_s).is_lit);
    if (wall_s == lightday_begin(rules, lightday_of(rules, wall_s))) {
        assert_int_equal(lit_s, window->length_s);
    }
}

/* Whatever the rules: a day begins where the one before ends, and holds exactly one window's length
 * of light. */
static void test_days_and_pieces_property(void **state)
{
    (void)state;
    struct prng prng = prng_start("lightday");
    for (int i = 0; i < 20000; i++) {
        struct lightday_rules rules = {
            .utc_offset_s = (int32_t)prng_int(&prng, -50400, 50400),
            .start_s = (int32_t)prng_int(&prng, 0, 86399),
        };
        struct lightday_window window = {
            .on_s = (int32_t)prng_int(&prng, 0, 86399),
            .length_s = (int32_t)prng_int(&prng, 0, 86400),
        };
        int64_t wall_s = prng_int(&prng, INT64_C(-4000000000), INT64_C(8000000000));
        int64_t day = lightday_of(&rules, wall_s);
        int64_t begin_s = lightday_begin(&rules, day);
        assert_true(begin_s <= wall_s && wall_s < begin_s + DAY_S);
        assert_int_equal(lightday_of(&rules, begin_s), day);
        assert_int_equal(lightday_of(&rules, begin_s - 1), day - 1);
        assert_int_equal(lightday_second(&rules, begin_s), rules.start_s);
        check_pieces(&rules, &window, begin_s);
        check_pieces(&rules, &window, wall_s);
        struct lightday_place place = lightday_place(&rules, &window, wall_s);
        if (!place.is_lit && window.length_s > 0) {
            struct lightday_place on = lightday_place(&rules, &window, wall_s + place.until_on_s);
            assert_true(on.is_lit);
            assert_int_equal(on.since_on_s, 0);
        }
    }
}

static int64_t civil(int year, int month, int day, int hour, int minute)
{
    struct tm tm = {
        .tm_year = year - 1900,
        .tm_mon = month - 1,
        .tm_mday = day,
        .tm_hour = hour,
        .tm_min = minute,
        .tm_isdst = -1,
    };
    return mktime(&tm);
}

static void set_zone(const char *zone)
{
    assert_int_equal(setenv("TZ", zone, 1), 0);
    tzset();
}

/* A civil day on which the clocks change, at a place given as a POSIX TZ rule (so that no zone
 * files are needed). */
struct change {
    const char *zone;
    int32_t standard_offset_s;
    int year, month, day;
    double civil_hours;
};

/* Day lengths: the civil rules themselves, which the C library's mktime works out here: 23,
 * 25, 24.5, 23.5 h. */
static const struct change changes[] = {
    {"EST5EDT,M3.2.0,M11.1.0", -18000, 2024, 3, 10, 23.0}, /* New York */
    {"EST5EDT,M3.2.0,M11.1.0", -18000, 2024, 11, 3, 25.0},
    {"CET-1CEST,M3.5.0,M10.5.0/3", 3600, 2024, 3, 31, 23.0}, /* Berlin */
    {"CET-1CEST,M3.5.0,M10.5.0/3", 3600, 2024, 10, 27, 25.0},
    {"LHST-10:30LHDT-11,M10.1.0,M4.1.0", 37800, 2024, 4, 7, 24.5}, /* Lord Howe Island */
    {"LHST-10:30LHDT-11,M10.1.0,M4.1.0", 37800, 2024, 10, 6, 23.5},
};

/* Lit 20:00-12:00 across the night of the change: the light neither moves nor changes its length.
 */
static void test_civil_clock_changes_do_not_move_the_night(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
        const struct change *change = &changes[i];
        set_zone(change->zone);
        int64_t midnight_s = civil(change->year, change->month, change->day, 0, 0);
        int64_t next_s = civil(change->year, change->month, change->day + 1, 0, 0);
        assert_int_equal(next_s - midnight_s, (int64_t)(change->civil_hours * 3600.0));
        struct lightday_rules rules = {change->standard_offset_s, 0};
        struct lightday_window window = {20 * H, 16 * H};
        int64_t from_s = lightday_begin(&rules, lightday_of(&rules, midnight_s) - 2);
        int64_t lit_s = 0;
        int64_t lights_on_s = -1;
        for (int64_t wall_s = from_s; wall_s < from_s + 5 * DAY_S; wall_s += 60) {
            struct lightday_place place = lightday_place(&rules, &window, wall_s);
            lit_s += place.is_lit ? 60 : 0;
            if (place.is_lit && place.since_on_s == 0) {
                assert_true(lights_on_s < 0 || wall_s - lights_on_s == DAY_S);
                lights_on_s = wall_s;
            }
            assert_int_equal(lightday_of(&rules, wall_s),
                             lightday_of(&rules, from_s) + (wall_s - from_s) / DAY_S);
        }
        assert_int_equal(lit_s, 80 * HOUR_S);
    }
    set_zone("UTC0");
}

/* One civil reading, two moments: New York 2024-11-03 01:30 is 1730611800 and 1730615400; Berlin
 * 2024-10-27 02:30 is 1729989000 and 1729992600 (from the zones' rules). The light day tells them
 * apart. */
static void test_the_doubled_hour(void **state)
{
    (void)state;
    struct lightday_rules new_york = {-18000, 0};
    assert_int_equal(lightday_second(&new_york, 1730611800), 1800);
    assert_int_equal(lightday_second(&new_york, 1730615400), 5400);
    /* 01:59 EST is followed by 03:00 EDT one minute later. */
    assert_int_equal(lightday_second(&new_york, 1710053940), 7140);
    assert_int_equal(lightday_second(&new_york, 1710054000), 7200);
    struct lightday_rules berlin = {3600, 0};
    assert_int_equal(lightday_second(&berlin, 1729989000), 5400);
    assert_int_equal(lightday_second(&berlin, 1729992600), 9000);
    assert_int_equal(lightday_second(&berlin, 1711846740), 7140);
    assert_int_equal(lightday_second(&berlin, 1711846800), 7200);
    set_zone("EST5EDT,M3.2.0,M11.1.0");
    assert_int_equal(civil(2024, 3, 10, 1, 59), 1710053940);
    assert_int_equal(civil(2024, 3, 10, 3, 0), 1710054000);
    set_zone("CET-1CEST,M3.5.0,M10.5.0/3");
    assert_int_equal(civil(2024, 3, 31, 1, 59), 1711846740);
    assert_int_equal(civil(2024, 3, 31, 3, 0), 1711846800);
    set_zone("UTC0");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_days),
        cmocka_unit_test(test_second_of_the_day),
        cmocka_unit_test(test_place_in_a_plain_window),
        cmocka_unit_test(test_place_never_and_always),
        cmocka_unit_test(test_always_lit_pieces),
        cmocka_unit_test(test_window_in_two_pieces),
        cmocka_unit_test(test_days_and_pieces_property),
        cmocka_unit_test(test_civil_clock_changes_do_not_move_the_night),
        cmocka_unit_test(test_the_doubled_hour),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
