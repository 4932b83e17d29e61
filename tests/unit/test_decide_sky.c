/* SPDX-License-Identifier: Apache-2.0 */
/* A sun that shines while it should be down: longitude or clock are wrong. */
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

static void begin(int64_t second)
{
    scene_begin(&scene, 1, second);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.space.rules.sun =
        (struct sun_site){.has_place = true, .longitude = 15, .daylight_share = 0.6};
}

static void under(double umol, int minutes)
{
    for (int i = 0; i < 10 * minutes; i++) {
        scene_ppfd(&scene, umol);
        scene_tick(&scene, 6);
    }
}

/* On the equator, at the meridian of UTC+1, the sun rises at six. */
static void a_sun_before_sunrise_is_astray(void **state)
{
    (void)state;
    begin(4 * HOUR);
    under(25, 60); /* a lamp next door */
    assert_false(scene.state.sky_is_astray);
    begin(4 * HOUR);
    under(100, 12);
    assert_true(scene.state.sky_is_astray);
    scene.now.wall_s += 86400;
    under(0, 1);
    assert_true(scene.state.sky_is_astray); /* yesterday counts */
    scene.now.wall_s += 86400;
    under(0, 1);
    assert_false(scene.state.sky_is_astray);
}

/* By a longitude that is twelve hours off it is night at noon; what is a half more than the lamp
 * can give is no gain of the lamp. */
static void the_lamp_has_no_gain_of_a_sun(void **state)
{
    (void)state;
    for (int wrong = 0; wrong < 2; wrong++) {
        begin(12 * HOUR);
        scene.sim.space.rules.sun.longitude = -165;
        scene.sim.stages[0].target_mol = 24;
        for (int i = 0; i < 600; i++) {
            const double lamp_umol = 420 * scene.state.fixtures[0].level;
            scene_ppfd(&scene, (wrong ? 1.5 : 0.97) * lamp_umol);
            scene_tick(&scene, 6);
        }
        assert_true(scene.verdict.level > 0.5);
        assert_near(scene.state.light_gain, wrong ? 1 : 0.97, 0.01);
        assert_int_equal(scene.verdict.daylight_umol > 50, wrong == 1);
        assert_false(scene.state.sky_is_astray); /* beside a lit lamp it may be the lamp */
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sun_before_sunrise_is_astray),
        cmocka_unit_test(the_lamp_has_no_gain_of_a_sun),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
