/* SPDX-License-Identifier: Apache-2.0 */
/* Shares of lamp and daylight, the lamp's gain, the guarded night, the sensor's loss. */
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

/* 420 µmol at level 1: the reading beyond the lamp's share is the sun's. */
static void the_sun_is_what_the_lamp_does_not_give(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    scene_run(&scene, 200);
    const double lamp = 420 * scene.state.fixtures[0].level;
    scene_ppfd(&scene, lamp + 150);
    scene_tick(&scene, 1);
    assert_near(scene.verdict.daylight_umol, 150, 1);
    assert_near(scene.verdict.lamp_umol, lamp, 1);
    scene_ppfd(&scene, (double)NAN); /* the sun is held for a while, then no longer guessed */
    scene_tick(&scene, 1);
    assert_near(scene.verdict.daylight_umol, 150, 1);
    assert_false(scene.verdict.light_is_measured);
    scene_run(&scene, 301);
    assert_near(scene.verdict.daylight_umol, 0, 1e-12);
}

/* A lamp that gives nine tenths of its promise: the plan asks for a ninth more within the hour. */
static void an_aged_lamp_is_noticed(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 8 * HOUR);
    scene_run(&scene, 300);
    for (int i = 0; i < 3600; i++) {
        scene_ppfd(&scene, 0.9 * 420 * scene.state.fixtures[0].level);
        scene_tick(&scene, 1);
    }
    assert_near(scene.state.light_gain, 0.9, 0.01);
    assert_near(scene.verdict.full_umol, 0.9 * 420, 5);
}

/* A lamp of nine tenths under glass at 52° north on New Year's Day, by hand at its half for an hour
 * from `second` on. */
static double gain_under_glass(int64_t second, bool has_place, double daylight_umol)
{
    scene_begin(&scene, 1, second);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.space.rules.sun = (struct sun_site){has_place, 52, 13, 3600, 0.6};
    scene.now.hand = (struct hand){true, 0.5, INT64_MAX, false};
    scene_run(&scene, 300);
    for (int i = 0; i < 3600; i++) {
        scene_ppfd(&scene, 0.9 * 420 * scene.state.fixtures[0].level + daylight_umol);
        scene_tick(&scene, 1);
    }
    return scene.state.light_gain;
}

/* Under glass the lamp is alone when the sun is down, and only then: not by day, not at dusk (the
 * sun sets at about 16:05 there), not where nobody knows where the sun is. */
static void an_aged_lamp_is_noticed_in_the_dark(void **state)
{
    (void)state;
    assert_near(gain_under_glass(19 * HOUR, true, 0), 0.9, 0.01);
    assert_near(scene.verdict.daylight_umol, 0, 1e-12);
    assert_near(gain_under_glass(12 * HOUR, true, 50), 1, 1e-12);
    assert_near(gain_under_glass(15 * HOUR + 1800, true, 5), 1, 1e-12);
    assert_near(gain_under_glass(19 * HOUR, false, 50), 1, 1e-12);
}

static void a_dead_lamp_is_not_an_aged_one(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 8 * HOUR);
    scene.sim.rules[0].has_power = false;
    scene_run(&scene, 300);
    scene_ppfd(&scene, 0);
    scene_run(&scene, 30);
    assert_near(scene.state.light_gain, 1, 1e-3);
    assert_near(scene.verdict.lamp_umol, 0, 1e-12);
}

/* 3 µmol for 1000 s of the night are 3000 µmol m⁻², within the 1000–4000 that keep a chrysanthemum
 * vegetative (high-pressure sodium night-break study, gradient 0.02–3.5 µmol). */
static void the_dose_of_a_night(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 1 * HOUR);
    scene_ppfd(&scene, 0);
    scene_run(&scene, 100);
    scene_ppfd(&scene, 3);
    bool said = false;
    for (int i = 0; i < 1000; i++) {
        scene_tick(&scene, 1);
        said = said || scene_said(&scene, EVENT_NIGHT_BREAK);
    }
    scene_ppfd(&scene, 0);
    scene_run(&scene, 20);
    assert_true(said);
    assert_near(scene.state.night_dose, 3000, 10);
    assert_int_equal(scene.state.night_breaks, 1);
}

/* A sample from before the contact opened must not count as light in the night. */
static void afterglow_is_no_break(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 21 * HOUR);
    scene_run(&scene, 3600 + 100);
    assert_int_equal(scene.state.night_breaks, 0);
    assert_near(scene.state.night_dose, 0, 1e-9);
}

static void a_sensor_comes_and_goes(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.now.inputs_settled = false;
    scene_ppfd(&scene, (double)NAN);
    scene_run(&scene, 5);
    assert_false(scene.state.sensor_is_lost); /* it had no chance yet */
    scene.now.inputs_settled = true;
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_SENSOR_LOST));
    scene_ppfd(&scene, 100);
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_SENSOR_BACK));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_sun_is_what_the_lamp_does_not_give),
        cmocka_unit_test(an_aged_lamp_is_noticed),
        cmocka_unit_test(an_aged_lamp_is_noticed_in_the_dark),
        cmocka_unit_test(a_dead_lamp_is_not_an_aged_one),
        cmocka_unit_test(the_dose_of_a_night),
        cmocka_unit_test(afterglow_is_no_break),
        cmocka_unit_test(a_sensor_comes_and_goes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
