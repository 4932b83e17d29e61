/* SPDX-License-Identifier: Apache-2.0 */
/* Heat, LED driver and contact of each fixture: whom the evidence accuses, and what follows. */
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

static void settle(int fixtures)
{
    scene_begin(&scene, fixtures, 12 * HOUR);
    scene_run(&scene, 200);
}

static bool trips_within(int seconds)
{
    for (int i = 0; i < seconds; i++) {
        scene_tick(&scene, 1);
        if (scene_said(&scene, EVENT_DRIVER_TRIP)) {
            return true;
        }
    }
    return false;
}

/* Light and watts gone: tripped. Only one of them gone: a sensor's fault, no trip. */
static void both_kinds_of_evidence_must_agree(void **state)
{
    (void)state;
    settle(1);
    scene_ppfd(&scene, 0.5);
    scene_power(&scene, 0, 2);
    assert_true(trips_within(15));
    assert_false(scene.verdict.fixtures[0].closed);
    settle(1);
    scene_ppfd(&scene, 0.5);
    assert_false(trips_within(60));
    settle(1);
    scene_power(&scene, 0, 2);
    assert_false(trips_within(60));
}

/* Two fixtures with meters of their own: only the one whose watts are gone is accused. */
static void its_own_meter_knows_better(void **state)
{
    (void)state;
    settle(2);
    scene_power(&scene, 1, 2);
    assert_true(trips_within(15));
    assert_true(scene.verdict.fixtures[0].closed);
    assert_false(scene.verdict.fixtures[1].closed);
    assert_int_equal(scene.verdict.fixtures[1].limiter, LIMITER_DRIVER_TRIP);
    scene_run(&scene, 100);
    assert_true(scene.verdict.fixtures[0].level > 0.8); /* makes up for the other */
}

/* Without meters a single fixture's absence among two cannot be told; that of both can. */
static void without_meters_light_accuses_all_or_nobody(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene.sim.rules[0].has_power = scene.sim.rules[1].has_power = false;
    scene_run(&scene, 200);
    scene_ppfd(&scene, 210 * scene.state.fixtures[0].level);
    assert_false(trips_within(60));
    scene_ppfd(&scene, 0.2);
    assert_true(trips_within(20));
}

static void three_hot_samples_trip(void **state)
{
    (void)state;
    settle(1);
    for (double c = 40; c < 81; c += 4) {
        scene_heat(&scene, 0, c);
        scene_tick(&scene, 1);
    }
    scene_heat(&scene, 0, 81);
    scene_run(&scene, 3);
    assert_true(scene.state.fixtures[0].heat.is_tripped);
    assert_int_equal(scene.verdict.limiter, LIMITER_HEAT_TRIP);
    scene.now.acknowledged = true; /* acknowledging does not cool it */
    scene_run(&scene, 3);
    assert_false(scene.verdict.fixtures[0].closed);
}

/* Half a minute without a tick, then readings that are old: no trip before they had time to come.
 */
static void a_pause_is_no_blindness(void **state)
{
    (void)state;
    settle(1);
    scene.now.fixtures[0].heat = READING_NONE;
    scene_tick(&scene, 40);
    assert_false(scene.state.fixtures[0].heat.is_tripped);
    scene_heat(&scene, 0, 40);
    scene_run(&scene, 5);
    assert_false(scene.state.fixtures[0].heat.is_tripped);
    scene.now.fixtures[0].heat = READING_NONE;
    scene_run(&scene, 31);
    assert_true(scene.state.fixtures[0].heat.is_tripped);
}

static void watts_through_an_open_contact(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 1 * HOUR);
    scene_power(&scene, 0, 40);
    scene_run(&scene, 9);
    assert_false(scene.state.fixtures[0].is_stuck);
    scene_run(&scene, 8);
    assert_true(scene.state.fixtures[0].is_stuck);
    scene_power(&scene, 0, 1);
    scene_run(&scene, 8);
    assert_false(scene.state.fixtures[0].is_stuck);
}

/* With a neighbour lit, light says nothing about the dark one. */
static void a_neighbours_light_is_no_evidence(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene.sim.rules[1].has_power = false;
    scene.now.fixtures[1].output_fault = true;
    scene_run(&scene, 300);
    assert_true(scene.verdict.fixtures[0].closed);
    assert_false(scene.state.fixtures[1].is_stuck);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_kinds_of_evidence_must_agree),
        cmocka_unit_test(its_own_meter_knows_better),
        cmocka_unit_test(without_meters_light_accuses_all_or_nobody),
        cmocka_unit_test(three_hot_samples_trip),
        cmocka_unit_test(a_pause_is_no_blindness),
        cmocka_unit_test(watts_through_an_open_contact),
        cmocka_unit_test(a_neighbours_light_is_no_evidence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
