/* SPDX-License-Identifier: Apache-2.0 */
/* What a light day can come to, and when it is said that this is too little. */
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

static void begin(int64_t second, double target_mol)
{
    scene_begin(&scene, 1, second);
    scene.sim.stages[0].target_mol = target_mol;
    scene.sim.rules[0].ceiling.drive_max = 1;
    space_init(&scene.state, &scene.sim.space.rules);
}

/* 400 µmol, the ceiling, for 16 h less one ramp of half an hour: 22.32 mol. */
static void the_parts_of_a_dark_room(void **state)
{
    (void)state;
    begin(0, 24);
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
    const struct reach *reach = &scene.verdict.events[scene.verdict.event_count - 1].reach;
    assert_near(reach->target_mol, 24, 0);
    assert_near(reach->reach_mol, 400 * 15.5 * 0.0036, 1e-6);
    assert_true(reach->is_short && reach->is_whole && reach->by_ceiling);
    assert_near(reach->left_h, 16, 1e-9);
    assert_near(reach->light_umol, 400, 0);
    assert_near(reach->heat_share, 0, 1e-9);
    assert_false(units_known(reach->daylight_mol));
    scene_run(&scene, 900);
    assert_false(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
    assert_true(scene.verdict.reach.is_short); /* for status, all day */
}

/* At midnight the supply's plan is still that of the day before, of which nothing is left. */
static void the_plan_of_yesterday_says_nothing(void **state)
{
    (void)state;
    begin(0, 20);
    struct allotment *power = &scene.now.power;
    *power = (struct allotment){.is_shared = true, .budget_w = (double)INFINITY, .count = 1};
    power->light_day = lightday_of(&scene.sim.space.rules.day, scene.now.wall_s) - 1;
    scene_run(&scene, 10);
    assert_near(scene.verdict.reach.target_mol, 0, 0);
    power->light_day++;
    power->reach_mol = 5;
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
    assert_near(scene.verdict.reach.reach_mol, 5, 1e-6);
}

/* Warm afternoons are known in the morning. */
static void the_usual_heat_is_counted(void **state)
{
    (void)state;
    begin(0, 20);
    for (int hour = 12; hour < 18; hour++) {
        scene.state.learned.heat_cap[hour] = 0.4F;
    }
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
    const double lost = (400 - 0.4 * 420) * 6 * 0.0036;
    assert_near(scene.verdict.reach.reach_mol, 400 * 15.5 * 0.0036 - lost, 1e-5);
    assert_near(scene.verdict.reach.heat_share, lost / (420 * 16 * 0.0036), 1e-5);
}

/* A fault may be mended: it is no verdict on the day until what it took cannot come back. */
static void a_passing_fault_is_no_verdict(void **state)
{
    (void)state;
    begin(8 * HOUR, 13);
    scene_tick(&scene, 1);
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 1800);
    assert_false(scene.verdict.reach.is_short);
    int said = 0;
    for (int i = 0; i < 5 * 400; i++) {
        scene_tick(&scene, 9);
        said += scene_said(&scene, EVENT_TARGET_OUT_OF_REACH);
    }
    assert_int_equal(said, 1);
    assert_false(scene.verdict.reach.is_whole);
    assert_true(scene.verdict.reach.fault_share > 0.02);
}

/* Under a sun of the equinox that does not come out. In the morning the day may still be saved; it
 * is given up before it ends. */
static void a_dark_day_is_given_up_when_no_sky_can_save_it(void **state)
{
    (void)state;
    begin(6 * HOUR, 30);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].ceiling_umol = 2000;
    int64_t said_s = 0;
    for (int i = 0; i < 15 * 400; i++) {
        scene_ppfd(&scene, 20 + 420 * scene.state.fixtures[0].level);
        scene_tick(&scene, 9);
        if (scene_said(&scene, EVENT_TARGET_OUT_OF_REACH)) {
            assert_int_equal(said_s, 0);
            said_s = scene.now.wall_s - lightday_begin(&scene.sim.space.rules.day, SIM_DAY);
        }
    }
    print_message("given up at %.1f h\n", (double)said_s / 3600);
    assert_in_range(said_s, 8 * HOUR, 17 * HOUR);
    assert_true(units_known(scene.verdict.reach.daylight_mol));
}

static void nobody_judges_before_the_sensors_have_answered(void **state)
{
    (void)state;
    begin(0, 24);
    scene.now.inputs_settled = false;
    scene_run(&scene, 5);
    assert_false(scene.verdict.reach.is_short);
    scene.now.inputs_settled = true;
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
}

/* What was said of the old target is no word on the new one; the old one again is said again. */
static void another_target_is_judged_at_once(void **state)
{
    (void)state;
    begin(0, 24);
    scene_tick(&scene, 1);
    assert_true(scene.verdict.reach.is_short);
    scene.sim.stages[0].target_mol = 12;
    space_rerule(&scene.state, &scene.sim.space.rules);
    scene_tick(&scene, 1);
    assert_false(scene.verdict.reach.is_short);
    assert_near(scene.verdict.reach.target_mol, 12, 0);
    scene.sim.stages[0].target_mol = 40;
    space_rerule(&scene.state, &scene.sim.space.rules);
    scene_tick(&scene, 1);
    assert_true(scene.verdict.reach.is_short);
    assert_true(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
    space_rerule(&scene.state, &scene.sim.space.rules); /* the same one is not told twice */
    scene_tick(&scene, 1);
    assert_true(scene.verdict.reach.is_short);
    assert_false(scene_said(&scene, EVENT_TARGET_OUT_OF_REACH));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_parts_of_a_dark_room),
        cmocka_unit_test(the_plan_of_yesterday_says_nothing),
        cmocka_unit_test(the_usual_heat_is_counted),
        cmocka_unit_test(a_passing_fault_is_no_verdict),
        cmocka_unit_test(a_dark_day_is_given_up_when_no_sky_can_save_it),
        cmocka_unit_test(nobody_judges_before_the_sensors_have_answered),
        cmocka_unit_test(another_target_is_judged_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
