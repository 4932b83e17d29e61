/* SPDX-License-Identifier: Apache-2.0 */
#include "settle.h"

#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>

#include <cmocka.h>

static const struct settle_rules rules = {.least_s = 3, .most_s = 60, .samples = 8};

static void take(struct settle *settle, double taken_s, double umol, double watts)
{
    settle_take(settle, &rules, &(struct settle_sample){taken_s, umol, watts});
}

/* A lamp that creeps to its light with a time constant of 20 s: not before 0.2 % in 7 s are left.
 */
static void waits_for_what_creeps(void **state)
{
    (void)state;
    struct settle settle;
    settle_begin(&settle, 100);
    double steady_s = 0;
    for (int s = 0; s <= 200 && steady_s == 0; s++) {
        take(&settle, 100 + s, 300 * (1 + 0.1 * exp(-s / 20.0)), (double)NAN);
        steady_s = settle_is_steady(&settle, &rules) ? s : 0;
    }
    /* the trend of the last 7 s: 0.1 exp(−s/20) (e^(7/20) − 1) = 0.002 at s = 61 */
    assert_true(steady_s > 50 && steady_s < 75);
}

static void noise_is_no_trend(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    double sum_s = 0;
    for (int round = 0; round < 500; round++) {
        struct settle settle;
        struct settle_mean mean;
        settle_begin(&settle, 0);
        int s = 0;
        while (!settle_is_steady(&settle, &rules)) {
            s++;
            take(&settle, s, 300 + prng_real(&prng, -6, 6), 100 + prng_real(&prng, -1, 1));
            assert_true(s < 40);
        }
        settle_mean_of(&settle, &rules, &mean);
        assert_near(mean.umol, 300, 6);
        assert_near(mean.watts, 100, 1);
        assert_true(mean.spread_umol > 0.5 && mean.spread_umol < 7);
        assert_int_equal(mean.samples, 8);
        sum_s += s;
    }
    assert_true(sum_s / 500 < 12); /* the samples begin at 3 s: ten is the least */
}

static void only_fresh_samples(void **state)
{
    (void)state;
    struct settle settle;
    struct settle_mean mean;
    settle_begin(&settle, 10);
    settle_mean_of(&settle, &rules, &mean);
    assert_int_equal(mean.samples, 0);
    assert_true(isnan(mean.umol));
    take(&settle, 12.9, 50, 1); /* of before it settled */
    take(&settle, 13, 100, 1);
    take(&settle, 13, 100, 1);         /* seen */
    take(&settle, 14, (double)NAN, 1); /* no reading */
    take(&settle, 15, 102, (double)NAN);
    settle_mean_of(&settle, &rules, &mean);
    assert_int_equal(mean.samples, 2);
    assert_near(mean.umol, 101, 1e-12);
    assert_near(mean.spread_umol, sqrt(2), 1e-12);
    assert_true(isnan(mean.watts));
    assert_false(settle_is_steady(&settle, &rules));
    for (int i = 0; i < 100; i++) { /* the oldest are forgotten */
        take(&settle, 20 + i, 200, 5);
    }
    settle_mean_of(&settle, &rules, &mean);
    assert_near(mean.umol, 200, 1e-12);
    assert_near(mean.spread_umol, 0, 1e-12);
    assert_true(settle_is_steady(&settle, &rules));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(waits_for_what_creeps),
        cmocka_unit_test(noise_is_no_trend),
        cmocka_unit_test(only_fresh_samples),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
