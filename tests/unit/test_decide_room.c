/* SPDX-License-Identifier: Apache-2.0 */
/* Daylight and lamp under the stage's PPFD ceiling. */
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

/* A lamp of 420 µmol that only switches, under a ceiling of 600, in a day that needs all of it. */
static void begin(void)
{
    static const struct dimcurve_point points[] = {{0, 0, 0}, {1, 1, 300}};
    scene_begin(&scene, 1, 9 * HOUR);
    assert_int_equal(dimcurve_init(&scene.sim.rules[0].curve, points, 2, NULL), DIMCURVE_OK);
    const struct lampcurve_part part = {&scene.sim.rules[0].curve, 420};
    lampcurve_join(&scene.sim.space.rules.lamp, &part, 1, 0);
    scene.sim.rules[0].ceiling.drive_max = 1;
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].ceiling_umol = 600;
    scene.sim.stages[0].target_mol = 24;
    space_init(&scene.state, &scene.sim.space.rules);
}

static void under(double daylight_umol)
{
    scene_ppfd(&scene, daylight_umol + 420 * scene.state.fixtures[0].level);
    scene_tick(&scene, 5);
}

/* Clouds of three minutes take the sun from 300 to 100 µmol and back. */
static void moving_clouds_wear_no_contact(void **state)
{
    (void)state;
    begin();
    int turns = 0;
    bool was_closed = false;
    for (int i = 0; i < 4 * 720; i++) {
        under(i / 36 % 2 == 0 ? 100 : 300);
        turns += scene.verdict.fixtures[0].closed != was_closed;
        was_closed = scene.verdict.fixtures[0].closed;
    }
    print_message("%d turns in four hours\n", turns);
    assert_in_range(turns, 4, 2 * 4 * 3); /* a rest is 20 min */
}

static void the_ceiling_rests_the_lamp(void **state)
{
    (void)state;
    begin();
    for (int i = 0; i < 30; i++) {
        under(100);
    }
    assert_true(scene.verdict.fixtures[0].closed);
    for (int i = 0; i < 30; i++) {
        under(300);
    }
    assert_false(scene.verdict.fixtures[0].closed);
    for (int i = 0; i < 200; i++) {
        under(100);
        assert_false(scene.verdict.fixtures[0].closed);
        assert_int_equal(scene.verdict.limiter, LIMITER_LIGHT_CEILING);
    }
    for (int i = 0; i < 60; i++) {
        under(100);
    }
    assert_true(scene.verdict.fixtures[0].closed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(moving_clouds_wear_no_contact),
        cmocka_unit_test(the_ceiling_rests_the_lamp),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
