/* SPDX-License-Identifier: Apache-2.0 */
/* The least PPFD of a stage: when the lamp fills it, how far, and what stands above it. */
#include "scene.h"

#include "near.h"
#include "plan_day.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct scene scene;

#define HOUR INT64_C(3600)

static void begin(int64_t second, double floor_umol)
{
    scene_begin(&scene, 2, second);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].floor_umol = floor_umol;
}

static double lamp_umol(void)
{
    double umol = 0;
    for (int i = 0; i < 2; i++) {
        umol += scene.sim.rules[i].full_umol * scene.state.fixtures[i].level;
    }
    return umol;
}

static void under(double daylight_umol, int minutes)
{
    for (int i = 0; i < 10 * minutes; i++) {
        scene_ppfd(&scene, daylight_umol + lamp_umol());
        scene_tick(&scene, 6);
    }
}

static void fills_what_the_sun_lacks(void **state)
{
    (void)state;
    begin(14 * HOUR, 100);
    scene.sim.stages[0].target_mol = 0.01; /* met at once */
    under(20, 10);
    assert_near(lamp_umol(), 80, 0.5);
    assert_int_equal(scene.verdict.limiter, LIMITER_PLAN);
    under(55, 10);
    assert_near(lamp_umol(), 45, 0.5);
    under(85, 10); /* 15 µmol is less than the lamps can give: their lowest level */
    assert_near(scene.verdict.asked, dimcurve_min_level(&scene.sim.rules[0].curve), 1e-9);
    under(120, 1); /* it has had its run */
    assert_false(scene.verdict.fixtures[0].closed);
    assert_int_equal(scene.verdict.limiter, LIMITER_TARGET_MET);
    under(90, 3); /* a dark one does not wait */
    assert_true(scene.verdict.fixtures[0].closed);
    under(120, 16); /* a bright moment is no reason to open a contact so soon */
    assert_true(scene.verdict.fixtures[0].closed);
    under(120, 2);
    assert_false(scene.verdict.fixtures[0].closed);
}

static void none_by_default(void **state)
{
    (void)state;
    begin(14 * HOUR, 0);
    scene.sim.stages[0].target_mol = 0.01;
    under(0, 10);
    assert_near(lamp_umol(), 0, 1e-9);
    assert_int_equal(scene.state.floor_ns, 0);
}

/* Indoors it goes on above the lowest level when the target is met. */
static void goes_on_after_the_target(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 14 * HOUR);
    scene.sim.stages[0].target_mol = 0.01;
    scene.sim.stages[0].floor_umol = 150;
    scene_run(&scene, 600);
    assert_near(lamp_umol(), 150, 0.5);
    assert_int_equal(scene.verdict.limiter, LIMITER_PLAN);
}

static void keeps_below_ceiling_heat_and_night(void **state)
{
    (void)state;
    begin(14 * HOUR, 300);
    scene.sim.stages[0].target_mol = 0.01;
    scene.sim.stages[0].ceiling_umol = 200; /* refused by the configuration, and never exceeded */
    under(50, 10);
    assert_near(lamp_umol(), 150, 0.5);
    assert_int_equal(scene.verdict.limiter, LIMITER_LIGHT_CEILING);

    begin(14 * HOUR, 300);
    for (int i = 0; i < 2; i++) {
        scene_heat(&scene, i, 68);
    }
    under(0, 10);
    assert_true(lamp_umol() < 150);
    assert_int_equal(scene.verdict.limiter, LIMITER_HEAT);

    begin(22 * HOUR - 60, 300);
    under(0, 3);
    assert_int_equal(scene.verdict.limiter, LIMITER_NIGHT);
    assert_false(scene.verdict.fixtures[0].closed || scene.verdict.fixtures[1].closed);
}

static void keeps_to_dawn_and_dusk(void **state)
{
    (void)state;
    begin(6 * HOUR - 120, 300);
    scene.sim.stages[0].target_mol = 0.01;
    under(0, 2 + 10); /* a third of the dawn: a raised cosine is at a quarter */
    assert_near(lamp_umol(), 0.25 * 420, 5);
    assert_int_equal(scene.verdict.limiter, LIMITER_DAWN);
    under(0, 30);
    assert_near(lamp_umol(), 300, 1);
    begin(21 * HOUR + 1800, 300);
    under(0, 20);
    assert_near(lamp_umol(), 0.25 * 420, 5);
    assert_int_equal(scene.verdict.limiter, LIMITER_DUSK);
}

/* A hand is stronger; a lost sensor is not: nobody sees that the sun fills the floor. */
static void beside_hand_and_lost_sensor(void **state)
{
    (void)state;
    begin(14 * HOUR, 300);
    scene.now.hand = (struct hand){true, 0, INT64_MAX, false};
    under(0, 5);
    assert_near(lamp_umol(), 0, 1e-9);
    scene.now.hand.is_active = false;
    scene.now.ppfd = READING_NONE;
    scene.now.ppfd.quality = READING_LOST;
    for (int i = 0; i < 100; i++) {
        scene_tick(&scene, 6);
    }
    assert_true(scene.state.sensor_is_lost);
    assert_near(lamp_umol(), 300, 1);
}

/* The plan counts on it. */
static void the_plan_knows_it(void **state)
{
    (void)state;
    begin(12 * HOUR, 120);
    struct plan_slots slots;
    const struct space_rules *rules = &scene.sim.space.rules;
    plan_day_slots(rules, &scene.sim.stages[0], &scene.state.learned, 1, scene.now.wall_s, &slots);
    const struct plan_lamp lamp = plan_day_lamp(rules, &scene.sim.stages[0], 420);
    const struct plan_price free_light = {0, 1};
    /* 120 µmol over the 9.75 h that are left, dusk taken off: units alone */
    assert_near(plan_supply_mol(&lamp, &slots, 0, &free_light, NULL), 120 * 9.75 * 3600e-6, 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fills_what_the_sun_lacks),
        cmocka_unit_test(none_by_default),
        cmocka_unit_test(goes_on_after_the_target),
        cmocka_unit_test(keeps_below_ceiling_heat_and_night),
        cmocka_unit_test(keeps_to_dawn_and_dusk),
        cmocka_unit_test(beside_hand_and_lost_sensor),
        cmocka_unit_test(the_plan_knows_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
