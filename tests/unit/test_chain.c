/* SPDX-License-Identifier: Apache-2.0 */
/* What rules allowed, and who wins. That the chain of every tick comes to its verdict is checked in
 * tests/support/sim_day.c. */
#include "chain.h"

#include "near.h"
#include "prng.h"
#include "scene.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void nothing_said_allows_everything(void **state)
{
    (void)state;
    const struct chain_rules none = {0};
    enum limiter limiter = LIMITER_PLAN;
    assert_true(isinf(chain_least(&none, &limiter)));
    assert_int_equal(limiter, LIMITER_COUNT);
    const struct chain_fixture fixture = {.asked = 0.4, .asked_by = LIMITER_DUSK};
    assert_near(chain_may_have(&fixture, &limiter), 0.4, 0);
    assert_int_equal(limiter, LIMITER_DUSK);
}

/* What was not said lies in the array as anything. */
static void only_what_was_said_counts(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 2000; round++) {
        struct chain_rules rules = {0};
        double least = (double)INFINITY;
        int winner = LIMITER_COUNT;
        for (int i = 0; i < LIMITER_COUNT; i++) {
            rules.allowed[i] = -1;
            const double level = floor(prng_real(&prng, 0, 5)) / 4; /* equals are frequent */
            if (prng_real(&prng, 0, 1) < 0.3) {
                chain_say(&rules, (enum limiter)i, level);
                winner = level < least ? i : winner;
                least = fmin(least, level);
            }
            assert_true(chain_has_said(&rules, (enum limiter)i) == (rules.allowed[i] >= 0));
        }
        enum limiter limiter = LIMITER_COUNT;
        assert_true(!(fabs(chain_least(&rules, &limiter) - least) > 0));
        assert_int_equal(limiter, winner);
    }
}

static void of_equals_the_asking_one_wins_but_in_the_dark(void **state)
{
    (void)state;
    struct chain_fixture fixture = {.asked = 0.5, .asked_by = LIMITER_PLAN};
    enum limiter limiter = LIMITER_COUNT;
    chain_say(&fixture.rules, LIMITER_HEAT, 0.5);
    assert_near(chain_may_have(&fixture, &limiter), 0.5, 0);
    assert_int_equal(limiter, LIMITER_PLAN);
    chain_say(&fixture.rules, LIMITER_HEAT, 0.49);
    assert_near(chain_may_have(&fixture, &limiter), 0.49, 0);
    assert_int_equal(limiter, LIMITER_HEAT);
    fixture.asked = 0;
    chain_say(&fixture.rules, LIMITER_OUTPUT_FAULT, 0);
    assert_near(chain_may_have(&fixture, &limiter), 0, 0);
    assert_int_equal(limiter, LIMITER_OUTPUT_FAULT);
    fixture.asked_by = LIMITER_NIGHT; /* stronger than a fault */
    (void)chain_may_have(&fixture, &limiter);
    assert_int_equal(limiter, LIMITER_NIGHT);
}

/* A hot fixture beside a cool one: each has its own chain, the space has one. */
static void each_fixture_has_its_own(void **state)
{
    (void)state;
    struct scene scene;
    scene_begin(&scene, 2, 12 * 3600);
    scene_run(&scene, 1200);
    scene_heat(&scene, 1, 71);
    scene_run(&scene, 300);
    const struct chain *chain = &scene.verdict.chain;
    enum limiter limiter = LIMITER_COUNT;
    assert_int_equal(chain->plan, CHAIN_PLAN_ONE_LEVEL);
    assert_true(isnan(chain->light_price));
    assert_near(chain_least(&chain->rules, &limiter), scene.verdict.asked, 0);
    assert_false(chain_has_said(&chain->fixtures[0].rules, LIMITER_HEAT));
    assert_true(chain_has_said(&chain->fixtures[1].rules, LIMITER_HEAT));
    assert_near(chain->fixtures[1].rules.allowed[LIMITER_HEAT], scene.state.fixtures[1].heat.cap,
                1e-12);
    (void)chain_may_have(&chain->fixtures[1], &limiter);
    assert_int_equal(limiter, LIMITER_HEAT);
    assert_int_equal(chain->fixtures[0].pace, CHAIN_THERE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_said_allows_everything),
        cmocka_unit_test(only_what_was_said_counts),
        cmocka_unit_test(of_equals_the_asking_one_wins_but_in_the_dark),
        cmocka_unit_test(each_fixture_has_its_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
