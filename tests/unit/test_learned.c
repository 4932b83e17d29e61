/* SPDX-License-Identifier: Apache-2.0 */
#include "learned.h"
#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void test_at_first(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    assert_true(learned_is_sane(&learned));
    assert_near(learned_mean(&learned), 0.6, 1e-12);
    assert_near((double)learned.yesterday, 0.6, 1e-7);
    for (int hour = 0; hour < 24; hour++) {
        assert_near((double)learned.heat_cap[hour], 1.0, 0.0);
    }
    for (int row = 0; row < CLEARNESS_ROWS; row++) {
        double ret[CLEARNESS_SCENARIOS] = {42.0};
        assert_false(learned_residuals(&learned, row, ret));
        assert_near(ret[0], 42.0, 0.0);
    }
}

/* Thirty days are kept: after 40 with k = day / 100 the mean is that of the days 10 to 39. */
static void test_mean_of_days(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    learned_push_day(&learned, 0.2);
    learned_push_day(&learned, 0.4);
    learned_push_day(&learned, 0.9);
    assert_near(learned_mean(&learned), 0.5, 1e-7);
    assert_near((double)learned.yesterday, 0.9, 1e-7);
    learned_init(&learned);
    for (int day = 0; day < 40; day++) {
        learned_push_day(&learned, day / 100.0);
        assert_true(learned_is_sane(&learned));
    }
    assert_int_equal(learned.day_count, CLEARNESS_DAYS);
    assert_near(learned_mean(&learned), 0.245, 1e-7);
    assert_near((double)learned.yesterday, 0.39, 1e-7);
}

/* n values 0.00, 0.01 … in any order: position n (j + 1/2) / 10 − 1/2, so 2 j + 1/2 of 20 and
 * 6 j + 5/2 of 60. */
static void test_quantiles_by_hand(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    double ret[CLEARNESS_SCENARIOS];
    for (int i = 0; i < 60; i++) {
        learned_push_residual(&learned, 3, (i < 20 ? 7 * i % 20 : 79 - i) / 100.0);
        assert_int_equal(learned_residuals(&learned, 3, ret), i >= 19);
        if (i == 19 || i == 59) {
            for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
                double position = i == 19 ? 2.0 * j + 0.5 : 6.0 * j + 2.5;
                assert_near(ret[j], position / 100.0, 1e-7);
            }
        }
    }
    assert_int_equal(learned.residual_count[3], 60);
    assert_int_equal(learned.residual_count[2], 0);
    assert_int_equal(learned.residual_count[4], 0);
}

static int by_size(const void *left, const void *right)
{
    double a = *(const double *)left;
    double b = *(const double *)right;
    return (a > b) - (a < b);
}

/* Against the library's sort and the quantile written another way: the weighted neighbours of
 * rank r = n q + 1/2, counted from 1 (Hazen 1914; type 5 of Hyndman & Fan 1996). */
static void test_quantiles_of_random_rings(void **state)
{
    (void)state;
    struct prng prng = prng_start("learned_quantiles");
    for (int round = 0; round < 300; round++) {
        struct learned learned;
        learned_init(&learned);
        int row = (int)prng_int(&prng, 0, CLEARNESS_ROWS - 1);
        int pushed = (int)prng_int(&prng, 20, 200);
        double all[200];
        for (int i = 0; i < pushed; i++) {
            all[i] = prng_real(&prng, -0.5, 0.5);
            learned_push_residual(&learned, row, all[i]);
        }
        assert_true(learned_is_sane(&learned));
        int kept = pushed < CLEARNESS_RING ? pushed : CLEARNESS_RING;
        double *last = all + (pushed - kept);
        qsort(last, (size_t)kept, sizeof last[0], by_size);
        double ret[CLEARNESS_SCENARIOS];
        assert_true(learned_residuals(&learned, row, ret));
        for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
            double rank = kept * (0.05 + 0.1 * j) + 0.5;
            int lower = (int)floor(rank + 1e-9);
            double share = rank - lower;
            double upper_value = lower < kept ? last[lower] : last[kept - 1];
            assert_near(ret[j], (1.0 - share) * last[lower - 1] + share * upper_value, 1e-7);
        }
    }
}

static void test_limits_what_it_keeps(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    learned_push_day(&learned, (double)NAN);
    learned_push_residual(&learned, 0, (double)NAN);
    assert_int_equal(learned.day_count, 0);
    assert_int_equal(learned.residual_count[0], 0);
    learned_push_day(&learned, (double)INFINITY);
    learned_push_residual(&learned, 0, 1e30);
    learned_push_residual(&learned, 0, -1e30);
    assert_true(learned_is_sane(&learned));
    assert_near((double)learned.yesterday, LEARNED_CLEARNESS_MOST, 0.0);
    assert_near((double)learned.residual[0][1], -LEARNED_CLEARNESS_MOST, 0.0);
    learned_push_day(&learned, -0.3);
    assert_near((double)learned.yesterday, 0.0, 0.0);
}

static struct learned_hours hours_of(double evening_cap, double evening_level)
{
    struct learned_hours day = {0};
    for (int hour = 6; hour < 24; hour++) {
        day.asked_s[hour] = 3000;
        day.cap_s[hour] = 3000 * (hour < 16 ? 1 : evening_cap);
        day.highest_level[hour] = hour < 16 ? 1 : evening_level;
    }
    return day;
}

/* Half the heat capacity in the evening counts at once, and is forgotten by a fifth a day. */
static void test_heat_is_learned_at_once(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct learned_hours day = hours_of(0.5, 0.5);
    learned_heat(&learned, &day);
    assert_near((double)learned.heat_cap[18], 0.5, 1e-6);
    assert_near((double)learned.heat_cap[10], 1.0, 0.0);
    assert_near((double)learned.heat_cap[3], 1.0, 0.0);
    day = hours_of(1, 1);
    for (int n = 1; n <= 30; n++) {
        learned_heat(&learned, &day);
        assert_near((double)learned.heat_cap[18], 1.0 - 0.5 * pow(0.8, n), 1e-6);
    }
    assert_true(learned_is_sane(&learned));
}

/* A lamp at three tenths under a cap of 0.9 shows that full light would leave something between;
 * one that was not asked, or only for minutes, shows nothing. */
static void test_a_dim_lamp_shows_little(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct learned_hours day = hours_of(0.5, 0.5);
    learned_heat(&learned, &day);
    day = hours_of(0.9, 0.3);
    for (int n = 0; n < 60; n++) {
        learned_heat(&learned, &day);
    }
    assert_near((double)learned.heat_cap[18], 0.6, 1e-3);
    day = hours_of(0.9, 0.05);
    learned_heat(&learned, &day);
    assert_near((double)learned.heat_cap[18], 0.6, 1e-3);
    day = hours_of(0, 0);
    for (int hour = 0; hour < 24; hour++) {
        day.asked_s[hour] = hour % 2 ? 0 : 300;
    }
    learned_heat(&learned, &day);
    assert_near((double)learned.heat_cap[18], 0.6, 1e-3);
    assert_near((double)learned.heat_cap[19], 0.6, 1e-3);
}

/* Each damage alone, to an empty learner and to a full one. */
static void test_damage_is_refused(void **state)
{
    (void)state;
    for (int is_full = 0; is_full < 2; is_full++) {
        struct learned good;
        learned_init(&good);
        for (int day = 0; day < (is_full ? 100 : 0); day++) {
            learned_push_day(&good, 0.5);
            for (int row = 0; row < CLEARNESS_ROWS; row++) {
                learned_push_residual(&good, row, 0.1);
            }
        }
        static const float bad_values[] = {(float)NAN, (float)INFINITY, -1e10F, 1e10F};
        for (size_t v = 0; v < sizeof bad_values / sizeof bad_values[0]; v++) {
            struct learned bad[4] = {good, good, good, good};
            bad[0].residual[7][59] = bad_values[v];
            bad[1].day[29] = bad_values[v];
            bad[2].yesterday = bad_values[v];
            bad[3].heat_cap[23] = bad_values[v];
            for (size_t i = 0; i < 4; i++) {
                assert_false(learned_is_sane(&bad[i]));
            }
        }
        static const int bad_counts[] = {-1, 61, INT32_MAX, INT32_MIN};
        for (size_t v = 0; v < sizeof bad_counts / sizeof bad_counts[0]; v++) {
            struct learned bad[4] = {good, good, good, good};
            bad[0].residual_count[19] = bad_counts[v];
            bad[1].residual_next[0] = bad_counts[v];
            bad[2].day_count = bad_counts[v];
            bad[3].day_next = bad_counts[v];
            for (size_t i = 0; i < 4; i++) {
                assert_false(learned_is_sane(&bad[i]));
            }
        }
        struct learned bad[2] = {good, good};
        bad[0].residual_next[4] = CLEARNESS_RING;
        bad[1].residual_count[4] = 5; /* but the next is not the sixth */
        bad[1].residual_next[4] = 4;
        assert_false(learned_is_sane(&bad[0]));
        assert_false(learned_is_sane(&bad[1]));
        assert_true(learned_is_sane(&good));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_at_first),
        cmocka_unit_test(test_mean_of_days),
        cmocka_unit_test(test_quantiles_by_hand),
        cmocka_unit_test(test_quantiles_of_random_rings),
        cmocka_unit_test(test_limits_what_it_keeps),
        cmocka_unit_test(test_heat_is_learned_at_once),
        cmocka_unit_test(test_a_dim_lamp_shows_little),
        cmocka_unit_test(test_damage_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
