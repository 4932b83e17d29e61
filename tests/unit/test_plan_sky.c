/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_sky.h"

#include "near.h"
#include "prng.h"
#include "units.h"

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
    const struct plan_sky sky = {&lamp, &slots, &skies, 1, (double)INFINITY, 1.1, 1.1, false};
    struct plan_sky_answer answer = plan_sky_price(&sky); /* 1.0 or 0.1 mol: both cheap */
    assert_false(answer.by_guard);
    assert_near(answer.price, 0.12 / 1.08 * 0.10, 1e-8);
    assert_near(answer.daylight_mol, 0.55, 1e-12);
    assert_near(answer.pessimistic_mol, 0.1, 1e-12);
    const struct plan_sky more = {&lamp, &slots, &skies, 1, (double)INFINITY, 1.6, 1.6, false};
    answer = plan_sky_price(&more); /* 1.5 mol: the dear hour too; 0.6: the cheap one */
    assert_near(answer.price, 0.12 / 1.08 * 0.15, 1e-8);
    const struct plan_sky less = {&lamp, &slots, &skies, 1, (double)INFINITY, 0.9, 0.9, false};
    answer = plan_sky_price(&less); /* half of the skies need no lamp: half the price */
    assert_near(answer.price, 0.12 / 1.08 * 0.05, 1e-8);
    const struct plan_sky none = {&lamp, &slots, &skies, 1, (double)INFINITY, 0, 17, false};
    assert_near(plan_sky_price(&none).price, 0, 0);
}

/* 2.16 mol is all that the lamp has, 2.07 from the next plan on; the guard counts with 98 of 100 of
 * the target. */
static void the_guard_asks_for_all_where_recourse_ends(void **state)
{
    (void)state;
    const struct scenarios skies = two_skies(0, 2);
    const struct plan_sky under = {&lamp, &slots, &skies, 1, (double)INFINITY, 2.11, 2.11, false};
    assert_false(plan_sky_price(&under).by_guard);
    const struct plan_sky over = {&lamp, &slots, &skies, 1, (double)INFINITY, 2.12, 2.12, false};
    const struct plan_sky_answer answer = plan_sky_price(&over);
    assert_true(answer.by_guard);
    assert_near(answer.price, plan_missing_price(&lamp, &slots), 0);
    const struct plan_sky shared = {&lamp, &slots, &skies, 1, 2.05, 2.11, 2.11, false};
    assert_true(plan_sky_price(&shared).by_guard); /* the supply leaves less of the lamp */
}

static void the_guard_looks_below_the_lowest_sky(void **state)
{
    (void)state;
    struct scenarios skies = two_skies(0.2, 2);
    skies.pessimistic = 0.1;
    const struct plan_sky under = {&lamp, &slots, &skies, 1, (double)INFINITY, 2.26, 2.26, false};
    assert_near(plan_sky_price(&under).pessimistic_mol, 0.15, 1e-12);
    assert_false(plan_sky_price(&under).by_guard);
    const struct plan_sky over = {&lamp, &slots, &skies, 1, (double)INFINITY, 2.28, 2.28, false};
    assert_true(plan_sky_price(&over).by_guard);
}

/* A clear sky that is wrong is no sky to wait for, and no hundredth is left to luck. */
static void a_sky_astray_brings_nothing(void **state)
{
    (void)state;
    const struct scenarios skies = two_skies(0.5, 2);
    const struct plan_sky known = {&lamp, &slots, &skies, 1, (double)INFINITY, 2.1, 2.1, false};
    const struct plan_sky astray = {&lamp, &slots, &skies, 1, (double)INFINITY, 2.1, 2.1, true};
    assert_false(plan_sky_price(&known).by_guard);
    assert_true(plan_sky_price(&astray).by_guard);
    assert_near(plan_sky_price(&astray).pessimistic_mol, 0, 0);
}

static void without_sun_the_price_is_that_of_the_need(void **state)
{
    (void)state;
    const struct scenarios none = {.count = 0};
    const struct plan_sky sky = {&lamp, &slots, &none, 0, (double)INFINITY, 1.5, 17, false};
    assert_near(plan_sky_price(&sky).price,
                plan_price_of(&lamp, &slots, 0, 1.5, plan_missing_price(&lamp, &slots)), 1e-8);
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

#define DAY_SLOTS 36 /* half hours of a window of 18 h */

/* A window around a random noon with three prices, and ten random skies, as dark as they like. */
static void random_day(struct prng *prng, struct plan_slots *day, struct scenarios *skies)
{
    static const double prices[] = {0.10, 0.16, 0.28};
    const double noon_umol = prng_real(prng, 100, 1000);
    *day = (struct plan_slots){.count = DAY_SLOTS};
    for (int i = 0; i < DAY_SLOTS; i++) {
        const double sun = cos((i + 0.5 - DAY_SLOTS / 2.0) * 3.14159 / 30);
        day->slot[i] = (struct plan_slot){.dt_s = 1800,
                                          .lit_s = 1800,
                                          .price_per_kwh = prices[prng_int(prng, 0, 2)],
                                          .cap = 1,
                                          .clear_umol = noon_umol * fmax(0, sun)};
    }
    const double lowest = prng_real(prng, 0.05, 0.4);
    const double width = prng_real(prng, 0, 0.7);
    *skies = (struct scenarios){.count = CLEARNESS_SCENARIOS, .mean = lowest + width / 2};
    for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
        skies->clearness[j] = lowest + width * j / (CLEARNESS_SCENARIOS - 1.0);
    }
    skies->pessimistic = fmax(0.02, 2 * lowest - skies->clearness[1]);
}

/* What is left of the day after so many minutes. */
static double rest_of(const struct plan_slots *day, int minutes, struct plan_slots *ret)
{
    double clear_mol = 0;
    ret->count = 0;
    for (int i = minutes / 30; i < day->count; i++) {
        struct plan_slot *slot = &ret->slot[ret->count++];
        *slot = day->slot[i];
        if (i == minutes / 30) {
            slot->dt_s = slot->lit_s = 60.0 * (30 - minutes % 30);
        }
        clear_mol += units_mol(slot->clear_umol, slot->dt_s);
    }
    return clear_mol;
}

/* Walks the day under a sky as dark as that, which nobody ever learns from: mol at its end. */
static double walk(const struct plan_slots *day, const struct scenarios *skies, double dark,
                   double target_mol)
{
    double mol = 0;
    for (int minutes = 0; minutes < 30 * day->count; minutes += PLAN_SKY_EVERY_S / 60) {
        struct plan_slots rest;
        const double clear_mol = rest_of(day, minutes, &rest);
        const struct plan_sky sky = {
            &lamp, &rest, skies, clear_mol, (double)INFINITY, target_mol - mol, target_mol, false};
        const struct plan_sky_answer answer = plan_sky_price(&sky);
        const struct plan_price price = {answer.price * (1 + 1e-6) + 1e-12, 1};
        const double daylight = dark * rest.slot[0].clear_umol;
        const double level =
            mol < target_mol ? plan_level_at(&lamp, &rest.slot[0], daylight, &price) : 0;
        mol += units_mol(daylight + level * lamp.full_umol, PLAN_SKY_EVERY_S);
    }
    return mol;
}

/* Whatever target the lamp can meet under the guard's dark sky is met, to the guarded share. */
static void a_dark_day_is_met_wherever_it_can_be(void **state)
{
    (void)state;
    struct prng prng = prng_start("a_dark_day_is_met_wherever_it_can_be");
    for (int round = 0; round < 200; round++) {
        struct plan_slots day;
        struct scenarios skies;
        random_day(&prng, &day, &skies);
        const double clear_mol = rest_of(&day, 0, &(struct plan_slots){0});
        const double dark = 0.5 * (skies.clearness[0] + skies.pessimistic);
        const double most = dark * clear_mol + plan_reach_mol(&lamp, &day, dark);
        const double target = most * prng_real(&prng, 0.5, 1);
        const double mol = walk(&day, &skies, dark, target);
        if (mol < PLAN_SKY_GUARDED * target - 1e-6) {
            fail_msg("round %d: %.4f of %.4f mol, %.4f were within reach", round, mol, target,
                     most);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_price_is_the_mean_of_the_skies),
        cmocka_unit_test(the_guard_asks_for_all_where_recourse_ends),
        cmocka_unit_test(the_guard_looks_below_the_lowest_sky),
        cmocka_unit_test(a_sky_astray_brings_nothing),
        cmocka_unit_test(without_sun_the_price_is_that_of_the_need),
        cmocka_unit_test(a_lamp_that_could_not_come_back_in_time_stays),
        cmocka_unit_test(a_dark_day_is_met_wherever_it_can_be),
    };
    return cmocka_run_group_tests(tests, make_curve, NULL);
}
