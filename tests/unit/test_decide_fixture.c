/* SPDX-License-Identifier: Apache-2.0 */
/* From what is asked to level, drive and contact of one fixture. */
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

static void the_level_moves_at_its_usual_speed(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_tick(&scene, 1);
    double last = 0;
    for (int i = 0; i < 200; i++) {
        scene_tick(&scene, 1);
        const double level = scene.verdict.fixtures[0].level;
        if (last > 0) {
            assert_true(level - last <= 0.01 + 1e-9);
        }
        last = level;
    }
    assert_near(last, scene.verdict.planned_level, 1e-6);
}

/* 30 µmol m⁻² s⁻¹ a minute over two lamps, also where a hand asks; down as fast as ever. */
static void the_stage_says_how_fast_light_rises(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene.sim.stages[0].rise_umol_per_s = 0.5;
    scene_run(&scene, 70);
    assert_true(scene.verdict.fixtures[0].closed && scene.verdict.fixtures[1].closed);
    double last = 420 * scene.verdict.level;
    for (int i = 0; i < 900; i++) {
        scene.now.hand = (struct hand){i > 100, i > 300 && i < 400 ? 0.1 : 0.9, INT64_MAX, false};
        scene_tick(&scene, 1);
        const double umol = 420 * scene.verdict.level;
        assert_true(umol - last <= 0.5 + 1e-9);
        assert_true(last - umol <= 4.2 + 1e-9);
        last = umol;
    }
    assert_true(last > 250);
    scene.sim.stages[0].ceiling_umol = 60;
    scene_tick(&scene, 1);
    assert_near(scene.verdict.level * 420, 60, 1);
    scene.sim.space.rules.rise_per_s = 0.0001; /* the slower of the two counts */
    scene.sim.stages[0].ceiling_umol = 400;
    scene_run(&scene, 100);
    assert_near(scene.verdict.level * 420, 60 + 4.2, 1);
}

static void protection_does_not_wait(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    const double before = scene.verdict.level;
    scene.sim.stages[0].ceiling_umol = 60;
    scene_tick(&scene, 1);
    assert_true(before > 0.5);
    assert_near(scene.verdict.level * 420, 60, 1);
}

/* A closed contact starts at minimum; an open one leaves the dimming line at its safe drive. */
static void contact_and_drive_go_together(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 6 * HOUR - 103); /* long enough for the minimum off time */
    scene.sim.rules[0].safe_drive = 0.02;
    scene_run(&scene, 102);
    assert_false(scene.verdict.fixtures[0].closed);
    assert_near(scene.verdict.fixtures[0].drive, 0.02, 1e-12);
    scene_run(&scene, 1);
    assert_true(scene.verdict.fixtures[0].closed);
    assert_near(scene.verdict.fixtures[0].drive, dimcurve_min_drive(&scene.sim.rules[0].curve),
                1e-9);
}

static void no_closing_without_leave(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.now.may_close = false;
    scene_run(&scene, 100);
    assert_false(scene.verdict.fixtures[0].closed);
    scene.now.may_close = true;
    scene_tick(&scene, 1);
    assert_true(scene.verdict.fixtures[0].closed);
}

/* What the night would end before its minimum time on is not begun; a person may. */
static void no_closing_just_before_the_night(void **state)
{
    (void)state;
    static const struct {
        int64_t before_night_s;
        bool by_hand, closes;
    } cases[] = {{50, false, false}, {70, false, true}, {50, true, true}};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        scene_begin(&scene, 1, 22 * HOUR - 62 - cases[c].before_night_s);
        scene.sim.stages[0].ramp.dusk_s = 0;
        scene.now.hand = (struct hand){cases[c].by_hand, 0.5, INT64_MAX, false};
        bool closed = false;
        for (int i = 0; i < 60 + cases[c].before_night_s; i++) {
            scene_tick(&scene, 1);
            closed = closed || scene.verdict.fixtures[0].closed;
        }
        assert_int_equal(closed, cases[c].closes);
    }
}

/* Inrush adds up on a shared breaker: contacts close one after the other. */
static void one_contact_a_tick(void **state)
{
    (void)state;
    scene_begin(&scene, 4, 6 * HOUR - 103);
    int most = 0;
    int closed = 0;
    for (int i = 0; i < 200; i++) {
        scene_tick(&scene, 1);
        int now = 0;
        for (int k = 0; k < 4; k++) {
            now += scene.verdict.fixtures[k].closed;
        }
        most = now - closed > most ? now - closed : most;
        closed = now;
    }
    assert_int_equal(most, 1);
    assert_int_equal(closed, 4);
}

/* The device held the contact closed while the daemon was gone, and opened it only at the restart.
 */
static void absence_is_no_rest(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    assert_true(scene.verdict.fixtures[0].closed);
    space_resume(&scene.state, &scene.sim.space.rules);
    scene_tick(&scene, 500);
    for (int second = 1; second < 60; second++) {
        assert_false(scene.verdict.fixtures[0].closed);
        scene_tick(&scene, 1);
    }
    scene_run(&scene, 1);
    assert_true(scene.verdict.fixtures[0].closed);
}

/* What an output that does not obey did meanwhile is not known either. */
static void a_fault_is_no_rest(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 300);
    scene.now.fixtures[0].output_fault = false;
    scene_run(&scene, 59);
    assert_false(scene.verdict.fixtures[0].closed);
    scene_run(&scene, 1);
    assert_true(scene.verdict.fixtures[0].closed);
}

static void rest_is_named(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 2);
    scene.now.fixtures[0].output_fault = false;
    scene_run(&scene, 2);
    assert_int_equal(scene.verdict.limiter, LIMITER_REST);
    scene_run(&scene, 60);
    assert_true(scene.verdict.fixtures[0].closed);
}

static void watts_are_measured_or_by_the_curve(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    scene_power(&scene, 0, 123);
    scene_tick(&scene, 1);
    assert_near(scene.verdict.watts, 123, 1e-9);
    scene.sim.rules[0].power_is_shared = true;
    scene_tick(&scene, 1);
    assert_near(scene.verdict.watts,
                dimcurve_watts(&scene.sim.rules[0].curve, scene.verdict.fixtures[0].drive), 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_level_moves_at_its_usual_speed),
        cmocka_unit_test(the_stage_says_how_fast_light_rises),
        cmocka_unit_test(protection_does_not_wait),
        cmocka_unit_test(contact_and_drive_go_together),
        cmocka_unit_test(no_closing_without_leave),
        cmocka_unit_test(no_closing_just_before_the_night),
        cmocka_unit_test(one_contact_a_tick),
        cmocka_unit_test(absence_is_no_rest),
        cmocka_unit_test(a_fault_is_no_rest),
        cmocka_unit_test(rest_is_named),
        cmocka_unit_test(watts_are_measured_or_by_the_curve),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
