/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"
#include "scene.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define NOON (12 * 3600)

static struct scene scene;

static double sum_w(void)
{
    double sum = 0;
    for (int i = 0; i < scene.sim.space.rules.fixture_count; i++) {
        if (scene.verdict.fixtures[i].closed) {
            sum += dimcurve_watts(&scene.sim.rules[i].curve, scene.verdict.fixtures[i].drive);
        }
    }
    return sum;
}

static void budget(double watts)
{
    scene.now.power = (struct allotment){.is_shared = true, .budget_w = watts};
}

/* Under a budget that must hold in every tick. */
static void run_within(double watts, double seconds)
{
    budget(watts);
    for (int i = 0; i < seconds; i++) {
        scene_run(&scene, 1);
        assert_true(sum_w() <= watts + 1e-6);
    }
}

/* Three fixtures of 100 W each. */
static void the_level_comes_down_at_once(void **state)
{
    (void)state;
    scene_begin(&scene, 3, NOON);
    scene_run(&scene, 300);
    const double free_w = sum_w();
    assert_true(free_w > 100);
    assert_int_equal(scene.verdict.limiter, LIMITER_PLAN);
    run_within(0.6 * free_w, 1);
    assert_near(sum_w(), 0.6 * free_w, 0.01);
    assert_int_equal(scene.verdict.limiter, LIMITER_POWER_LIMIT);
    assert_int_equal(scene.verdict.fixtures[2].limiter, LIMITER_POWER_LIMIT);
    assert_true(scene.state.blame[LIMITER_POWER_LIMIT] > 0);
    run_within(0.6 * free_w, 60);
    budget(free_w * 1.2);
    scene_run(&scene, 200);
    assert_true(sum_w() > 0.95 * free_w);
}

static void a_budget_that_is_not_needed_changes_nothing(void **state)
{
    (void)state;
    scene_begin(&scene, 3, NOON);
    scene_run(&scene, 200);
    const struct verdict before = scene.verdict;
    budget(1000);
    scene_run(&scene, 1);
    assert_near(scene.verdict.asked, before.asked, 0.001);
    assert_int_equal(scene.verdict.limiter, before.limiter);
}

/* Below the lowest level of all three some go dark, and stay so: nobody changes places. */
static void what_burns_goes_before_what_is_dark(void **state)
{
    (void)state;
    scene_begin(&scene, 3, NOON);
    scene_run(&scene, 200);
    const double least_w =
        dimcurve_watts(&scene.sim.rules[0].curve, dimcurve_min_drive(&scene.sim.rules[0].curve));
    budget(2.5 * least_w);
    scene_run(&scene, 70); /* contacts open with care */
    run_within(2.5 * least_w, 300);
    assert_true(scene.verdict.fixtures[0].closed && scene.verdict.fixtures[1].closed);
    assert_false(scene.verdict.fixtures[2].closed);
    assert_int_equal(scene.verdict.fixtures[2].limiter, LIMITER_POWER_LIMIT);
    run_within(0.5 * least_w + 2 * least_w, 300);
    assert_false(scene.verdict.fixtures[2].closed);
    budget(0);
    scene_run(&scene, 70);
    run_within(0, 60);
    assert_near(scene.verdict.level, 0, 0);
    run_within(1.5 * least_w, 300);
    assert_true(scene.verdict.fixtures[0].closed && !scene.verdict.fixtures[1].closed);
}

/* A hand and a try obey it; heat, being stronger, is named where both hold. */
static void hands_obey_and_heat_is_stronger(void **state)
{
    (void)state;
    scene_begin(&scene, 3, NOON);
    scene_run(&scene, 200);
    scene.now.hand = (struct hand){true, 1, INT64_MAX, false};
    run_within(90, 100);
    assert_near(sum_w(), 90, 0.1);
    assert_int_equal(scene.verdict.limiter, LIMITER_POWER_LIMIT);
    scene.now.hand.is_active = false;
    scene.now.fixtures[1].try_drive = (struct trial){true, 1, INT64_MAX, false};
    run_within(90, 100);
    assert_true(sum_w() > 80);
    scene.now.fixtures[1].try_drive.is_active = false;
    for (int i = 0; i < 3; i++) {
        scene_heat(&scene, i, 75);
    }
    run_within(90, 200);
    assert_int_equal(scene.verdict.limiter, LIMITER_HEAT);
}

static void the_night_stays_dark(void **state)
{
    (void)state;
    scene_begin(&scene, 3, 3600);
    run_within(1000, 100);
    assert_int_equal(scene.verdict.limiter, LIMITER_NIGHT);
}

/* The plan of all spaces gives the level, and an extra price for what plans by itself. */
static void the_shared_plan_is_followed(void **state)
{
    (void)state;
    scene_begin(&scene, 3, NOON);
    budget(1000);
    struct allotment *power = &scene.now.power;
    power->begin_s = scene.now.wall_s - scene.now.wall_s % ALLOTMENT_SLOT_S;
    power->count = 1;
    power->slot[0] = (struct allotment_slot){0, 0.4, (double)INFINITY};
    scene_run(&scene, 200);
    assert_near(scene.verdict.level, 0.4, 1e-6);
    power->slot[0].level = (double)NAN;
    scene_run(&scene, 1);
    assert_true(fabs(scene.verdict.asked - 0.4) > 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_level_comes_down_at_once),
        cmocka_unit_test(a_budget_that_is_not_needed_changes_nothing),
        cmocka_unit_test(what_burns_goes_before_what_is_dark),
        cmocka_unit_test(hands_obey_and_heat_is_stronger),
        cmocka_unit_test(the_night_stays_dark),
        cmocka_unit_test(the_shared_plan_is_followed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
