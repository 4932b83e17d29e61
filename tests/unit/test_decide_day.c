/* SPDX-License-Identifier: Apache-2.0 */
/* Light days open and close; the account is kept; the summary says what the day came to. */
#include "scene.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct scene scene;

#define HOUR INT64_C(3600)

static void a_day_closes_once(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 24 * HOUR - 5);
    int closed = 0;
    for (int i = 0; i < 20; i++) {
        scene_tick(&scene, 1);
        closed += scene.verdict.day_closed;
    }
    assert_int_equal(closed, 1);
    assert_int_equal(scene.state.light_day, SIM_DAY + 1);
}

static void a_step_back_over_midnight_opens_nothing(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 24 * HOUR - 5);
    scene_run(&scene, 10);
    scene.now.wall_s -= HOUR;
    for (int i = 0; i < 7200; i++) {
        scene_tick(&scene, 1);
        assert_false(scene.verdict.day_closed);
    }
    assert_int_equal(scene.state.light_day, SIM_DAY + 1);
}

/* A new target by a reload in the middle of the day re-opens the difference. */
static void a_new_target_within_the_day(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 1 * HOUR);
    scene_run(&scene, 60);
    scene.sim.stages[0].target_mol = 15;
    scene_run(&scene, 1);
    assert_near(scene.verdict.account.target_mol, 15, 1e-12);
    scene.sim.stages[0].target_mol = 40;
    scene_run(&scene, 1);
    assert_true(account_missing_mol(&scene.verdict.account) > 15);
}

static void the_summary_counts(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 7 * HOUR);
    scene_run(&scene, 3600);
    struct day_summary day;
    decide_summary(&scene.sim.space.rules, &scene.state, &day);
    assert_int_equal(day.light_day, SIM_DAY);
    assert_int_equal(day.stage_day, 1);
    assert_int_equal(day.switch_operations, 2);
    assert_near(day.heatsink_max_c, 40, 1e-9);
    assert_true(day.is_feasible);
    assert_true(day.lights_on_s > 0 && day.lights_off_s == 0);
    assert_near(day.cost, day.energy_kwh * 0.3, 1e-12);
    assert_true(day.energy_kwh > 0.05 && day.energy_kwh < 0.3);
}

/* 30 µmol are less than a lamp of 420 can be dimmed to: the day cannot be met, and says so. */
static void a_ceiling_below_the_lowest_light_leaves_nothing(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 0);
    scene.sim.stages[0].ceiling_umol = 30;
    scene.sim.stages[0].target_mol = 0.5;
    scene_run(&scene, 10);
    struct day_summary day;
    decide_summary(&scene.sim.space.rules, &scene.state, &day);
    assert_false(day.is_feasible);
    assert_near(day.reach_mol, 0, 0);
    assert_near(day.account.missing_mol[LIMITER_LIGHT_CEILING], 0.5, 1e-9);
}

/* Eight hours of 300 µmol leave 100 of the 400 µmol that the stage allows, for 11.52 mol less of
 * the lamp; its 22.32 mol and the sun's 8.64 would be more than any plan can bring. */
static void daylight_fills_the_ceiling(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 0);
    scene.sim.space.rules.sees_daylight = true;
    scene_tick(&scene, 1);
    for (int i = 40; i < 40 + 32; i++) {
        scene.state.daylog.daylight_umol[i] = 300;
    }
    scene.state.integral.daylight_mol = 8 * 300 * 0.0036;
    scene.state.account.target_mol = 25;
    struct day_summary day;
    decide_summary(&scene.sim.space.rules, &scene.state, &day);
    const double lamp_umol = fmin(420 * dimcurve_level(&scene.sim.rules[0].curve, 0.98), 400);
    assert_near(day.reach_mol, (lamp_umol * 15.5 - (lamp_umol - 100) * 8 + 300 * 8) * 0.0036, 0.01);
    assert_false(day.is_feasible);
}

/* 24.192 mol is all that 420 µmol give in 16 h; two ramps of half an hour cost half an hour. */
static void what_is_out_of_reach_is_said_at_the_first_tick(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 0);
    scene.sim.stages[0].target_mol = 30;
    scene.sim.stages[0].ceiling_umol = (double)INFINITY;
    scene.sim.rules[0].ceiling.drive_max = 1;
    scene.state.fixtures[0].ceiling.drive_cap = 1;
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
    const double reach = 420 * (16 - 0.5) * 0.0036;
    assert_near(scene.verdict.account.missing_mol[LIMITER_FULL_LIGHT], 30 - reach, 1e-6);
    scene_run(&scene, 10);
    assert_false(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
}

static void the_last_stage_ends(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 23 * HOUR);
    scene.sim.stages[0].days = 1;
    scene_run(&scene, 3600);
    assert_true(scene_said(&scene, EVENT_STAGES_OVER));
    assert_int_equal(scene.verdict.stage.phase, STAGE_OVER);
    scene.now.wall_s += 12 * HOUR;
    scene_run(&scene, 100);
    assert_false(scene.verdict.fixtures[0].closed);
}

/* Five seconds before midnight the sun has given so much; the next day has begun. */
static void after_a_day_of(double carry_mol, double daylight_mol, double estimated_mol)
{
    scene_begin(&scene, 1, 24 * HOUR - 5);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].carry_over_mol = carry_mol;
    scene_run(&scene, 3);
    scene.state.integral.daylight_mol = daylight_mol;
    scene.state.integral.bridged_mol = estimated_mol;
    scene_run(&scene, 2);
    assert_int_equal(scene.state.light_day, SIM_DAY + 1);
}

static void a_bright_day_lowers_the_next_target(void **state)
{
    (void)state;
    static const struct {
        double carry_mol, daylight_mol, estimated_mol, target_mol;
    } cases[] = {
        {2, 14.2, 0, 11.8}, {2, 30, 0, 11},      {0, 30, 0, 13}, {2, 12, 0, 13},
        {2, 15, 1.5, 12.5}, {2, 14.2, 14.2, 13}, {2, 14, 3, 13},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        after_a_day_of(cases[i].carry_mol, cases[i].daylight_mol, cases[i].estimated_mol);
        assert_near(scene.verdict.account.target_mol, cases[i].target_mol, 1e-9);
        assert_near(scene.verdict.stage.target_mol, cases[i].target_mol, 1e-9);
        assert_int_equal(scene_said(&scene, EVENT_CARRIED_OVER), cases[i].target_mol < 13);
        scene_run(&scene, 5);
        assert_near(scene.verdict.account.target_mol, cases[i].target_mol, 1e-9);
    }
}

/* The surplus is what lies above the whole target, not above the one that was lowered. */
static void a_surplus_is_carried_once(void **state)
{
    (void)state;
    after_a_day_of(2, 15, 0);
    assert_near(scene.verdict.account.target_mol, 11, 1e-9);
    scene.now.wall_s += 24 * HOUR - 4;
    scene.state.integral.daylight_mol = 12.5;
    scene_run(&scene, 5);
    assert_int_equal(scene.state.light_day, SIM_DAY + 2);
    assert_near(scene.verdict.account.target_mol, 13, 1e-9);
}

static void not_from_another_stage_nor_an_unknown_day(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 24 * HOUR - 5);
    scene.sim.stages[0].carry_over_mol = 2;
    scene.sim.stages[1] = scene.sim.stages[0];
    scene.sim.stages[0].days = 1;
    scene.sim.space.rules.stage_count = 2;
    scene_run(&scene, 3);
    scene.state.integral.daylight_mol = 30;
    scene_run(&scene, 5);
    assert_int_equal(scene.verdict.stage.index, 1);
    assert_near(scene.verdict.account.target_mol, 13, 1e-9);

    scene_begin(&scene, 1, 24 * HOUR - 5); /* nobody was there for a whole day */
    scene.sim.stages[0].carry_over_mol = 2;
    scene_run(&scene, 3);
    scene.state.integral.daylight_mol = 30;
    scene.now.wall_s += 24 * HOUR;
    scene_run(&scene, 5);
    assert_near(scene.verdict.account.target_mol, 13, 1e-9);
}

/* Neither a restart nor a step of the clock takes it back; a reload that allows less does. */
static void what_was_carried_stays(void **state)
{
    (void)state;
    after_a_day_of(2, 14.2, 0);
    space_resume(&scene.state, &scene.sim.space.rules);
    scene_run(&scene, 5);
    assert_near(scene.verdict.account.target_mol, 11.8, 1e-9);
    scene.now.wall_s -= 300;
    scene_run(&scene, 600);
    assert_near(scene.verdict.account.target_mol, 11.8, 1e-9);
    scene.sim.stages[0].carry_over_mol = 0.5;
    scene_run(&scene, 1);
    assert_near(scene.verdict.account.target_mol, 12.5, 1e-9);
}

/* 16 h from 06:00 for one day, then 4 h from 09:00 for another one. */
static void the_next_lights_on_is_that_of_the_next_stage(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 22 * HOUR + 1800);
    struct space_rules *rules = &scene.sim.space.rules;
    scene.sim.stages[0].days = 1;
    scene.sim.stages[1] = scene.sim.stages[0];
    scene.sim.stages[1].window = (struct lightday_window){9 * HOUR, 4 * HOUR};
    rules->stage_count = 2;
    scene_tick(&scene, 1);
    assert_false(scene.verdict.place.is_lit);
    const int64_t left_s = lightday_begin(&rules->day, SIM_DAY + 1) + 9 * HOUR - scene.now.wall_s;
    assert_int_equal(scene.verdict.place.until_on_s, left_s);
    const int64_t on_s = lightday_begin(&rules->day, SIM_DAY + 1) + 9 * HOUR;
    assert_int_equal(decide_next_on(rules, on_s - 1), on_s);
    assert_int_equal(decide_next_on(rules, on_s + 60), on_s + 60);
    assert_int_equal(decide_next_on(rules, on_s + 4 * HOUR), -1); /* behind it nothing comes */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_closes_once),
        cmocka_unit_test(a_step_back_over_midnight_opens_nothing),
        cmocka_unit_test(a_new_target_within_the_day),
        cmocka_unit_test(the_summary_counts),
        cmocka_unit_test(a_ceiling_below_the_lowest_light_leaves_nothing),
        cmocka_unit_test(daylight_fills_the_ceiling),
        cmocka_unit_test(what_is_out_of_reach_is_said_at_the_first_tick),
        cmocka_unit_test(the_last_stage_ends),
        cmocka_unit_test(a_bright_day_lowers_the_next_target),
        cmocka_unit_test(a_surplus_is_carried_once),
        cmocka_unit_test(not_from_another_stage_nor_an_unknown_day),
        cmocka_unit_test(what_was_carried_stays),
        cmocka_unit_test(the_next_lights_on_is_that_of_the_next_stage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
