/* SPDX-License-Identifier: Apache-2.0 */
/* The state of a space over restarts and reloads. */
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

static void a_restart_keeps_sums_and_opens_contacts(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene_run(&scene, 600);
    const double mol = integral_delivered_mol(&scene.state.integral);
    const uint64_t operations = scene.state.fixtures[0].switching.operations_total;
    space_resume(&scene.state, &scene.sim.space.rules);
    assert_near(integral_delivered_mol(&scene.state.integral), mol, 0);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(scene.state.fixtures[i].switching.phase, SWITCHING_OPEN);
        assert_near(scene.state.fixtures[i].switching.since_change_s, 0, 0);
        assert_true(scene.state.fixtures[i].level == 0);
    }
    assert_int_equal(scene.state.fixtures[0].switching.operations_total, operations + 1);
    scene_run(&scene, 30); /* the minimum off time is not over */
    assert_false(scene.verdict.fixtures[0].closed);
    scene_run(&scene, 60);
    assert_true(scene.verdict.fixtures[0].closed);
}

static void a_restart_keeps_trips(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 100);
    scene.state.fixtures[0].heat.is_tripped = true;
    scene.state.fixtures[0].heat.is_latched = true;
    scene.state.fixtures[0].heat.trips_today = 3;
    space_resume(&scene.state, &scene.sim.space.rules);
    scene_run(&scene, 200);
    assert_true(scene.state.fixtures[0].heat.is_latched);
    assert_false(scene.verdict.fixtures[0].closed);
}

/* A reload with one fixture more, then one less, and a lower drive ceiling. */
static void a_reload_changes_rules(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene.sim.space.rules.fixture_count = 1;
    space_init(&scene.state, &scene.sim.space.rules);
    scene_run(&scene, 100);
    scene.sim.space.rules.fixture_count = 2;
    scene.sim.rules[0].ceiling.drive_max = 0.7;
    space_rerule(&scene.state, &scene.sim.space.rules);
    scene_run(&scene, 100);
    assert_true(scene.verdict.fixtures[1].closed);
    assert_true(scene.verdict.fixtures[0].drive <= 0.7);
    scene.sim.space.rules.fixture_count = 1;
    space_rerule(&scene.state, &scene.sim.space.rules);
    scene_run(&scene, 5);
    assert_false(scene.verdict.fixtures[1].closed);
}

static void a_stop_notes_lights_off(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene_run(&scene, 600);
    assert_true(space_stop(&scene.state, &scene.sim.space.rules));
    struct day_summary day;
    decide_summary(&scene.sim.space.rules, &scene.state, &day);
    assert_int_equal(day.lights_off_s, scene.now.wall_s);
    assert_int_equal(day.switch_operations, 4);
    assert_false(space_stop(&scene.state, &scene.sim.space.rules));
}

static void a_rewired_fixture_begins_open(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * HOUR);
    scene_run(&scene, 600);
    scene.state.fixtures[0].heat.trips_today = 2;
    space_rewire(&scene.state, &scene.sim.space.rules, 0);
    scene_run(&scene, 1);
    assert_false(scene.verdict.fixtures[0].closed);
    assert_true(scene.verdict.fixtures[1].closed);
    assert_int_equal(scene.state.fixtures[0].heat.trips_today, 2);
    space_rewire(&scene.state, &scene.sim.space.rules, 0); /* open already: it rests all the same */
    scene_run(&scene, 50);
    assert_int_equal(scene.state.fixtures[0].limiter, LIMITER_REST);
    scene_run(&scene, 30);
    assert_true(scene.verdict.fixtures[0].closed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_restart_keeps_sums_and_opens_contacts),
        cmocka_unit_test(a_restart_keeps_trips),
        cmocka_unit_test(a_reload_changes_rules),
        cmocka_unit_test(a_stop_notes_lights_off),
        cmocka_unit_test(a_rewired_fixture_begins_open),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
