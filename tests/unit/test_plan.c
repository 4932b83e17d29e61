/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The constant-level plan. Outside values: DLI = PPFD × h × 0.0036 (identity, Torres & Lopez,
 * Purdue Extension HO-238-W): 17 mol in 16 h asks for 295.139 µmol, +10 mol in 18 h for 154.321
 * µmol.
 */
#include "plan.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void near(double a, double b, double within)
{
    assert_true(fabs(a - b) <= within);
}

static struct plan_answer ask(const struct plan_source *sources, int count, double need,
                              double hours, double ceiling)
{
    const struct plan_problem problem = {need, hours * 3600, ceiling, sources, count};
    return plan_level(&problem);
}

static void published_levels(void **state)
{
    (void)state;
    const struct plan_source lamp = {420, 1, 0};
    near(ask(&lamp, 1, 17, 16, (double)INFINITY).level * 420, 295.139, 0.001);
    near(ask(&lamp, 1, 10, 18, (double)INFINITY).level * 420, 154.321, 0.001);
}

static void nothing_needed(void **state)
{
    (void)state;
    const struct plan_source lamp = {420, 1, 0};
    assert_true(ask(&lamp, 1, 0, 16, (double)INFINITY).level == 0);
    assert_true(ask(&lamp, 1, -3, 16, (double)INFINITY).level == 0);
    assert_true(ask(&lamp, 1, (double)NAN, 16, (double)INFINITY).level == 0);
}

static void out_of_reach(void **state)
{
    (void)state;
    const struct plan_source lamp = {420, 0.9, 0};
    const struct plan_answer answer = ask(&lamp, 1, 30, 16, (double)INFINITY);
    assert_true(answer.is_full && answer.level == 1);
    near(answer.reach_mol, 420 * 0.9 * 16 * 0.0036, 1e-9);
    const struct plan_answer over = ask(&lamp, 1, 5, 0, (double)INFINITY);
    assert_true(over.is_full && over.reach_mol == 0);
}

static void ceiling_holds(void **state)
{
    (void)state;
    const struct plan_source lamps[] = {{300, 1, 0}, {200, 0.5, 0}};
    const struct plan_answer answer = ask(lamps, 2, 30, 16, 250);
    assert_true(answer.is_full);
    near(plan_umol(lamps, 2, answer.level), 250, 1e-9);
    near(answer.reach_mol, 250 * 16 * 0.0036, 1e-9);
}

static void a_dead_fixture_is_made_up_by_the_others(void **state)
{
    (void)state;
    const struct plan_source lamps[] = {{200, 0, 0}, {200, 1, 0}, {200, 0.4, 0}};
    const struct plan_answer answer = ask(lamps, 3, 10, 12, (double)INFINITY);
    assert_false(answer.is_full);
    near(plan_umol(lamps, 3, answer.level), 10 / (12 * 0.0036), 1e-9);
}

/* 100 µmol that begin at a half and 300 that begin at a tenth: 80 µmol at the least, 100 at a tenth
 * and a bit, and from a half on all 400 rise together. */
static void each_has_its_own_least(void **state)
{
    (void)state;
    const struct plan_source lamps[] = {{100, 1, 0.5}, {300, 0.9, 0.1}};
    near(plan_umol(lamps, 2, 0.1), 80, 1e-9);
    near(plan_umol(lamps, 2, 0), 0, 0);
    near(plan_level_for(lamps, 2, 80), 0.1, 1e-9);
    near(plan_level_for(lamps, 2, 110), 0.2, 1e-9);
    near(plan_level_for(lamps, 2, 200), 0.5, 1e-9);
    near(plan_level_for(lamps, 2, 240), 0.6, 1e-9);
    near(plan_level_for(lamps, 2, 365), 0.95, 1e-9);
    near(plan_level_for(lamps, 2, 371), 1, 0);
    assert_true(plan_level_for(lamps, 2, 79) < 0.1); /* less than they can give */
    near(plan_level_for(lamps, 2, 0), 0, 0);
    near(plan_level_for(lamps, 0, 10), 1, 0);
}

/* Any mix: the level gives just what is needed, or everything there is; monotone in the need. */
static void random_mixes(void **state)
{
    (void)state;
    const unsigned seed = 20261124;
    print_message("seed %u\n", seed);
    srand(seed);
    for (int round = 0; round < 20000; round++) {
        struct plan_source lamps[8];
        const int count = 1 + rand() % 8;
        for (int i = 0; i < count; i++) {
            lamps[i].full_umol = 20 + rand() % 500;
            lamps[i].cap = rand() % 4 == 0 ? 0 : (rand() % 1001) / 1000.0;
            lamps[i].least = 0;
        }
        const double need = (rand() % 3000) / 100.0;
        const double ceiling = rand() % 2 ? (double)INFINITY : 50 + rand() % 900;
        const struct plan_answer answer = ask(lamps, count, need, 14, ceiling);
        const double umol = plan_umol(lamps, count, answer.level);
        assert_true(answer.level >= 0 && answer.level <= 1);
        assert_true(umol <= ceiling + 1e-9);
        near(umol * 14 * 0.0036, answer.is_full ? answer.reach_mol : need, 1e-9);
        assert_true(ask(lamps, count, need + 1, 14, ceiling).level >= answer.level - 1e-12);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_levels),
        cmocka_unit_test(nothing_needed),
        cmocka_unit_test(out_of_reach),
        cmocka_unit_test(ceiling_holds),
        cmocka_unit_test(a_dead_fixture_is_made_up_by_the_others),
        cmocka_unit_test(each_has_its_own_least),
        cmocka_unit_test(random_mixes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
