/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_sky.h"

#include "near.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <cmocka.h>

/* 300 µmol at 120 W, power linear in the level: 1.08 mol and 0.12 kWh an hour. */
static struct lampcurve curve;
static const struct plan_lamp lamp = {
    .curve = &curve, .full_umol = 300, .full_share = 1, .ceiling_umol = (double)INFINITY};

/* A cheap hour, then a dear one. */
static const struct plan_slots slots = {
    .count = 2,
    .slot = {{.dt_s = 3600, .lit_s = 3600, .price_per_kwh = 0.10, .cap = 1},
             {.dt_s = 3600, .lit_s = 3600, .price_per_kwh = 0.20, .cap = 1}},
};

static int make_curve(void **state)
{
    (void)state;
    static const double level[] = {0.1, 1};
    static const double watts[] = {12, 120};
    lampcurve_of(&curve, level, watts, 2, 0);
    return 0;
}

/* Ten skies of clearness `low` and `high`, half each. */
static struct scenarios two_skies(double low, double high)
{
    struct scenarios skies = {
        .count = CLEARNESS_SCENARIOS, .mean = 0.5 * (low + high), .pessimistic = low};
    for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
        skies.clearness[j] = j < CLEARNESS_SCENARIOS / 2 ? low : high;
    }
    return skies;
}

/* A mol costs 0.12 kWh / 1.08 mol = 0.1111 kWh: 0.01111 cheap, 0.02222 dear. */
static void the_price_is_the_mean_of_the_skies(void **state)
{
    (void)state;
    const struct scenarios skies = two_skies(0.1, 1);
    const struct plan_sky sky = {&lamp, &slots, &skies, 1, 1.1, 1.1};
    struct plan_sky_answer answer = plan_sky_price(&sky); /* 1.0 or 0.1 mol: both cheap */
    assert_false(answer.by_guard);
    assert_near(answer.price, 0.12 / 1.08 * 0.10, 1e-8);
    assert_near(answer.daylight_mol, 0.55, 1e-12);
    assert_near(answer.pessimistic_mol, 0.1, 1e-12);
    const struct plan_sky more = {&lamp, &slots, &skies, 1, 1.6, 1.6};
    answer = plan_sky_price(&more); /* 1.5 mol: the dear hour too; 0.6: the cheap one */
    assert_near(answer.price, 0.12 / 1.08 * 0.15, 1e-8);
    const struct plan_sky less = {&lamp, &slots, &skies, 1, 0.9, 0.9};
    answer = plan_sky_price(&less); /* half of the skies need no lamp: half the price */
    assert_near(answer.price, 0.12 / 1.08 * 0.05, 1e-8);
    const struct plan_sky none = {&lamp, &slots, &skies, 1, 0, 17};
    assert_near(plan_sky_price(&none).price, 0, 0);
}

/* 2.16 mol is all that the lamp has; the guard counts with 98 of 100 of the target. */
static void the_guard_asks_for_all_where_recourse_ends(void **state)
{
    (void)state;
    const struct scenarios skies = two_skies(0, 2);
    const struct plan_sky under = {&lamp, &slots, &skies, 1, 2.19, 2.19};
    assert_false(plan_sky_price(&under).by_guard);
    const struct plan_sky over = {&lamp, &slots, &skies, 1, 2.21, 2.21};
    const struct plan_sky_answer answer = plan_sky_price(&over);
    assert_true(answer.by_guard);
    assert_near(answer.price, plan_missing_price(&lamp, &slots), 0);
}

static void the_guard_looks_below_the_lowest_sky(void **state)
{
    (void)state;
    struct scenarios skies = two_skies(0.2, 2);
    skies.pessimistic = 0.1;
    const struct plan_sky under = {&lamp, &slots, &skies, 1, 2.35, 2.35};
    assert_near(plan_sky_price(&under).pessimistic_mol, 0.15, 1e-12);
    assert_false(plan_sky_price(&under).by_guard);
    const struct plan_sky over = {&lamp, &slots, &skies, 1, 2.37, 2.37};
    assert_true(plan_sky_price(&over).by_guard);
}

static void without_sun_the_price_is_that_of_the_need(void **state)
{
    (void)state;
    const struct scenarios none = {.count = 0};
    const struct plan_sky sky = {&lamp, &slots, &none, 0, 1.5, 17};
    assert_near(plan_sky_price(&sky).price,
                plan_price_of(&lamp, &slots, 0, 1.5, plan_missing_price(&lamp, &slots)), 1e-8);
}

/* From 0.4 by a tenth a minute: 0.3, 0.2, 0.1 of 300 µmol for a minute each. */
static void landing(void **state)
{
    (void)state;
    const double a_minute = 300 * 60e-6;
    const double fall = 0.1 / 60;
    assert_near(plan_landing_mol(&lamp, 0.4, fall, 60, 3600), 0.6 * a_minute, 1e-12);
    assert_near(plan_landing_mol(&lamp, 0.4, fall, 60, 120), 0.5 * a_minute, 1e-12);
    assert_near(plan_landing_mol(&lamp, 0.1, fall, 60, 3600), 0, 0);
    assert_near(plan_landing_mol(&lamp, 0, fall, 60, 3600), 0, 0);
    assert_near(plan_landing_mol(&lamp, 1, (double)INFINITY, 60, 3600), 0, 0);
    assert_near(plan_landing_mol(&lamp, 1, fall, 60, 0), 0, 0);
    /* the finer the steps, the nearer to the area below the slope: 180 s from 0.4 to 0.1 */
    assert_near(plan_landing_mol(&lamp, 0.4, fall, 0.1, 3600), 300e-6 * 180 * 0.25, 1e-5);
}

static void a_lamp_that_could_not_come_back_in_time_stays(void **state)
{
    (void)state;
    const double rise = 0.1 / 60; /* a start costs 0.081 mol */
    assert_false(plan_sky_holds(&lamp, 1, 0.5, 0.582, rise));
    assert_true(plan_sky_holds(&lamp, 1, 0.5, 0.580, rise));
    assert_true(plan_sky_holds(&lamp, 1, 0, 0.9, rise));
    assert_false(plan_sky_holds(&lamp, 1, 1, 0, rise)); /* the sky alone suffices */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_price_is_the_mean_of_the_skies),
        cmocka_unit_test(the_guard_asks_for_all_where_recourse_ends),
        cmocka_unit_test(the_guard_looks_below_the_lowest_sky),
        cmocka_unit_test(without_sun_the_price_is_that_of_the_need),
        cmocka_unit_test(landing),
        cmocka_unit_test(a_lamp_that_could_not_come_back_in_time_stays),
    };
    return cmocka_run_group_tests(tests, make_curve, NULL);
}
