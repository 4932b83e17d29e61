/* SPDX-License-Identifier: Apache-2.0 */
/* Which light is laid beside the record of commissioning: one space, lit from 06:00 to 22:00. */
#include "scene.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define HOUR INT64_C(3600)

static struct scene scene;

/* The light falls to `share` of what the curve promises; before warm_s it is told as half. */
static void live(double share, int hours, int warm_s)
{
    for (int at_s = 0; at_s < hours * 3600; at_s += 10) {
        const double seen = at_s < warm_s ? 0.5 : share;
        scene_ppfd(&scene, seen * 420 * scene.state.level);
        scene_tick(&scene, 10);
    }
}

/* Lit at 06:00, warm at 06:30: what was seen before does not count. The day makes one value. */
static void a_day_makes_a_value(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 5 * HOUR + 1800);
    live(0.9, 19, 3600);
    const struct ageing *ageing = &scene.state.ageing;
    assert_int_equal(ageing->count, 1);
    assert_near((double)ageing->value[0], 0.9, 0.005);
    assert_int_equal(ageing->day[0], SIM_DAY);
    assert_near((double)ageing->band_c, 40, 0.5);
    assert_near(ageing->sum.seconds, 0, 0);
}

/* What a person accepted of the lamp is part of its age. */
static void an_accepted_lamp_is_no_younger(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 8 * HOUR);
    scene.state.correction.lamp = 0.9;
    scene.state.correction.since_s = 1;
    live(0.9, 4, 0);
    const struct ageing_sum *sum = &scene.state.ageing.sum;
    assert_true(sum->seconds > 3 * 3600);
    assert_near(sum->ratio_s / sum->seconds, 0.9, 0.005);
}

static double compared_s(void)
{
    live(0.9, 2, 0);
    return scene.state.ageing.sum.seconds;
}

/* Under a sun, with one lamp dark, a lost reading or no date nothing is compared. */
static void not_everything_is_comparable(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 8 * HOUR);
    assert_true(compared_s() > 3600);
    scene_begin(&scene, 2, 8 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    assert_near(compared_s(), 0, 0);
    scene_begin(&scene, 2, 8 * HOUR);
    scene.now.fixtures[1].output_fault = true;
    assert_near(compared_s(), 0, 0);
    scene_begin(&scene, 2, 8 * HOUR);
    scene.sim.space.rules.ageing.commissioned = 0;
    assert_near(compared_s(), 0, 0);
    scene_begin(&scene, 2, 8 * HOUR);
    live((double)NAN, 2, 0);
    assert_near(scene.state.ageing.sum.seconds, 0, 0);
}

/* Eight days at three quarters, and the loss is told at the end of the seventh. */
static void the_loss_is_told(void **state)
{
    (void)state;
    int told = 0;
    scene_begin(&scene, 1, 5 * HOUR);
    for (int tick = 0; tick < 8 * 8640; tick++) {
        scene_ppfd(&scene, 0.75 * 420 * scene.state.level);
        scene_tick(&scene, 10);
        if (scene_said(&scene, EVENT_LIGHT_AGED)) {
            told++;
            assert_int_equal(scene.state.ageing.count, 7);
            for (int i = 0; i < scene.verdict.event_count; i++) {
                const struct decide_event *event = &scene.verdict.events[i];
                if (event->kind == EVENT_LIGHT_AGED) {
                    assert_near(event->a, 0.75, 0.01);
                    assert_near(event->b, 30 + 6, 0); /* a month before, and the seventh day */
                }
            }
        }
    }
    assert_int_equal(told, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_makes_a_value),
        cmocka_unit_test(an_accepted_lamp_is_no_younger),
        cmocka_unit_test(not_everything_is_comparable),
        cmocka_unit_test(the_loss_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
