/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"
#include "prng.h"
#include "stage.h"

#include <limits.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const double ANY_STEP = (double)INFINITY;

/* Cuttings: about 5 mol while callusing (7 days), 10 mol and more while rooting, then until further
 * notice. */
static const struct stage cuttings[] = {
    {.name = "callus", .days = 7, .target_mol = 5.0},
    {.name = "root", .days = 14, .target_mol = 10.0},
    {.name = "grow", .days = 0, .target_mol = 14.0},
};

static void test_phases(void **state)
{
    (void)state;
    static const struct {
        int count, day;
        enum stage_phase phase;
        int index, nth;
        double target_mol;
    } cases[] = {
        {3, 90, STAGE_WAITING, -1, 10, 0.0},  {3, 99, STAGE_WAITING, -1, 1, 0.0},
        {3, 100, STAGE_RUNNING, 0, 1, 5.0},   {3, 106, STAGE_RUNNING, 0, 7, 5.0},
        {3, 107, STAGE_RUNNING, 1, 1, 10.0},  {3, 120, STAGE_RUNNING, 1, 14, 10.0},
        {3, 121, STAGE_RUNNING, 2, 1, 14.0},  {3, 7421, STAGE_RUNNING, 2, 7301, 14.0},
        {2, 120, STAGE_RUNNING, 1, 14, 10.0}, {2, 121, STAGE_OVER, -1, 1, 0.0},
        {2, 130, STAGE_OVER, -1, 10, 0.0},    {0, 99, STAGE_WAITING, -1, 1, 0.0},
        {0, 100, STAGE_OVER, -1, 1, 0.0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct stage_today today = stage_of(cuttings, cases[i].count, 100, ANY_STEP, cases[i].day);
        assert_int_equal(today.phase, cases[i].phase);
        assert_int_equal(today.index, cases[i].index);
        assert_int_equal(today.day, cases[i].nth);
        assert_near(today.target_mol, cases[i].target_mol, 0.0);
    }
}

static void test_acclimation_by_hand(void **state)
{
    (void)state;
    /* 5 mol; then +2 a day towards 10, reached on the third day; then 12, 14. */
    static const double targets[] = {5, 7, 9, 10, 10};
    for (int i = 0; i < 5; i++) {
        assert_near(stage_of(cuttings, 3, 0, 2.0, 6 + i).target_mol, targets[i], 1e-12);
    }
    assert_near(stage_of(cuttings, 3, 0, 2.0, 21).target_mol, 12.0, 1e-12);
    assert_near(stage_of(cuttings, 3, 0, 2.0, 22).target_mol, 14.0, 1e-12);
    assert_near(stage_of(cuttings, 3, 0, 0.0, 5000).target_mol, 5.0, 0.0);
    /* A stage too short to reach its own target hands on what it reached. */
    static const struct stage quick[] = {{.days = 2, .target_mol = 4.0},
                                         {.days = 3, .target_mol = 20.0},
                                         {.days = 2, .target_mol = 2.0}};
    static const double steps[] = {4, 4, 5, 6, 7, 6, 5};
    for (int i = 0; i < 7; i++) {
        assert_near(stage_of(quick, 3, 0, 1.0, i).target_mol, steps[i], 1e-12);
    }
}

static void test_far_dates(void **state)
{
    (void)state;
    assert_int_equal(stage_of(cuttings, 3, INT64_C(5000000000), 1.0, 0).day, INT_MAX);
    assert_int_equal(stage_of(cuttings, 3, INT64_C(-5000000000), 1.0, 0).day, INT_MAX);
    assert_int_equal(stage_of(cuttings, 2, INT64_C(-5000000000), 1.0, 0).day, INT_MAX);
}

/* Day by day, as the rule is written. */
struct walk {
    int index, nth;
    double target_mol;
};

static struct walk walk_to(const struct stage *stages, int count, double step, int days)
{
    struct walk at = {0, 1, stages[0].target_mol};
    for (int day = 1; day <= days; day++) {
        at.nth++;
        if (at.index < count && stages[at.index].days > 0 && at.nth > stages[at.index].days) {
            at.index++;
            at.nth = 1;
        }
        if (at.index < count) {
            double move = stages[at.index].target_mol - at.target_mol;
            at.target_mol += fmax(-step, fmin(step, move));
        }
    }
    return at;
}

static void test_against_the_day_by_day_walk(void **state)
{
    (void)state;
    struct prng prng = prng_start("stage");
    for (int i = 0; i < 3000; i++) {
        struct stage stages[6] = {0};
        int count = (int)prng_int(&prng, 1, 6);
        for (int k = 0; k < count; k++) {
            stages[k].days = (int32_t)prng_int(&prng, 1, 30);
            stages[k].target_mol = prng_real(&prng, 0.5, 80.0);
        }
        if (prng_int(&prng, 0, 1)) {
            stages[count - 1].days = 0;
        }
        double step = prng_int(&prng, 0, 4) ? prng_real(&prng, 0.0, 5.0) : ANY_STEP;
        int64_t first = prng_int(&prng, -20000, 20000);
        int days = (int)prng_int(&prng, 0, 200);
        struct stage_today today = stage_of(stages, count, first, step, first + days);
        struct walk walk = walk_to(stages, count, step, days);
        assert_int_equal(today.day, walk.nth);
        if (walk.index == count) {
            assert_int_equal(today.phase, STAGE_OVER);
            continue;
        }
        assert_int_equal(today.phase, STAGE_RUNNING);
        assert_int_equal(today.index, walk.index);
        assert_near(today.target_mol, walk.target_mol, 1e-9);
        if (days > 0) {
            double before = stage_of(stages, count, first, step, first + days - 1).target_mol;
            assert_true(fabs(today.target_mol - before) <= step + 1e-9);
        }
    }
}

static void test_a_surplus_is_carried(void **state)
{
    (void)state;
    static const struct {
        double most_mol, target_mol, surplus_mol, carried_mol;
    } cases[] = {
        {2, 13, 1.2, 1.2}, {2, 13, 5, 2}, {2, 13, 0, 0},           {2, 13, -3, 0}, {0, 13, 5, 0},
        {10, 13, 9, 6.5},  {2, 13, 2, 2}, {2, 13, (double)NAN, 0}, {2, 0, 5, 0},   {2, 13, 0.04, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const struct stage stage = {.target_mol = 13, .carry_over_mol = cases[i].most_mol};
        assert_near(stage_carried_mol(&stage, cases[i].target_mol, cases[i].surplus_mol),
                    cases[i].carried_mol, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_phases),
        cmocka_unit_test(test_acclimation_by_hand),
        cmocka_unit_test(test_far_dates),
        cmocka_unit_test(test_against_the_day_by_day_walk),
        cmocka_unit_test(test_a_surplus_is_carried),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
