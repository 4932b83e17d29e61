/* SPDX-License-Identifier: Apache-2.0 */
#include "clearness.h"
#include "near.h"
#include "prng.h"

#include <fenv.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* 10⁶ seconds make µmol a second into mol. */
static void bring(struct clearness *today, const struct learned *learned, double daylight_mol,
                  double clear_mol)
{
    clearness_step(today, learned, daylight_mol, clear_mol, 1e6, true);
}

static bool is_same(const void *left, const void *right, size_t size)
{
    return memcmp(left, right, size) == 0;
}

/* A day of 10 mol of clear sky, a twentieth a step; the clearness of each half. */
static void live(struct clearness *today, const struct learned *learned, double first,
                 double second)
{
    clearness_open(today, 10.0);
    for (int i = 0; i < 20; i++) {
        bring(today, learned, 0.5 * (i < 10 ? first : second), 0.5);
    }
    bring(today, learned, 0.0, 0.0); /* the night behind it */
}

/* Row 0: 0.2464 + 0.3171 · 0.6 + 0.2429 · 0.6 = 0.5824. */
static void test_before_the_day(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    clearness_open(&today, 10.0);
    struct scenarios may;
    clearness_scenarios(&today, &learned, &may);
    assert_int_equal(may.count, CLEARNESS_SCENARIOS);
    assert_near(may.clearness[0], 0.5824 - 0.3906, 1e-6);
    assert_near(may.clearness[1], 0.5824 - 0.2881, 1e-6);
    assert_near(may.clearness[5], 0.5824 + 0.0315, 1e-6);
    assert_near(may.clearness[9], 0.5824 + 0.3903, 1e-6);
    assert_near(may.pessimistic, 0.5824 - 0.3906 - 0.1025, 1e-6);
    assert_near(may.mean, 0.5824 - 0.00159, 1e-6);
    /* a clear yesterday promises; row 0 asks nothing of today */
    learned.yesterday = 1.0F;
    today.daylight_mol = 0.1;
    today.clear_mol = 0.1;
    clearness_scenarios(&today, &learned, &may);
    assert_near(may.clearness[0], 0.2464 + 0.3171 + 0.2429 * 0.6 - 0.3906, 1e-6);
}

/* Half of the clear sky past, half of it came: 0.0343 + 0.7213 · 0.5 + 0.0209 · 0.6 + 0.1794 · 0.6
 * = 0.51513. */
static void test_at_half(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    clearness_open(&today, 10.0);
    bring(&today, &learned, 2.5, 5.0);
    struct scenarios may;
    clearness_scenarios(&today, &learned, &may);
    assert_near(may.clearness[0], 0.51513 - 0.2848, 1e-6);
    assert_near(may.clearness[4], 0.51513 - 0.0278, 1e-6);
    assert_near(may.clearness[9], 0.51513 + 0.2914, 1e-6);
    assert_near(may.pessimistic, 0.51513 - 0.2848 - 0.1115, 1e-6);
}

/* Nearest row, the last one to the end; k so far at most 2.6; cases from 0.02 to 1.1, further
 * where the days were clearer than that. */
static void test_rows_and_limits(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    static const struct {
        double past, first; /* nothing came: constant + 0.6 (yesterday + mean) + r75 or r95 */
    } cases[] = {
        {0.524, 0.0343 + 0.6 * (0.0209 + 0.1794) + 0.2914},
        {0.526, 0.0421 + 0.6 * (0.0200 + 0.1605) + 0.3002},
        {0.049, 0.0118 + 0.6 * (0.1057 + 0.3625) + 0.3067},
        {0.999, 0.3159 + 0.6 * (-0.0732 - 0.2256) + 0.4670},
        {1.2, 0.3159 + 0.6 * (-0.0732 - 0.2256) + 0.4670},
    };
    struct scenarios may;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct clearness today;
        clearness_open(&today, 10.0);
        bring(&today, &learned, 0.0, 10.0 * cases[i].past);
        clearness_scenarios(&today, &learned, &may);
        assert_near(may.clearness[9], cases[i].first, 1e-6);
        if (i == 0) {
            assert_near(may.clearness[0], 0.02, 0.0);
            assert_near(may.pessimistic, 0.02, 0.0);
        }
    }
    struct clearness bright;
    clearness_open(&bright, 10.0);
    bring(&bright, &learned, 9.8, 9.8);
    clearness_scenarios(&bright, &learned, &may);
    double predicted = 0.3159 + 0.7955 - 0.6 * (0.0732 + 0.2256);
    assert_near(may.clearness[0], predicted - 0.3927, 1e-6);
    assert_near(may.clearness[9], 1.1, 0.0);
    struct learned high = learned; /* the curve is a third too low here */
    learned_push_day(&high, 1.4);
    clearness_scenarios(&bright, &high, &may);
    predicted = 0.3159 + 0.7955 - 1.4 * (0.0732 + 0.2256);
    assert_near(may.clearness[9], fmin(predicted + 0.4670, 1.15 * 1.4), 1e-6);
    bring(&bright, &high, 30.0, 0.0); /* four times the curve: nobody believes more than 2.6 */
    clearness_scenarios(&bright, &high, &may);
    predicted = 0.3159 + 0.7955 * 2.6 - 1.4 * (0.0732 + 0.2256);
    assert_near(may.clearness[0], fmin(predicted - 0.3927, 1.15 * 1.4), 1e-6);
    assert_near(may.clearness[9], 1.15 * 1.4, 1e-6);
    for (int row = 0; row < CLEARNESS_ROWS; row++) {
        struct clearness today;
        clearness_open(&today, 10.0);
        bring(&today, &learned, 0.3 * row, 0.5 * row);
        clearness_scenarios(&today, &learned, &may);
        assert_true(may.pessimistic <= may.clearness[0]);
        for (int j = 1; j < CLEARNESS_SCENARIOS; j++) {
            assert_true(may.clearness[j] >= may.clearness[j - 1]);
        }
    }
}

/* 0.4 in the first half, 0.8 in the second: the day was 0.6; row 0 expected 0.5824, row 10
 * 0.0343 + 0.7213 · 0.4 + (0.0209 + 0.1794) · 0.6 = 0.443. */
static void test_a_day_teaches(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    live(&today, &learned, 0.4, 0.8);
    clearness_close(&today, &learned);
    assert_near((double)learned.yesterday, 0.6, 1e-6);
    assert_int_equal(learned.day_count, 1);
    assert_near((double)learned.residual[0][0], 0.6 - 0.5824, 1e-5);
    assert_near((double)learned.residual[10][0], 0.8 - 0.443, 1e-5);
    for (int row = 0; row < CLEARNESS_ROWS; row++) {
        assert_int_equal(learned.residual_count[row], 1);
    }
    assert_true(learned_is_sane(&learned));
    assert_true(clearness_is_sane(&today));
}

/* Four long steps: each notes the rows that were passed; of the last ones no rest is left. */
static void test_long_steps(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    clearness_open(&today, 10.0);
    for (int i = 0; i < 4; i++) {
        bring(&today, &learned, i < 2 ? 1.0 : 2.0, 2.5);
    }
    bring(&today, &learned, 0.0, 0.0);
    assert_int_equal(today.row_next, CLEARNESS_ROWS);
    clearness_close(&today, &learned);
    assert_near((double)learned.residual[10][0], 0.8 - 0.443, 1e-5);
    assert_int_equal(learned.residual_count[15], 1);
    assert_int_equal(learned.residual_count[16], 0);
    assert_int_equal(learned.residual_count[19], 0);
}

/* Of the last half per cent of the light a ratio says nothing, however bright it was. */
static void test_a_rest_too_small(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    clearness_open(&today, 10.0);
    bring(&today, &learned, 5.0, 9.95);
    bring(&today, &learned, 1.0, 0.05);
    clearness_close(&today, &learned);
    assert_int_equal(learned.residual_count[0], 1);
    assert_int_equal(today.row_next, CLEARNESS_ROWS);
    for (int row = 1; row < CLEARNESS_ROWS; row++) {
        assert_int_equal(learned.residual_count[row], 0);
    }
    assert_near((double)learned.yesterday, 0.6, 1e-6);
}

static void test_broken_days_teach_nothing(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    live(&today, &learned, 0.3, 0.9);
    clearness_close(&today, &learned);
    const struct learned before = learned;

    live(&today, &learned, 0.4, 0.8);
    clearness_step(&today, &learned, 0.0, 0.0, 1.0, false); /* a guess of one second */
    assert_true(today.is_broken);
    clearness_close(&today, &learned);
    assert_true(is_same(&before, &learned, sizeof before));

    live(&today, &learned, 0.4, 0.8);
    clearness_step(&today, &learned, (double)NAN, 0.0, 1.0, true);
    clearness_close(&today, &learned);
    assert_true(is_same(&before, &learned, sizeof before));

    clearness_open(&today, 10.0); /* the daemon was away for a fifth of the light */
    for (int i = 0; i < 16; i++) {
        bring(&today, &learned, 0.25, 0.5);
    }
    clearness_close(&today, &learned);
    assert_true(is_same(&before, &learned, sizeof before));

    live(&today, &learned, 0.4, 0.8);
    clearness_close(&today, &learned);
    assert_false(is_same(&before, &learned, sizeof before));
}

/* Light that nobody saw counts at the clearness so far: neither the row nor the ratio goes wrong.
 */
static void test_unknown_daylight(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    clearness_open(&today, 10.0);
    clearness_step(&today, &learned, (double)NAN, 1.0, 1e6, false); /* none yet: the usual 0.6 */
    assert_near(today.daylight_mol, 0.6, 1e-9);
    clearness_open(&today, 10.0);
    bring(&today, &learned, 1.0, 2.0);
    clearness_step(&today, &learned, (double)NAN, 3.0, 1e6, false);
    assert_near(today.daylight_mol, 2.5, 1e-9);
    assert_near(today.clear_mol, 5.0, 1e-9);
    struct scenarios may;
    clearness_scenarios(&today, &learned, &may);
    assert_near(may.clearness[0], 0.51513 - 0.2848, 1e-6);
    const struct clearness before = today;
    clearness_step(&today, &learned, 5.0, 5.0, 0.0, true);
    clearness_step(&today, &learned, 5.0, 5.0, -1.0, true);
    clearness_step(&today, &learned, 5.0, 5.0, (double)NAN, true);
    clearness_step(&today, &learned, 5.0, (double)NAN, 1.0, true);
    clearness_step(&today, &learned, 5.0, -1.0, 1.0, true);
    assert_near(today.daylight_mol, before.daylight_mol, 0.0);
    assert_near(today.clear_mol, before.clear_mol, 0.0);
    clearness_step(&today, &learned, -3.0, 0.0, 1e6, true); /* a sensor's offset at night */
    assert_near(today.daylight_mol, before.daylight_mol, 0.0);
}

/* Polar night, or a room indoors: no division, no case, nothing taught. */
static void test_no_sun(void **state)
{
    (void)state;
    static const double none[] = {0.0, 0.0099, -1.0, (double)NAN, (double)INFINITY};
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        struct learned learned;
        learned_init(&learned);
        const struct learned before = learned;
        struct clearness today;
        struct scenarios may;
        feclearexcept(FE_ALL_EXCEPT);
        clearness_open(&today, none[i]);
        for (int step = 0; step < 1440; step++) {
            clearness_step(&today, &learned, 3.0, 0.0, 60.0, true);
        }
        clearness_scenarios(&today, &learned, &may);
        clearness_close(&today, &learned);
        assert_int_equal(fetestexcept(FE_DIVBYZERO), 0);
        assert_int_equal(may.count, 0);
        assert_near(may.mean, 0.0, 0.0);
        assert_near(may.pessimistic, 0.0, 0.0);
        assert_true(is_same(&before, &learned, sizeof before));
    }
    /* a day of sun whose clear sky has not begun yet */
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    struct scenarios may;
    feclearexcept(FE_ALL_EXCEPT);
    clearness_open(&today, 10.0);
    bring(&today, &learned, 0.1, 0.0);
    clearness_scenarios(&today, &learned, &may);
    assert_int_equal(fetestexcept(FE_DIVBYZERO), 0);
    assert_near(may.clearness[0], 0.5824 - 0.3906, 1e-6);
}

/* The site's own residuals take over with the twentieth day. */
static void test_own_residuals(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct clearness today;
    clearness_open(&today, 10.0);
    struct scenarios may;
    for (int i = 0; i < 20; i++) {
        clearness_scenarios(&today, &learned, &may);
        assert_near(may.clearness[0], 0.5824 - 0.3906, 1e-6);
        learned_push_residual(&learned, 0, (19 - i) / 100.0);
    }
    clearness_scenarios(&today, &learned, &may);
    for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
        assert_near(may.clearness[j], 0.5824 + (2.0 * j + 0.5) / 100.0, 1e-6);
    }
    assert_near(may.mean, 0.5824 + 0.095, 1e-6);
    /* the own days are too much alike: the far end is that of the usual ones */
    assert_near(may.pessimistic, 0.5824 - 0.3906 - 0.1025, 1e-6);
}

/* Random days of a known distribution, far from the table's: each day has its own mean, each
 * twentieth of it its own deviation. Once the rings are full, what comes lies below the case at
 * quantile q on a share q of the days. */
static void test_learns_to_be_calibrated(void **state)
{
    (void)state;
    struct prng prng = prng_start("clearness_calibrated");
    enum { DAYS = 6000 };
    static const int asked[] = {0, 5, 10, 16};
    int below[4][CLEARNESS_SCENARIOS] = {{0}};
    int far_below[4] = {0};
    struct learned learned;
    learned_init(&learned);
    for (int day = -CLEARNESS_RING; day < DAYS; day++) {
        double mean = prng_real(&prng, 0.2, 0.6);
        struct scenarios may[4];
        double came[4] = {0.0};
        struct clearness today;
        clearness_open(&today, 20.0);
        for (int step = 0; step < 20; step++) {
            double clearness = mean + prng_real(&prng, -0.2, 0.2);
            for (int a = 0; a < 4; a++) {
                if (step == asked[a]) {
                    clearness_scenarios(&today, &learned, &may[a]);
                }
                came[a] += step >= asked[a] ? clearness / (20 - asked[a]) : 0.0;
            }
            bring(&today, &learned, clearness, 1.0);
        }
        clearness_close(&today, &learned);
        for (int a = 0; day >= 0 && a < 4; a++) {
            far_below[a] += came[a] < may[a].pessimistic;
            for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
                below[a][j] += came[a] < may[a].clearness[j];
            }
        }
    }
    for (int a = 0; a < 4; a++) {
        print_message("row %2d: below 0.05 %.3f, 0.25 %.3f, 0.75 %.3f, 0.95 %.3f, low %.3f\n",
                      asked[a], (double)below[a][0] / DAYS, (double)below[a][2] / DAYS,
                      (double)below[a][7] / DAYS, (double)below[a][9] / DAYS,
                      (double)far_below[a] / DAYS);
        for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
            assert_near((double)below[a][j] / DAYS, (j + 0.5) / 10.0, 0.04);
        }
        assert_true((double)far_below[a] / DAYS < 0.04);
    }
}

static void test_damage_is_refused(void **state)
{
    (void)state;
    struct clearness good;
    clearness_open(&good, 10.0);
    assert_true(clearness_is_sane(&good));
    struct clearness bad[7] = {good, good, good, good, good, good, good};
    bad[0].daylight_mol = (double)NAN;
    bad[1].clear_mol = -1.0;
    bad[2].clear_day_mol = (double)INFINITY;
    bad[3].row_next = CLEARNESS_ROWS + 1;
    bad[4].row_next = -1;
    bad[5].row_prediction[19] = (float)NAN;
    bad[6].row_clear[0] = -1.0F;
    for (size_t i = 0; i < 7; i++) {
        assert_false(clearness_is_sane(&bad[i]));
    }
}

/* A tenth of the day's sun has to be past, and a tenth of that not to have come. */
static void test_a_dark_day_is_seen(void **state)
{
    (void)state;
    static const struct {
        double daylight_mol, clear_mol;
        bool is_dark;
    } cases[] = {{0, 0, false},     {0, 0.99, false},   {0, 1.01, true}, {0.12, 1.01, false},
                 {0.48, 5.0, true}, {0.52, 5.0, false}, {0, 8.9, true},  {0, 9.1, false}};
    struct learned learned;
    learned_init(&learned);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct clearness today;
        struct scenarios may;
        clearness_open(&today, 10.0);
        bring(&today, &learned, cases[i].daylight_mol, cases[i].clear_mol);
        clearness_scenarios(&today, &learned, &may);
        assert_int_equal(may.is_dark, cases[i].is_dark);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_before_the_day),
        cmocka_unit_test(test_at_half),
        cmocka_unit_test(test_rows_and_limits),
        cmocka_unit_test(test_a_day_teaches),
        cmocka_unit_test(test_long_steps),
        cmocka_unit_test(test_a_rest_too_small),
        cmocka_unit_test(test_broken_days_teach_nothing),
        cmocka_unit_test(test_unknown_daylight),
        cmocka_unit_test(test_no_sun),
        cmocka_unit_test(test_own_residuals),
        cmocka_unit_test(test_learns_to_be_calibrated),
        cmocka_unit_test(test_damage_is_refused),
        cmocka_unit_test(test_a_dark_day_is_seen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
