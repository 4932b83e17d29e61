/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Outside values: for P(u) = p0 + p1 u + p2 u² the average P/u is least at u = sqrt(p0/p2)
 * (inequality of the arithmetic and geometric mean), where it is p1 + 2 sqrt(p0 p2), and the slope
 * is p1 + 2 p2 u. All else is compared with plain search.
 */
#include "lampcurve.h"
#include "near.h"
#include "plan_case.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof((array)[0])))

static const struct dimcurve_point dimmable[] = {
    {0.0, 0.00, 2.0}, {0.1, 0.10, 30.0}, {0.5, 0.50, 120.0}, {1.0, 1.00, 300.0}};
static const struct dimcurve_point deep[] = {
    {0.0, 0.00, 1.0}, {0.1, 0.02, 12.0}, {0.6, 0.60, 130.0}, {1.0, 1.00, 260.0}};
static const struct dimcurve_point switched[] = {{0.0, 0.00, 0.0}, {1.0, 1.00, 400.0}};

static struct dimcurve make(const struct dimcurve_point *points, int count)
{
    struct dimcurve curve;
    assert_int_equal(dimcurve_init(&curve, points, count, NULL), DIMCURVE_OK);
    return curve;
}

static void is_a_chain(const struct lampcurve *curve)
{
    assert_true(curve->count >= 1 && curve->count <= LAMPCURVE_POINTS_MAX);
    assert_true(curve->level[curve->count - 1] == 1);
    assert_true(curve->off_w >= 0 && curve->off_w <= curve->watts[0]);
    for (int i = 0; i + 1 < curve->count; i++) {
        assert_true(curve->level[i] < curve->level[i + 1]);
        assert_near(curve->watts[i] + curve->slope[i] * (curve->level[i + 1] - curve->level[i]),
                    curve->watts[i + 1], 1e-9);
        assert_true(i == 0 || curve->slope[i] > curve->slope[i - 1]);
    }
}

static void one_fixture_keeps_its_ends(void **state)
{
    (void)state;
    const struct dimcurve dim = make(dimmable, COUNT(dimmable));
    const struct lampcurve_part part = {&dim, 300};
    struct lampcurve curve;
    lampcurve_join(&curve, &part, 1, 1.5);
    is_a_chain(&curve);
    assert_near(lampcurve_min_level(&curve), 0.10, 1e-12);
    assert_near(lampcurve_watts(&curve, 0), 1.5, 0);
    assert_near(lampcurve_watts(&curve, 0.05), 30, 1e-9);
    assert_near(lampcurve_watts(&curve, 0.10), 30, 1e-9);
    assert_near(lampcurve_watts(&curve, 1), 300, 1e-9);
    assert_near(lampcurve_watts(&curve, 2), 300, 1e-9);
    for (int i = 0; i <= 64; i++) {
        const double level = 0.1 + 0.9 * i / 64;
        assert_true(lampcurve_watts(&curve, level) <=
                    dimcurve_watts(&dim, dimcurve_drive(&dim, level)) + 1e-9);
    }
}

static void fixtures_join_by_their_light(void **state)
{
    (void)state;
    const struct dimcurve a = make(dimmable, COUNT(dimmable));
    const struct dimcurve b = make(deep, COUNT(deep));
    const struct dimcurve c = make(switched, COUNT(switched));
    const struct lampcurve_part parts[] = {{&a, 200}, {&b, 100}, {&c, 100}};
    struct lampcurve curve;
    lampcurve_join(&curve, parts, 2, 3);
    is_a_chain(&curve);
    assert_near(lampcurve_min_level(&curve), (200 * 0.10 + 100 * 0.02) / 300, 1e-12);
    assert_near(curve.watts[0], 30 + 12, 1e-9);
    assert_near(lampcurve_watts(&curve, 1), 560, 1e-9);
    /* the third one only burns fully: it lies under every level */
    lampcurve_join(&curve, parts, 3, 3);
    is_a_chain(&curve);
    assert_near(lampcurve_min_level(&curve), (200 * 0.10 + 100 * 0.02 + 100) / 400, 1e-12);
    assert_near(curve.watts[0], 30 + 12 + 400, 1e-9);
    assert_near(lampcurve_watts(&curve, 1), 960, 1e-9);
}

static void switched_lamps_have_one_level(void **state)
{
    (void)state;
    const struct dimcurve dim = make(switched, COUNT(switched));
    const struct lampcurve_part part = {&dim, 250};
    struct lampcurve curve;
    lampcurve_join(&curve, &part, 1, 900);
    is_a_chain(&curve);
    assert_int_equal(curve.count, 1);
    assert_true(curve.off_w == 400); /* more than lit cannot be */
    lampcurve_join(&curve, &part, 1, 4);
    assert_near(lampcurve_threshold_w(&curve, 1), 396, 1e-9);
    assert_true(lampcurve_threshold_w(&curve, 0.99) == (double)INFINITY);
    assert_true(lampcurve_level_at(&curve, 395, 0, 1) == 0);
    assert_true(lampcurve_level_at(&curve, 396, 0, 1) == 1);
    assert_true(lampcurve_level_below(&curve, 396, 0, 1) == 1);
    assert_true(lampcurve_level_at(&curve, 1, 0.3, 1) == 1);
    assert_true(lampcurve_level_at(&curve, (double)INFINITY, 0.3, 0.99) == 0);
}

/* The hull at a level is the lowest of all lines between two points around it. */
static void the_chain_is_the_hull(void **state)
{
    (void)state;
    struct prng prng = prng_start("the_chain_is_the_hull");
    for (int round = 0; round < 300; round++) {
        const int count = (int)prng_int(&prng, 2, LAMPCURVE_POINTS_MAX);
        double level[LAMPCURVE_POINTS_MAX];
        double watts[LAMPCURVE_POINTS_MAX];
        for (int i = 0; i < count; i++) {
            level[i] = (i + 1.0 + (i + 1 < count ? prng_real(&prng, 0, 0.9) : 0)) / count;
            watts[i] = 50 + 300 * level[i] * level[i] + prng_real(&prng, 0, 40);
        }
        struct lampcurve curve;
        lampcurve_of(&curve, level, watts, count, prng_real(&prng, 0, 20));
        is_a_chain(&curve);
        for (int k = 0; k < count; k++) {
            double least = watts[k];
            for (int i = 0; i < k; i++) {
                for (int j = k + 1; j < count; j++) {
                    const double way = (level[k] - level[i]) / (level[j] - level[i]);
                    least = fmin(least, watts[i] + way * (watts[j] - watts[i]));
                }
            }
            assert_near(lampcurve_watts(&curve, level[k]), least, 1e-6);
        }
    }
}

static void a_straight_line_is_one_stretch(void **state)
{
    (void)state;
    const double level[] = {0.1, 0.2, 0.45, 0.7, 1};
    const double watts[] = {20, 40, 90, 140, 200};
    struct lampcurve curve;
    lampcurve_of(&curve, level, watts, 5, 0);
    assert_int_equal(curve.count, 2);
    assert_int_equal(curve.best, 0); /* all photons cost the same: the smallest jump */
    assert_true(lampcurve_level_at(&curve, 200, 0, 0.8) == 0.8);
    assert_true(lampcurve_level_below(&curve, 200, 0, 0.8) == 0.1);
    assert_true(lampcurve_level_at(&curve, 199, 0, 0.8) == 0);
}

static void the_cheapest_photon(void **state)
{
    (void)state;
    const struct plan_case_lamp lamp = {120, 0.02, 0.83, 0.15, 0.1};
    struct lampcurve curve;
    plan_case_quadratic(&curve, &lamp);
    assert_near(curve.level[curve.best], sqrt(0.02 / 0.15), 0.5 / 64);
    const double threshold = lampcurve_threshold_w(&curve, 1);
    assert_near(threshold, 120 * (0.83 + 2 * sqrt(0.02 * 0.15)), 120 * 1e-5);
    assert_true(lampcurve_level_at(&curve, threshold * (1 - 1e-8), 0, 1) == 0);
    assert_true(lampcurve_level_at(&curve, threshold, 0, 1) == curve.level[curve.best]);
    assert_true(lampcurve_level_below(&curve, threshold, 0, 1) == curve.level[curve.best]);
    /* under a cap below it the cap is the cheapest, and dearer */
    assert_near(lampcurve_threshold_w(&curve, 0.2), 120 * (0.02 / 0.2 + 0.83 + 0.15 * 0.2), 1e-3);
    for (int i = 1; i < 60; i++) {
        const double worth = threshold + 0.5 * i;
        const double level = fmin((worth / 120 - 0.83) / (2 * 0.15), 1);
        assert_near(lampcurve_level_at(&curve, worth, 0, 1), level, 1.1 / 64);
        assert_near(lampcurve_level_at(&curve, worth, 0, 0.5), fmin(level, 0.5), 1.1 / 64);
    }
    assert_true(lampcurve_level_at(&curve, (double)INFINITY, 0, 0.7) == 0.7);
    assert_true(lampcurve_level_below(&curve, (double)INFINITY, 0, 0.7) == 0.7);
    assert_true(lampcurve_level_at(&curve, 0, 0.05, 0.7) == 0.1);
    assert_true(lampcurve_level_at(&curve, 0, 0.25, 0.7) == 0.25);
}

static void ties_have_two_ends(void **state)
{
    (void)state;
    const double level[] = {0.2, 0.5, 0.75, 1};
    const double watts[] = {30, 90, 150, 220};
    struct lampcurve curve;
    lampcurve_of(&curve, level, watts, 4, 0);
    assert_int_equal(curve.count, 4);
    for (int i = 0; i < 3; i++) {
        assert_true(lampcurve_level_at(&curve, curve.slope[i], 0, 1) == level[i + 1]);
        assert_true(lampcurve_level_below(&curve, curve.slope[i], 0, 1) == level[i]);
        assert_true(lampcurve_level_at(&curve, curve.slope[i] * (1 - 1e-6), 0, 1) == level[i]);
        assert_true(lampcurve_level_below(&curve, curve.slope[i] * (1 + 1e-6), 0, 1) ==
                    level[i + 1]);
    }
    assert_int_equal(lampcurve_point_at(&curve, curve.slope[1], 0, 3), 2);
    assert_int_equal(lampcurve_point_at(&curve, curve.slope[1], 1, 2), 2);
}

/* No allowed level is worth more than the one chosen. */
static void no_level_is_better(void **state)
{
    (void)state;
    struct prng prng = prng_start("no_level_is_better");
    for (int round = 0; round < 2000; round++) {
        struct lampcurve curve;
        plan_case_curve(&curve, &prng, prng_real(&prng, 0.01, 0.4), prng_real(&prng, 0, 60));
        const double worth = prng_real(&prng, 0, 2000);
        const double low = prng_int(&prng, 0, 2) ? 0 : prng_real(&prng, 0, 1);
        const double high = fmax(low, prng_int(&prng, 0, 2) ? 1 : prng_real(&prng, 0, 1));
        const double level = lampcurve_level_at(&curve, worth, low, high);
        const double below = lampcurve_level_below(&curve, worth, low, high);
        if (high < curve.level[0]) {
            assert_true(level == 0 && below == 0);
            continue;
        }
        const double least = fmin(fmax(low, curve.level[0]), high);
        assert_true(level == 0 ? !(low > 0) : level >= least && level <= high);
        assert_true(below <= level && (below > 0) == (level > 0));
        const double gain = worth * level - lampcurve_watts(&curve, level);
        assert_true(low > 0 || gain >= -curve.off_w - 1e-6);
        for (int i = 0; i <= 200; i++) {
            const double other = least + (high - least) * i / 200;
            assert_true(gain >= worth * other - lampcurve_watts(&curve, other) - 1e-6);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_fixture_keeps_its_ends),
        cmocka_unit_test(fixtures_join_by_their_light),
        cmocka_unit_test(switched_lamps_have_one_level),
        cmocka_unit_test(the_chain_is_the_hull),
        cmocka_unit_test(a_straight_line_is_one_stretch),
        cmocka_unit_test(the_cheapest_photon),
        cmocka_unit_test(ties_have_two_ends),
        cmocka_unit_test(no_level_is_better),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
