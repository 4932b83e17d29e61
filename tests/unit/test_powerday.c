/* SPDX-License-Identifier: Apache-2.0 */
/* Small days by hand; test_powerday_glpk.c has the random ones. */
#include "near.h"
#include "plan_case.h"
#include "powerday.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define SPACES 2

struct bed {
    struct powerday day;
    struct powerday_space space[SPACES];
    struct powerday_cell cell[SPACES][POWERDAY_SLOTS_MAX];
    struct lampcurve lamp;
    struct powercurve curve;
};

/* Two spaces alike, 4 h at 0.10 and 4 h at 0.30; a lamp of 600 W gives 14.4 mol in 8 h of 500 µmol.
 */
static void make_bed(struct bed *bed, double need_mol)
{
    const struct plan_case_lamp droop = {
        .full_w = 600, .min_level = 0.1, .p0 = 0.03, .p1 = 0.82, .p2 = 0.15};
    *bed = (struct bed){.day = {.limit = {(double)INFINITY, (double)INFINITY, 0},
                                .slot_count = 16,
                                .space_count = SPACES,
                                .space = bed->space,
                                .cell = bed->cell}};
    plan_case_quadratic(&bed->lamp, &droop);
    powercurve_init(&bed->curve, &bed->lamp);
    for (int t = 0; t < 16; t++) {
        bed->day.slot[t] = (struct powerday_slot){.dt_s = 1800, .price_per_kwh = t < 8 ? 0.1 : 0.3};
        for (int s = 0; s < SPACES; s++) {
            bed->cell[s][t] = (struct powerday_cell){1800, 1800, {0.1, 1}};
        }
    }
    for (int s = 0; s < SPACES; s++) {
        bed->space[s] = (struct powerday_space){&bed->curve, 500, need_mol, 2, 0};
    }
    powerday_begin(&bed->day, false);
}

static double watts_in(const struct bed *bed, int slot)
{
    double sum = 0;
    for (int s = 0; s < bed->day.space_count; s++) {
        const struct power_user user = powerday_user(&bed->day, s, slot);
        const struct powerday_slot *its = &bed->day.slot[slot];
        sum += powershare_watts(&user, its->price_per_kwh + its->extra_per_kwh, POWERDAY_SPREAD);
    }
    return sum;
}

static void work(struct bed *bed)
{
    int turns = 1;
    while (!powerday_work(&bed->day, 1)) {
        turns++;
        assert_true(turns < 1000);
    }
}

static void one_turn_where_all_fits(void **state)
{
    (void)state;
    struct bed bed;
    make_bed(&bed, 5);
    assert_true(powerday_work(&bed.day, 1));
    for (int t = 0; t < 16; t++) {
        assert_near(bed.day.slot[t].extra_per_kwh, 0, 0);
    }
    assert_near(powerday_supply_mol(&bed.day, 0, NULL), 5, 0.001);
}

/* Without the limit both would burn in the cheap hours; half of it has to move to the dear ones. */
static void the_cheap_hours_are_shared(void **state)
{
    (void)state;
    struct bed bed;
    make_bed(&bed, 6.5);
    bed.day.limit.hard_w = 700;
    work(&bed);
    for (int s = 0; s < SPACES; s++) {
        assert_near(powerday_supply_mol(&bed.day, s, NULL), 6.5, 0.01);
    }
    for (int t = 0; t < 16; t++) {
        assert_true(watts_in(&bed, t) <= 700);
    }
    assert_near(watts_in(&bed, 0), 700, 0.1);
    assert_true(watts_in(&bed, 12) > 200);
    assert_near(bed.day.slot[0].extra_per_kwh, 0.2, 0.03);
    assert_near(bed.day.slot[12].extra_per_kwh, 0, 0);
}

/* 2 × 14 mol do not go through 700 W: everyone gives all there is, to each his half. */
static void what_cannot_be_is_shared_alike(void **state)
{
    (void)state;
    struct bed bed;
    make_bed(&bed, 14);
    bed.day.limit.hard_w = 700;
    work(&bed);
    assert_near(bed.space[0].light_price, 2, 0);
    assert_near(powerday_supply_mol(&bed.day, 0, NULL), powerday_supply_mol(&bed.day, 1, NULL),
                0.01);
    for (int t = 0; t < 16; t++) {
        assert_near(watts_in(&bed, t), 700, 0.1);
    }
}

/* A day that was short leaves nothing behind in one that has all it wants. */
static void another_day_begins_afresh(void **state)
{
    (void)state;
    struct bed fresh;
    struct bed bed;
    make_bed(&fresh, 5);
    assert_true(powerday_work(&fresh.day, 1));
    make_bed(&bed, 14);
    bed.day.limit.hard_w = 700;
    work(&bed);
    assert_true(bed.day.slot[0].extra_per_kwh > 0.1);
    bed.day.limit.hard_w = (double)INFINITY;
    bed.space[0].need_mol = bed.space[1].need_mol = 5;
    powerday_begin(&bed.day, false);
    assert_true(powerday_work(&bed.day, 1));
    assert_near(bed.space[0].light_price, fresh.space[0].light_price, 1e-4);
    assert_near(powerday_supply_mol(&bed.day, 0, NULL), 5, 0.001);
}

static void nothing_is_needed(void **state)
{
    (void)state;
    struct bed bed;
    make_bed(&bed, -1);
    bed.day.limit.hard_w = 300;
    work(&bed);
    assert_near(bed.space[0].light_price, 0, 0);
    assert_near(watts_in(&bed, 0), 2 * lampcurve_watts(&bed.lamp, 0.1), 1e-9);
    bed.day.slot_count = 0;
    powerday_begin(&bed.day, false);
    assert_true(powerday_work(&bed.day, 1));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_turn_where_all_fits),
        cmocka_unit_test(the_cheap_hours_are_shared),
        cmocka_unit_test(what_cannot_be_is_shared_alike),
        cmocka_unit_test(another_day_begins_afresh),
        cmocka_unit_test(nothing_is_needed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
