/* SPDX-License-Identifier: Apache-2.0 */
/* The order of power of the limiters: the smallest level wins, on a tie the stronger rule is named.
 */
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

static struct hand hand_at(double level, bool breaks_night)
{
    return (struct hand){true, level, INT64_MAX, breaks_night};
}

/* Each row makes one more rule speak; the limiter must climb to it although the weaker ones still
 * hold. */
static void stronger_rules_win(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    assert_int_equal(scene.verdict.limiter, LIMITER_PLAN);
    scene.now.hand = hand_at(1, false);
    scene_run(&scene, 100);
    assert_int_equal(scene.verdict.limiter,
                     LIMITER_LIGHT_CEILING); /* a hand does not lift the ceiling */
    scene.now.hand = hand_at(0.3, false);
    scene_run(&scene, 100);
    assert_int_equal(scene.verdict.limiter, LIMITER_BY_HAND);
    assert_near(scene.verdict.level, 0.3, 1e-6);
    scene.now.hand = hand_at(0.9, false);
    scene_heat(&scene, 0, 66);
    scene_run(&scene, 300);
    assert_int_equal(scene.verdict.limiter, LIMITER_HEAT);
    assert_near(scene.verdict.level, 0.4, 0.01); /* 1 − 0.9 (66 − 58)/12 */
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 2);
    assert_int_equal(scene.verdict.limiter, LIMITER_OUTPUT_FAULT);
    assert_false(scene.verdict.fixtures[0].closed);
    scene.now.clock = CLOCK_UNTRUSTED;
    scene_run(&scene, 2);
    assert_int_equal(scene.verdict.limiter, LIMITER_CLOCK_UNTRUSTED);
    scene.now.clock = CLOCK_SYNCHRONISED;
    scene.now.wall_s += 11 * HOUR;
    scene_run(&scene, 2);
    assert_int_equal(scene.verdict.limiter, LIMITER_NIGHT);
}

static void a_hand_does_not_light_the_night_unasked(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 2 * HOUR);
    scene.now.hand = hand_at(0.5, false);
    scene_run(&scene, 200);
    assert_false(scene.verdict.fixtures[0].closed);
    scene.now.hand = hand_at(0.5, true);
    scene_run(&scene, 10);
    assert_true(scene.verdict.fixtures[0].closed);
    assert_int_equal(scene.verdict.limiter, LIMITER_BY_HAND);
    scene.now.hand.is_active = false;
    scene_run(&scene, 1);
    assert_false(scene.verdict.fixtures[0].closed); /* at once: the night outranks minimum times */
}

static bool is_gap(double late_s, double step_s)
{
    scene_begin(&scene, 1, 12 * HOUR);
    scene.now.step_s = step_s;
    scene_run(&scene, 1);
    scene_tick(&scene, late_s);
    return scene_said(&scene, EVENT_GAP);
}

/* The daemon's second is late at ten; a rehearsal that ticks once a minute is not late by that. */
static void a_gap_is_longer_than_the_usual_tick(void **state)
{
    (void)state;
    assert_false(is_gap(10, 0));
    assert_true(is_gap(11, 0));
    assert_true(is_gap(11, 1));
    assert_false(is_gap(60, 60));
    assert_false(is_gap(90, 60));
    assert_true(is_gap(91, 60));
}

/* After a restart the gap is reckoned from the last time that could be believed. */
static void the_last_trusted_time_is_kept(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 10);
    int64_t trusted_s = scene.state.wall_s;
    assert_true(trusted_s == scene.now.wall_s);
    scene.now.clock = CLOCK_UNTRUSTED;
    scene.now.wall_s = 4102444800; /* 2100-01-01 */
    scene_run(&scene, 10);
    assert_true(scene.state.wall_s == trusted_s);
    scene.now.clock = CLOCK_HELD_OVER;
    scene.now.wall_s = trusted_s + 60;
    scene_run(&scene, 1);
    assert_true(scene.state.wall_s == scene.now.wall_s);
}

/* Dawn is a share of the day's level: a quarter of the ramp's light at a quarter of its height. */
static void dawn_and_dusk_are_named(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 6 * HOUR - 100);
    scene.sim.stages[0].ramp = (struct ramp){RAMP_LINEAR, 1800, 1800};
    scene_run(&scene, 100 + 900);
    assert_int_equal(scene.verdict.limiter, LIMITER_DAWN);
    assert_near(scene.verdict.level, scene.verdict.planned_level / 2, 0.01);
    scene.now.wall_s += 15 * HOUR; /* 21:15 + */
    scene_run(&scene, 30 * 60);
    assert_int_equal(scene.verdict.limiter, LIMITER_DUSK);
}

static void the_last_seconds_are_at_minimum(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.sim.stages[0].ramp = (struct ramp){RAMP_LINEAR, 0, 0};
    scene_run(&scene, 200);
    scene.now.wall_s += 10 * HOUR - 210; /* 21:59:50 */
    scene_run(&scene, 6);
    assert_true(scene.verdict.level > 0.3);
    scene_run(&scene, 3);
    assert_near(scene.verdict.level, dimcurve_min_level(&scene.sim.rules[0].curve), 1e-9);
    scene_run(&scene, 1);
    assert_false(scene.verdict.fixtures[0].closed);
    assert_int_equal(scene.verdict.fixtures[0].drive, 0);
}

/* Indoors the day keeps its length after the target; under the sun the lamp goes out. */
static void target_met(void **state)
{
    (void)state;
    for (int sun = 0; sun < 2; sun++) {
        scene_begin(&scene, 1, 12 * HOUR);
        scene.sim.space.rules.sees_daylight = sun;
        scene_run(&scene, 200);
        scene.state.integral.lamp_mol = 14;
        scene_run(&scene, 100);
        assert_int_equal(scene.verdict.limiter, LIMITER_TARGET_MET);
        assert_int_equal(scene.verdict.fixtures[0].closed, !sun);
    }
}

static void a_lost_sensor_fixes_the_level(void **state)
{
    (void)state;
    scene_begin(&scene, 1,
                14 * HOUR); /* started late: the plan wants more than the timer's level */
    scene_run(&scene, 200);
    const double planned = scene.verdict.level;
    scene_ppfd(&scene, (double)NAN);
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_SENSOR_LOST));
    scene_run(&scene, 100);
    assert_int_equal(scene.verdict.limiter, LIMITER_SENSOR_LOST);
    assert_true(scene.verdict.level < planned);
    /* 13 mol over 16 h less one ramp of 0.5 h */
    assert_near(scene.verdict.level * 420, 13 / (15.5 * 0.0036), 0.5);
}

/* A window of 24 h has no edges and so no ramps: 13 mol over the whole day. */
static void a_lost_sensor_under_light_without_end(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 14 * HOUR);
    scene.sim.stages[0].window.length_s = 24 * 3600;
    scene.sim.stages[0].protects_night = false;
    scene_run(&scene, 200);
    scene_ppfd(&scene, (double)NAN);
    scene_run(&scene, 101);
    assert_int_equal(scene.verdict.limiter, LIMITER_SENSOR_LOST);
    assert_near(scene.verdict.level * 420, 13e6 / 86400, 0.5);
}

static void nothing_is_lit_before_the_first_stage(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.sim.space.rules.first_day = SIM_DAY + 3;
    scene_run(&scene, 100);
    assert_int_equal(scene.verdict.stage.phase, STAGE_WAITING);
    assert_int_equal(scene.verdict.limiter, LIMITER_NIGHT);
    assert_false(scene.verdict.fixtures[0].closed);
}

static void every_event_has_a_name(void **state)
{
    (void)state;
    for (int i = 0; i < EVENT_KIND_COUNT; i++) {
        assert_non_null(decide_event_name((enum core_event)i));
    }
    assert_string_equal(decide_event_name(EVENT_KIND_COUNT), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stronger_rules_win),
        cmocka_unit_test(a_hand_does_not_light_the_night_unasked),
        cmocka_unit_test(a_gap_is_longer_than_the_usual_tick),
        cmocka_unit_test(the_last_trusted_time_is_kept),
        cmocka_unit_test(dawn_and_dusk_are_named),
        cmocka_unit_test(the_last_seconds_are_at_minimum),
        cmocka_unit_test(target_met),
        cmocka_unit_test(a_lost_sensor_fixes_the_level),
        cmocka_unit_test(a_lost_sensor_under_light_without_end),
        cmocka_unit_test(nothing_is_lit_before_the_first_stage),
        cmocka_unit_test(every_event_has_a_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
