/* SPDX-License-Identifier: Apache-2.0 */
/* Prices by the clock on the wall of Europe/Berlin; its changes: IANA tz database. */
#include "tariff.h"

#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { H = 3600, DAY = 86400, WEEK = 7 * DAY };
enum { WORKDAYS = 0x1F, EVERY_DAY = 0x7F, SUNDAY = 0x40, ALL_YEAR = 0xFFF };

static const struct civil_change CHANGES[] = {
    {1774746000, 2 * H}, /* 2026-03-29T01:00Z */
    {1792890000, 1 * H}, /* 2026-10-25T01:00Z */
};
static const struct civil BERLIN = {H, 2, CHANGES};

static int64_t at(int32_t year, int month, int day, int hour)
{
    return civil_day(year, month, day) * DAY + hour * (int64_t)H; /* UTC */
}

static struct tariff by_rules(const struct tariff_rule *rules, int count)
{
    return (struct tariff){
        .civil = BERLIN, .price_per_kwh = 0.3, .rule_count = count, .rules = rules};
}

static void the_plain_price(void **state)
{
    (void)state;
    struct tariff tariff = {.price_per_kwh = 0.3};
    assert_true(tariff_price(&tariff, 0) == 0.3);
    assert_true(tariff_next_change(&tariff, 0, WEEK) == WEEK);
    assert_false(tariff_misses_series(&tariff, 0));
}

static void weekdays_over_midnight(void **state)
{
    (void)state;
    static const struct tariff_rule night = {WORKDAYS, ALL_YEAR, 22 * H, 6 * H, 0.2};
    struct tariff tariff = by_rules(&night, 1);
    /* 2026-01-05 was a Monday; Berlin is at UTC + 1 h. */
    assert_true(tariff_price(&tariff, at(2026, 1, 5, 0)) == 0.3); /* 01:00: Sunday's night */
    assert_true(tariff_price(&tariff, at(2026, 1, 5, 21) - 1) == 0.3);
    assert_true(tariff_price(&tariff, at(2026, 1, 5, 21)) == 0.2);
    assert_true(tariff_price(&tariff, at(2026, 1, 6, 5) - 1) == 0.2);
    assert_true(tariff_price(&tariff, at(2026, 1, 6, 5)) == 0.3);
    assert_true(tariff_price(&tariff, at(2026, 1, 10, 4)) == 0.2); /* Saturday 05:00: Friday's */
    assert_true(tariff_price(&tariff, at(2026, 1, 10, 22)) == 0.3);
    assert_true(tariff_price(&tariff, at(2026, 1, 11, 4)) == 0.3);
    assert_true(tariff_next_change(&tariff, at(2026, 1, 5, 21), at(2026, 2, 1, 0)) ==
                at(2026, 1, 6, 5));
}

/* The first of January after New Year's Eve belongs to December. */
static void seasons(void **state)
{
    (void)state;
    static const struct tariff_rule rules[] = {
        {EVERY_DAY, 0x800, 22 * H, 6 * H, 0.1}, /* December's nights */
        {EVERY_DAY, 0xE07, 0, DAY, 0.4},        /* October to March */
    };
    struct tariff tariff = by_rules(rules, 2);
    assert_true(tariff_price(&tariff, at(2025, 12, 31, 22)) == 0.1);
    assert_true(tariff_price(&tariff, at(2026, 1, 1, 4)) == 0.1);
    assert_true(tariff_price(&tariff, at(2026, 1, 1, 5)) == 0.4);
    assert_true(tariff_price(&tariff, at(2026, 1, 1, 22)) == 0.4);
    assert_true(tariff_price(&tariff, at(2025, 12, 1, 3)) == 0.4); /* the night of 30 November */
    assert_true(tariff_price(&tariff, at(2026, 3, 31, 22) - 1) == 0.4); /* summer time by now */
    assert_true(tariff_price(&tariff, at(2026, 3, 31, 22)) == 0.3);
    assert_true(tariff_price(&tariff, at(2026, 9, 30, 22)) == 0.4);
}

static void the_first_rule_that_fits(void **state)
{
    (void)state;
    static const struct tariff_rule rules[] = {
        {SUNDAY, ALL_YEAR, 11 * H, 11 * H, -0.05}, /* 24 h from Sunday's 11:00 */
        {EVERY_DAY, ALL_YEAR, 0, 0, 0.25},
    };
    struct tariff tariff = by_rules(rules, 2);
    assert_true(tariff_price(&tariff, at(2026, 1, 4, 10) - 1) == 0.25);
    assert_true(tariff_price(&tariff, at(2026, 1, 4, 10)) == -0.05);
    assert_true(tariff_price(&tariff, at(2026, 1, 5, 10) - 1) == -0.05);
    assert_true(tariff_price(&tariff, at(2026, 1, 5, 10)) == 0.25);
}

/* Seconds of a civil day at a price, walked along the changes. */
static int64_t seconds_at(const struct tariff *tariff, int64_t wall_s, double price)
{
    int64_t from_s = civil_day_start(&tariff->civil, wall_s);
    int64_t until_s = civil_day_start(&tariff->civil, from_s + 36 * H);
    int64_t sum_s = 0;
    while (from_s < until_s) {
        int64_t next_s = tariff_next_change(tariff, from_s, until_s);
        assert_true(next_s > from_s && next_s <= until_s);
        sum_s += tariff_price(tariff, from_s) == price ? next_s - from_s : 0;
        from_s = next_s;
    }
    return sum_s;
}

static void days_of_23_and_25_hours(void **state)
{
    (void)state;
    static const struct tariff_rule rules[] = {
        {EVERY_DAY, ALL_YEAR, 1 * H, 5 * H, 0.1},
        {EVERY_DAY, ALL_YEAR, 5 * H, 1 * H, 0.2},
    };
    struct tariff tariff = by_rules(rules, 2);
    assert_true(seconds_at(&tariff, CHANGES[0].from_s, 0.1) == 3 * H);
    assert_true(seconds_at(&tariff, CHANGES[0].from_s, 0.2) == 20 * H);
    assert_true(seconds_at(&tariff, CHANGES[1].from_s, 0.1) == 5 * H);
    assert_true(seconds_at(&tariff, CHANGES[1].from_s, 0.2) == 20 * H);
    assert_true(seconds_at(&tariff, CHANGES[0].from_s + 3 * DAY, 0.1) == 4 * H);
    /* A price for the hour that is skipped, and of the one that comes twice. */
    static const struct tariff_rule third = {EVERY_DAY, ALL_YEAR, 2 * H, 3 * H, 0.1};
    tariff = by_rules(&third, 1);
    assert_true(seconds_at(&tariff, CHANGES[0].from_s, 0.1) == 0);
    assert_true(seconds_at(&tariff, CHANGES[1].from_s, 0.1) == 2 * H);
    assert_true(seconds_at(&tariff, CHANGES[1].from_s, 0.3) == 23 * H);
    /* Begins where the clock jumps over its beginning. */
    static const struct tariff_rule half = {EVERY_DAY, ALL_YEAR, 2 * H + 1800, 4 * H, 0.1};
    tariff = by_rules(&half, 1);
    assert_true(seconds_at(&tariff, CHANGES[0].from_s, 0.1) == H);
    assert_true(seconds_at(&tariff, CHANGES[1].from_s, 0.1) == 2 * H);
}

static void a_series_and_its_gaps(void **state)
{
    (void)state;
    static const struct tariff_rule night = {EVERY_DAY, ALL_YEAR, 22 * H, 6 * H, 0.2};
    static const struct tariff_price rows[] = {
        {10 * H, 0.05}, {11 * H, -0.5}, {12 * H, (double)NAN}, {22 * H, 0.07}};
    struct tariff tariff = by_rules(&night, 1);
    tariff.series = rows;
    tariff.series_count = 4;
    tariff.series_end_s = 23 * H;
    tariff.series_extra_per_kwh = 0.01;
    static const struct {
        int64_t wall_s;
        double price;
        bool misses;
        int64_t next_s;
    } cases[] = {
        {10 * H - 1, 0.3, true, 10 * H},   {10 * H, 0.06, false, 11 * H},
        {11 * H, -0.49, false, 12 * H},    {12 * H, 0.3, true, 21 * H},
        {21 * H, 0.2, true, 22 * H},       {22 * H, 0.08, false, 23 * H},
        {23 * H - 1, 0.08, false, 23 * H}, {23 * H, 0.2, true, 29 * H},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        print_message("at %lld s\n", (long long)cases[i].wall_s);
        assert_true(fabs(tariff_price(&tariff, cases[i].wall_s) - cases[i].price) < 1e-12);
        assert_int_equal(tariff_misses_series(&tariff, cases[i].wall_s), cases[i].misses);
        assert_true(tariff_next_change(&tariff, cases[i].wall_s, WEEK) == cases[i].next_s);
    }
    assert_true(tariff_next_change(&tariff, 10 * H, 10 * H + 5) == 10 * H + 5);
}

static int32_t random_second(struct prng *prng)
{
    return (int32_t)prng_int(prng, 0, 96) * 900; /* 24:00 among them */
}

/* Whatever the rules: between a moment and its next change the price stands still. */
static void no_change_is_skipped(void **state)
{
    (void)state;
    struct prng prng = prng_start("no_change_is_skipped");
    for (int round = 0; round < 400; round++) {
        struct tariff_rule rules[4];
        struct tariff_price rows[6];
        for (int i = 0; i < 4; i++) {
            rules[i] = (struct tariff_rule){(uint8_t)prng_int(&prng, 0, 127),
                                            (uint16_t)prng_int(&prng, 0, 4095),
                                            random_second(&prng), random_second(&prng), i + 1};
        }
        struct tariff tariff = by_rules(rules, (int)prng_int(&prng, 0, 4));
        int64_t start_s = CHANGES[round % 2].from_s - prng_int(&prng, 0, 3 * DAY);
        int64_t from_s = start_s + prng_int(&prng, -DAY, DAY);
        for (int i = 0; i < 6; i++) {
            rows[i] = (struct tariff_price){from_s, i == 3 ? (double)NAN : 10.0 + i};
            from_s += prng_int(&prng, 1, DAY / 2);
        }
        tariff.series = rows;
        tariff.series_count = (int)prng_int(&prng, 0, 6);
        tariff.series_end_s = rows[tariff.series_count > 0 ? tariff.series_count - 1 : 0].from_s +
                              prng_int(&prng, 1, DAY);
        for (int64_t wall_s = start_s; wall_s < start_s + WEEK;) {
            int64_t next_s = tariff_next_change(&tariff, wall_s, start_s + WEEK);
            double price = tariff_price(&tariff, wall_s);
            assert_true(next_s > wall_s && next_s <= start_s + WEEK);
            assert_true(tariff_price(&tariff, next_s - 1) == price);
            for (int i = 0; i < 20; i++) {
                int64_t between_s = prng_int(&prng, wall_s, next_s - 1);
                assert_true(tariff_price(&tariff, between_s) == price);
            }
            wall_s = next_s;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_plain_price),
        cmocka_unit_test(weekdays_over_midnight),
        cmocka_unit_test(seasons),
        cmocka_unit_test(the_first_rule_that_fits),
        cmocka_unit_test(days_of_23_and_25_hours),
        cmocka_unit_test(a_series_and_its_gaps),
        cmocka_unit_test(no_change_is_skipped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
