/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"
#include "plan_case.h"
#include "powercurve.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define NARROW 1e-7

static void follows_the_chain_as_the_spread_vanishes(void **state)
{
    (void)state;
    struct prng prng = prng_start("follows_the_chain_as_the_spread_vanishes");
    for (int round = 0; round < 2000; round++) {
        struct lampcurve lamp;
        struct powercurve curve;
        plan_case_curve(&lamp, &prng, prng_real(&prng, 0.02, 0.4), prng_real(&prng, 0, 60));
        powercurve_init(&curve, &lamp);
        const bool is_forced = prng_int(&prng, 0, 1);
        const struct powercurve_limits limits = {is_forced ? prng_real(&prng, 0.001, 0.5) : 0,
                                                 prng_real(&prng, 0.5, 1)};
        const double worth_w = prng_real(&prng, 1, 3000);
        const double level = powercurve_level(&curve, log(worth_w), NARROW, &limits);
        assert_near(level, lampcurve_level_at(&lamp, worth_w, limits.low, limits.high), 1e-9);
        if (level >= lamp.level[lamp.best] || is_forced) {
            assert_near(powercurve_watts(&curve, level, &limits), lampcurve_watts(&lamp, level),
                        1e-9);
        }
    }
}

/* Wherever the cheapest photon lies among the corners, a step ends there. */
static void the_best_level_ends_a_step(void **state)
{
    (void)state;
    for (int watts = 2; watts < 60; watts++) {
        const struct plan_case_lamp droop = {
            .full_w = 600, .min_level = 0.1, .p0 = watts / 600.0, .p1 = 0.7, .p2 = 0.2};
        struct lampcurve lamp;
        struct powercurve curve;
        plan_case_quadratic(&lamp, &droop);
        powercurve_init(&curve, &lamp);
        double level = lamp.level[0];
        for (int i = 0; i < curve.best; i++) {
            level += curve.step[i];
        }
        assert_near(level, lamp.level[lamp.best], 1e-12);
        assert_true(curve.count <= POWERCURVE_STEPS_MAX);
    }
}

/* 65 corners become 16 steps: the best level stays, and no level is far off. */
static void a_long_chain_is_shortened(void **state)
{
    (void)state;
    const struct plan_case_lamp droop = {
        .full_w = 600, .min_level = 0.1, .p0 = 0.03, .p1 = 0.82, .p2 = 0.15};
    struct lampcurve lamp;
    struct powercurve curve;
    plan_case_quadratic(&lamp, &droop);
    powercurve_init(&curve, &lamp);
    assert_true(curve.count <= POWERCURVE_STEPS_MAX && curve.count >= POWERCURVE_STEPS_MAX - 4);
    const struct powercurve_limits limits = {0.1, 1};
    double sum = lamp.level[0];
    double rising = -(double)INFINITY;
    for (int i = 0; i < curve.count; i++) {
        sum += curve.step[i];
        assert_true(curve.log_slope[i] > rising);
        rising = curve.log_slope[i];
    }
    assert_near(sum, 1, 1e-12);
    assert_near(curve.best_level, lamp.level[lamp.best], 0);
    for (int worth_w = 400; worth_w < 700; worth_w += 7) {
        assert_near(powercurve_level(&curve, log(worth_w), 0.01, &limits),
                    lampcurve_level_at(&lamp, worth_w, 0.1, 1), 0.09);
    }
}

/* A lamp that draws in proportion to its light wants all or nothing; spread out it can share. */
static void a_straight_lamp_rises_through_the_spread(void **state)
{
    (void)state;
    const double level[] = {0.1, 1};
    const double watts[] = {60, 600};
    struct lampcurve lamp;
    struct powercurve curve;
    lampcurve_of(&lamp, level, watts, 2, 0);
    powercurve_init(&curve, &lamp);
    const struct powercurve_limits lit = {0.1, 1};
    assert_near(powercurve_level(&curve, log(600), 0.02, &lit), 0.55, 1e-12);
    assert_near(powercurve_level(&curve, log(600) + 0.01, 0.02, &lit), 0.1 + 0.9 * 0.75, 1e-12);
    assert_near(powercurve_level(&curve, log(600) - 0.03, 0.02, &lit), 0.1, 1e-12);
    /* The cheapest photon is the lowest level: half of the time at it, then what lies above. */
    const struct powercurve_limits dark = {0, 1};
    assert_near(powercurve_level(&curve, log(600), 0.02, &dark), 0.05 + 0.45, 1e-12);
    assert_near(powercurve_level(&curve, log(600) - 0.03, 0.02, &dark), 0, 0);
}

static void a_lamp_that_only_switches(void **state)
{
    (void)state;
    const double level = 1;
    const double watts = 400;
    struct lampcurve lamp;
    struct powercurve curve;
    lampcurve_of(&lamp, &level, &watts, 1, 0);
    powercurve_init(&curve, &lamp);
    const struct powercurve_limits dark = {0, 1};
    const struct powercurve_limits lit = {1, 1};
    const struct powercurve_limits hot = {0, 0.9};
    assert_int_equal(curve.count, 0);
    assert_near(powercurve_level(&curve, log(400), 0.01, &dark), 0.5, 1e-12);
    assert_near(powercurve_watts(&curve, 0.5, &dark), 200, 1e-9);
    assert_near(powercurve_level(&curve, -(double)INFINITY, 0.01, &dark), 0, 0);
    assert_near(powercurve_level(&curve, -(double)INFINITY, 0.01, &lit), 1, 0);
    assert_near(powercurve_level(&curve, log(4000), 0.01, &hot), 0, 0);
    assert_near(powercurve_watts(&curve, 0, &lit), 0, 0);
}

static void rises_with_worth(void **state)
{
    (void)state;
    struct prng prng = prng_start("rises_with_worth");
    for (int round = 0; round < 300; round++) {
        struct lampcurve lamp;
        struct powercurve curve;
        plan_case_curve(&lamp, &prng, prng_real(&prng, 0.02, 0.4), prng_real(&prng, 0, 60));
        powercurve_init(&curve, &lamp);
        const double spread = prng_real(&prng, 0.001, 0.8);
        const struct powercurve_limits limits = {prng_int(&prng, 0, 1) ? 0.1 : 0,
                                                 prng_real(&prng, 0.2, 1)};
        double before = 0;
        double watts_before = 0;
        for (int i = 0; i < 140; i++) {
            const double level = powercurve_level(&curve, 2 + 0.05 * i, spread, &limits);
            const double watts = powercurve_watts(&curve, level, &limits);
            assert_true(level >= before && level <= limits.high);
            assert_true(watts >= watts_before - 1e-9);
            before = level;
            watts_before = watts;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_best_level_ends_a_step),
        cmocka_unit_test(follows_the_chain_as_the_spread_vanishes),
        cmocka_unit_test(a_long_chain_is_shortened),
        cmocka_unit_test(a_straight_lamp_rises_through_the_spread),
        cmocka_unit_test(a_lamp_that_only_switches),
        cmocka_unit_test(rises_with_worth),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
