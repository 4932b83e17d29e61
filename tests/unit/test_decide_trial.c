/* SPDX-License-Identifier: Apache-2.0 */
/* One output moved by hand: what gives way to it, and what it gives way to. */
#include "scene.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct scene scene;

#define HOUR INT64_C(3600)

static struct trial trial_of(double value, int64_t length_s)
{
    return (struct trial){true, value, scene.now.boot_ns + length_s * UNITS_NS_PER_S, false};
}

static const struct fixture_verdict *fixture(int i)
{
    return &scene.verdict.fixtures[i];
}

/* The drive as it is asked, past the curve; afterwards the level goes on from there, no faster than
 * usual, and the light it gave is the day's. */
static void the_drive_moves_and_comes_back(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    const double planned = fixture(0)->level;
    const double before_mol = scene.state.account.delivered_mol;
    scene.now.fixtures[0].try_drive = trial_of(0.3, 30);
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_TRY_DRIVE));
    assert_near(scene.verdict.events[0].a, 0.3, 1e-12);
    assert_near(fixture(0)->drive, 0.3, 1e-12);
    assert_near(fixture(0)->level, dimcurve_level(&scene.sim.rules[0].curve, 0.3), 1e-12);
    assert_int_equal(fixture(0)->limiter, LIMITER_BY_HAND);
    scene_run(&scene, 28);
    assert_near(fixture(0)->drive, 0.3, 1e-12);
    const double tried = fixture(0)->level;
    scene_tick(&scene, 1); /* it ends by itself */
    assert_true(scene_said(&scene, EVENT_TRY_ENDS));
    assert_near(fixture(0)->level, tried + scene.sim.space.rules.rise_per_s, 1e-9);
    const double given_mol = scene.state.account.delivered_mol - before_mol;
    assert_near(given_mol, (420 * tried * 28 + 2 * 420 * planned) / 1e6, 420 * 2 / 1e6);
    assert_true(scene.state.blame[LIMITER_BY_HAND] == 0);
    scene_run(&scene, 200);
    assert_near(fixture(0)->level, planned, 0.01);
}

static void the_account_names_the_hand(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.sim.stages[0].target_mol = 30; /* more than there is: every loss counts */
    scene_run(&scene, 200);
    const double before = scene.state.account.missing_mol[LIMITER_BY_HAND];
    scene.now.fixtures[0].try_drive = trial_of(0.2, 100);
    scene_run(&scene, 100);
    assert_near(before, 0, 1e-12);
    assert_true(scene.state.account.missing_mol[LIMITER_BY_HAND] > 0.01);
}

/* Below the lowest lit drive the lamp is dark and its contact stays closed. */
static void below_the_minimum(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    scene.now.fixtures[0].try_drive = trial_of(0, 60);
    scene_run(&scene, 30);
    assert_near(fixture(0)->drive, 0, 0);
    assert_near(fixture(0)->level, 0, 0);
    assert_true(fixture(0)->closed);
    assert_false(scene_said(&scene, EVENT_DRIVER_TRIP));
}

static void ceilings_stand_above_it(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.sim.stages[0].ceiling_umol = 1000;
    scene_run(&scene, 200);
    scene.now.fixtures[0].try_drive = trial_of(1, 600);
    scene_tick(&scene, 1);
    assert_near(fixture(0)->drive, scene.sim.rules[0].ceiling.drive_max, 1e-12);
    assert_int_equal(fixture(0)->limiter, LIMITER_DRIVE_CEILING);
    scene_heat(&scene, 0, 68);
    scene_run(&scene, 120);
    assert_int_equal(fixture(0)->limiter, LIMITER_HEAT);
    assert_near(fixture(0)->level, scene.state.fixtures[0].heat.cap, 1e-6);
    scene_heat(&scene, 0, 85);
    scene_run(&scene, 3);
    assert_int_equal(fixture(0)->limiter, LIMITER_HEAT_TRIP);
    assert_false(fixture(0)->closed);
}

/* The other fixtures' light and this one's stay together under the stage's ceiling. */
static void the_light_ceiling_is_shared(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene.sim.stages[0].ceiling_umol = 300;
    scene_run(&scene, 300);
    scene.now.fixtures[0].try_drive = trial_of(0.98, 600);
    for (int i = 0; i < 100; i++) {
        scene_tick(&scene, 1);
        assert_true(210 * (fixture(0)->level + fixture(1)->level) <= 300 + 1e-6);
    }
    assert_int_equal(fixture(0)->limiter, LIMITER_LIGHT_CEILING);
    assert_true(fixture(0)->closed);
}

static void a_contact_keeps_its_times(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    for (int i = 0; i < 200 && !(fixture(0)->level > 0); i++) {
        scene_tick(&scene, 1);
    }
    scene.now.fixtures[0].try_contact = trial_of(0, 600);
    int closed_s = 1;
    while (fixture(0)->closed) {
        scene_tick(&scene, 1);
        closed_s += fixture(0)->closed;
    }
    assert_true(closed_s >= 60);
    assert_int_equal(fixture(0)->limiter, LIMITER_BY_HAND);
    scene_run(&scene, 10);
    scene.now.fixtures[0].try_contact = trial_of(1, 600);
    scene_tick(&scene, 1);
    assert_int_equal(fixture(0)->limiter, LIMITER_REST);
    scene_run(&scene, 60);
    assert_true(fixture(0)->closed);
}

static void a_night_stays_dark(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 2 * HOUR);
    scene.now.fixtures[0].try_contact = trial_of(1, 600);
    scene.now.fixtures[0].try_drive = trial_of(0.7, 600);
    for (int i = 0; i < 300; i++) {
        scene_tick(&scene, 1);
        assert_false(fixture(0)->closed);
    }
    assert_near(fixture(0)->drive, 0.7, 1e-12); /* behind an open contact: no light */
    assert_near(scene.state.night_dose, 0, 0);
    scene.now.fixtures[0].try_contact.breaks_night = true;
    scene_run(&scene, 10);
    assert_true(fixture(0)->closed);
    assert_int_equal(scene.verdict.limiter, LIMITER_BY_HAND);
    assert_near(fixture(0)->level, dimcurve_min_level(&scene.sim.rules[0].curve), 1e-9);
    scene.now.fixtures[0].try_drive.breaks_night = true;
    scene_run(&scene, 20);
    assert_near(fixture(0)->drive, 0.7, 1e-12);
    assert_true(scene.state.night_dose > 0);
    scene_run(&scene, 300); /* 600 s are over: dark at once */
    assert_false(fixture(0)->closed);
    assert_near(fixture(0)->drive, scene.sim.rules[0].safe_drive, 1e-12);
}

/* Lights-off comes before the end of the trial, and stands. */
static void lights_off_stands(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 22 * HOUR - 300);
    scene_run(&scene, 200);
    scene.now.fixtures[0].try_drive = trial_of(0.6, 600);
    double last_drive = 1;
    while (scene.verdict.place.is_lit) {
        last_drive = fixture(0)->drive;
        scene_tick(&scene, 1);
    }
    assert_false(fixture(0)->closed);
    assert_near(last_drive, dimcurve_min_drive(&scene.sim.rules[0].curve), 1e-9);
}

/* With a contact that may conduct the dimming line stays where it is safe. */
static void only_behind_a_contact_known_open(void **state)
{
    (void)state;
    for (int turn = 0; turn < 4; turn++) {
        scene_begin(&scene, 1, 2 * HOUR);
        scene_run(&scene, 30);
        scene.now.fixtures[0].try_drive = trial_of(0.7, 600);
        scene.now.fixtures[0].opening_unconfirmed = turn == 0;
        scene.now.fixtures[0].output_fault = turn == 1;
        scene.state.fixtures[0].is_stuck = turn == 2;
        scene.sim.rules[0].has_switch = turn != 3;
        scene_tick(&scene, 1);
        assert_near(fixture(0)->drive, scene.sim.rules[0].safe_drive, 1e-12);
    }
}

/* A contact that welded by day shows itself at lights-off, before the line behind it moves: the
 * night gets the lamp's minimum for as long as that takes, not what the trial of the day asked for.
 */
static void a_welded_contact_shows_itself_first(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 22 * HOUR - 300);
    scene_run(&scene, 290);
    scene.now.fixtures[0].try_drive = trial_of(0.9, 600);
    while (scene.verdict.place.is_lit) {
        scene_tick(&scene, 1);
    }
    scene_power(&scene, 0, 40);
    for (int i = 0; i < 60; i++) {
        assert_near(fixture(0)->drive, scene.sim.rules[0].safe_drive, 1e-12);
        scene_tick(&scene, 1);
    }
    assert_true(scene.state.fixtures[0].is_stuck);
    scene_begin(&scene, 1, 22 * HOUR - 300);
    scene_run(&scene, 290);
    scene.now.fixtures[0].try_drive = trial_of(0.9, 600);
    scene_run(&scene, 40);
    assert_near(fixture(0)->drive, 0.9, 1e-12); /* one that opened: the line moves behind it */
}

/* A contact that still waits closes at the minimum, whatever was asked of the line meanwhile. */
static void no_jump_before_the_contact_closed(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.now.fixtures[0].try_drive = trial_of(0.7, 600);
    scene.now.fixtures[0].closing_unconfirmed = true;
    while (!fixture(0)->closed) {
        scene_tick(&scene, 1);
    }
    scene_run(&scene, 5);
    assert_true(fixture(0)->level < 0.2);
    scene.now.fixtures[0].closing_unconfirmed = false;
    scene_tick(&scene, 1);
    assert_near(fixture(0)->drive, 0.7, 1e-12);
}

/* Without a switch the drive is the light: it asks for it, with the same care. */
static void without_a_switch(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 2 * HOUR);
    scene.sim.rules[0].has_switch = false;
    scene_run(&scene, 100);
    scene.now.fixtures[0].try_drive = trial_of(0.5, 100);
    scene_run(&scene, 10);
    assert_near(fixture(0)->drive, scene.sim.rules[0].safe_drive, 1e-12);
    scene.now.fixtures[0].try_drive.breaks_night = true;
    scene_run(&scene, 10);
    assert_near(fixture(0)->drive, 0.5, 1e-12);
    assert_true(scene.state.night_dose > 0);
}

/* Nobody knows whether it is night. */
static void not_without_a_clock(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 100);
    scene.now.clock = CLOCK_UNTRUSTED;
    scene.now.fixtures[0].try_contact = trial_of(1, 600);
    scene.now.fixtures[0].try_contact.breaks_night = true;
    scene_run(&scene, 100);
    assert_false(fixture(0)->closed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_drive_moves_and_comes_back),
        cmocka_unit_test(the_account_names_the_hand),
        cmocka_unit_test(below_the_minimum),
        cmocka_unit_test(ceilings_stand_above_it),
        cmocka_unit_test(the_light_ceiling_is_shared),
        cmocka_unit_test(a_contact_keeps_its_times),
        cmocka_unit_test(a_night_stays_dark),
        cmocka_unit_test(lights_off_stands),
        cmocka_unit_test(only_behind_a_contact_known_open),
        cmocka_unit_test(a_welded_contact_shows_itself_first),
        cmocka_unit_test(no_jump_before_the_contact_closed),
        cmocka_unit_test(without_a_switch),
        cmocka_unit_test(not_without_a_clock),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
