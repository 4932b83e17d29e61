/* SPDX-License-Identifier: Apache-2.0 */
/* Contacts that were told to open while nobody answers. */
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

/* Lit until lights-off, then the opening stays without an answer. */
static double begin_unsure(bool light_is_seen)
{
    scene_begin(&scene, 1, 22 * HOUR - 300);
    if (!light_is_seen) {
        scene_ppfd(&scene, UNITS_NONE);
    }
    scene_run(&scene, 280);
    const double level = scene.verdict.fixtures[0].level;
    assert_true(level > 0);
    while (scene.verdict.fixtures[0].closed) {
        scene_tick(&scene, 1);
    }
    scene.now.fixtures[0].opening_unconfirmed = true;
    return scene.state.fixtures[0].lit_level;
}

static void told_and_summed_up(void **state)
{
    (void)state;
    const double level = begin_unsure(false);
    assert_true(level > 0);
    int told = 0;
    for (int i = 0; i < 100; i++) {
        scene_tick(&scene, 1);
        told += scene_said(&scene, EVENT_OPENING_UNCONFIRMED);
        if (scene_said(&scene, EVENT_OPENING_UNCONFIRMED)) {
            assert_near(scene.verdict.events[0].a, level, 1e-12);
            assert_near(scene.verdict.events[0].b, 10, 1);
        }
    }
    assert_int_equal(told, 1);
    assert_near(scene.verdict.fixtures[0].unsure_s, 100, 1);
    assert_near(scene.state.night_dose, 0, 0); /* what is known */
    assert_near(scene.state.night_possible, 420 * level * 96, 420 * level * 2);
    struct day_summary day;
    decide_summary(&scene.sim.space.rules, &scene.state, &day);
    assert_near(day.night_possible_umol_m2, scene.state.night_possible, 0);
    scene.now.fixtures[0].opening_unconfirmed = false;
    scene_tick(&scene, 1);
    assert_true(scene_said(&scene, EVENT_OPENING_CONFIRMED));
    assert_near(scene.verdict.events[0].b, scene.state.night_possible, 1e-9);
    assert_near(scene.verdict.fixtures[0].unsure_s, 0, 0);
    scene.now.fixtures[0].opening_unconfirmed = true; /* the line is lost: it was open before */
    scene_run(&scene, 100);
    assert_near(scene.verdict.fixtures[0].unsure_s, 0, 0);
}

/* A sensor that shows the dark leaves nothing to guess. */
static void a_sensor_knows_better(void **state)
{
    (void)state;
    (void)begin_unsure(true);
    scene_run(&scene, 100);
    assert_true(scene.verdict.fixtures[0].unsure_s > 90);
    assert_near(scene.state.night_possible, 0, 0);
}

static void a_quick_answer_is_no_news(void **state)
{
    (void)state;
    (void)begin_unsure(false);
    for (int i = 0; i < 8; i++) {
        scene_tick(&scene, 1);
        assert_false(scene_said(&scene, EVENT_OPENING_UNCONFIRMED));
    }
    scene.now.fixtures[0].opening_unconfirmed = false;
    scene_tick(&scene, 1);
    assert_false(scene_said(&scene, EVENT_OPENING_CONFIRMED));
}

/* Killed while it was lit, started again without an answer: still not known. */
static void a_restart_does_not_know_either(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    const double level = scene.verdict.fixtures[0].level;
    space_resume(&scene.state, &scene.sim.space.rules);
    scene.now.fixtures[0].opening_unconfirmed = true;
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 20);
    assert_true(scene.verdict.fixtures[0].unsure_s > 15);
    assert_near(scene.state.fixtures[0].lit_level, level, 1e-12);
    scene_begin(&scene, 1, 12 * HOUR);
    scene_run(&scene, 200);
    (void)space_stop(&scene.state, &scene.sim.space.rules); /* opened, and verified */
    space_resume(&scene.state, &scene.sim.space.rules);
    scene.now.fixtures[0].opening_unconfirmed = true;
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 20);
    assert_near(scene.verdict.fixtures[0].unsure_s, 0, 0);
}

/* Nobody ever answered, and nothing is remembered: not lit as far as known, but not known. */
static void never_answered_since_the_start(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * HOUR);
    scene.now.fixtures[0].opening_unconfirmed = true;
    scene.now.fixtures[0].output_fault = true;
    scene_run(&scene, 1);
    assert_true(scene.verdict.fixtures[0].is_unknown);
    scene_run(&scene, 20);
    assert_true(scene.verdict.fixtures[0].is_unknown);
    assert_near(scene.verdict.fixtures[0].unsure_s, 0, 0);
    scene.now.fixtures[0].opening_unconfirmed = false; /* it answers: open */
    scene_tick(&scene, 1);
    assert_false(scene.verdict.fixtures[0].is_unknown);
    (void)begin_unsure(false); /* known as lit: that is the other doubt */
    scene_run(&scene, 20);
    assert_false(scene.verdict.fixtures[0].is_unknown);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told_and_summed_up),
        cmocka_unit_test(a_sensor_knows_better),
        cmocka_unit_test(a_quick_answer_is_no_news),
        cmocka_unit_test(a_restart_does_not_know_either),
        cmocka_unit_test(never_answered_since_the_start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
