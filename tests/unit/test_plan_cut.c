/* SPDX-License-Identifier: Apache-2.0 */
/* Slots of a plan: they cover the lit rest of the light day, and never hide a price. */
#include "plan_cut.h"

#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const struct lightday_rules at_midnight = {.utc_offset_s = 3600};

static const struct tariff_rule three_prices[] = {
    {0x7f, 0xfff, 22 * 3600, 6 * 3600, 0.10},
    {0x7f, 0xfff, 16 * 3600 + 600, 20 * 3600, 0.28},
};
static const struct tariff tariff = {
    .civil = {.offset_s = 3600}, .price_per_kwh = 0.16, .rule_count = 2, .rules = three_prices};

static struct stage stage_of_hours(int on_h, int length_h)
{
    return (struct stage){.window = {on_h * 3600, length_h * 3600},
                          .target_mol = 13,
                          .ramp = {RAMP_COSINE, 1800, 1800}};
}

static double sum_dt(const struct plan_slots *slots)
{
    double sum = 0;
    for (int i = 0; i < slots->count; i++) {
        sum += slots->slot[i].dt_s;
    }
    return sum;
}

static double sum_lit(const struct plan_slots *slots)
{
    double sum = 0;
    for (int i = 0; i < slots->count; i++) {
        sum += slots->slot[i].lit_s;
    }
    return sum;
}

/* 06:00 to 22:00: 32 half hours, one of them split at 16:10. Two ramps of half an hour take as much
 * as one of them. */
static void a_day_in_half_hours(void **state)
{
    (void)state;
    const struct stage stage = stage_of_hours(6, 16);
    struct plan_slots slots;
    plan_cut(&at_midnight, &stage, &tariff, lightday_begin(&at_midnight, 20454), &slots);
    assert_int_equal(slots.count, 33);
    assert_near(sum_dt(&slots), 16 * 3600, 1e-9);
    assert_near(sum_lit(&slots), 15.5 * 3600, 1e-6);
    assert_near(slots.slot[20].dt_s, 600, 1e-9);
    assert_near(slots.slot[20].price_per_kwh, 0.16, 1e-12);
    assert_near(slots.slot[21].price_per_kwh, 0.28, 1e-12);
    assert_near(slots.slot[32].price_per_kwh, 0.16, 1e-12);
    assert_near(slots.slot[0].lit_s, 900, 1e-6);
}

/* A light day from 06:00 whose window is 04 to 22: sixteen hours now and two of the next morning.
 */
static void a_window_in_two_pieces(void **state)
{
    (void)state;
    const struct lightday_rules from_six = {.utc_offset_s = 3600, .start_s = 6 * 3600};
    const struct stage stage = stage_of_hours(4, 18);
    struct plan_slots slots;
    plan_cut(&from_six, &stage, &tariff, lightday_begin(&from_six, 20454), &slots);
    assert_near(sum_dt(&slots), 18 * 3600, 1e-9);
    assert_near(slots.slot[slots.count - 1].price_per_kwh, 0.10, 1e-12);
    assert_near(sum_lit(&slots), 17.5 * 3600, 1e-6);
    const int64_t morning_s = lightday_begin(&from_six, 20454) + INT64_C(22) * 3600;
    assert_int_equal(slots.slot[slots.count - 4].from_s, morning_s);
}

static void nothing_is_left_in_the_night(void **state)
{
    (void)state;
    const struct stage stage = stage_of_hours(6, 16);
    struct plan_slots slots;
    plan_cut(&at_midnight, &stage, &tariff, lightday_begin(&at_midnight, 20454) + 79200, &slots);
    assert_int_equal(slots.count, 0);
}

/* At any moment of any day, the clock change included: the slots cover what is lit, each has the
 * price of all its seconds. */
static void slots_cover_the_rest(void **state)
{
    (void)state;
    static const struct civil_change berlin[] = {{1774746000, 7200}, {1792890000, 3600}};
    const struct tariff civil = {.civil = {.offset_s = 3600, .count = 2, .changes = berlin},
                                 .price_per_kwh = 0.16,
                                 .rule_count = 2,
                                 .rules = three_prices};
    struct prng prng = prng_start("slots_cover_the_rest");
    for (int round = 0; round < 2000; round++) {
        const struct lightday_rules day = {.utc_offset_s = 3600,
                                           .start_s = (int32_t)prng_int(&prng, 0, 23) * 3600};
        struct stage stage = stage_of_hours((int)prng_int(&prng, 0, 23), 0);
        stage.window.length_s = (int32_t)prng_int(&prng, 0, 86400);
        const int64_t now_s = prng_int(&prng, 1774500000, 1774900000);
        struct plan_slots slots;
        plan_cut(&day, &stage, &civil, now_s, &slots);
        struct lightday_piece pieces[2];
        const int count = lightday_pieces(&day, &stage.window, now_s, pieces);
        int slot = 0;
        for (int i = 0; i < count; i++) {
            int64_t at = pieces[i].from_s;
            while (at < pieces[i].to_s) {
                assert_true(slot < slots.count);
                const int64_t end = at + (int64_t)slots.slot[slot].dt_s;
                assert_int_equal(slots.slot[slot].from_s, at);
                assert_near(tariff_price(&civil, at), slots.slot[slot].price_per_kwh, 1e-12);
                assert_near(tariff_price(&civil, end - 1), slots.slot[slot].price_per_kwh, 1e-12);
                assert_true(slots.slot[slot].lit_s >= 0 &&
                            slots.slot[slot].lit_s <= slots.slot[slot].dt_s + 1e-9);
                at = end;
                slot++;
            }
            assert_int_equal(at, pieces[i].to_s);
        }
        assert_int_equal(slot, slots.count);
    }
}

/* Prices that change every minute: the slots end, the light does not. */
static void too_many_prices(void **state)
{
    (void)state;
    static struct tariff_price series[1440];
    const int64_t begin_s = lightday_begin(&at_midnight, 20454);
    for (int i = 0; i < 1440; i++) {
        series[i] = (struct tariff_price){begin_s + i * 60, 0.1 + i % 7};
    }
    const struct tariff minutes = {.price_per_kwh = 0.1,
                                   .series_count = 1440,
                                   .series = series,
                                   .series_end_s = begin_s + 86400};
    const struct stage stage = stage_of_hours(6, 16);
    struct plan_slots slots;
    plan_cut(&at_midnight, &stage, &minutes, begin_s, &slots);
    assert_int_equal(slots.count, PLAN_SLOTS_MAX);
    assert_near(sum_dt(&slots), 16 * 3600, 1e-9);
    assert_near(sum_lit(&slots), 15.5 * 3600, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_in_half_hours),
        cmocka_unit_test(a_window_in_two_pieces),
        cmocka_unit_test(nothing_is_left_in_the_night),
        cmocka_unit_test(slots_cover_the_rest),
        cmocka_unit_test(too_many_prices),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
