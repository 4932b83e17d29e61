/* SPDX-License-Identifier: Apache-2.0 */
/* What heat takes from the lamps is noted hour by hour, and learned when the light day ends. */
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

/* In the middle of the usual band from 58 to 70 °C, whose end is a tenth. */
#define WARM_C   64
#define WARM_CAP 0.55

static void run_to_the_next_day(void)
{
    while (!scene.verdict.day_closed) {
        scene_tick(&scene, 9);
    }
}

static void hours_are_learned_at_the_end_of_the_day(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 17 * HOUR);
    scene_run(&scene, 3600);
    scene_heat(&scene, 0, WARM_C);
    for (int i = 0; i < 2 * 400; i++) {
        scene_tick(&scene, 9);
    }
    scene_heat(&scene, 0, 30);
    run_to_the_next_day();
    const float *cap = scene.state.learned.heat_cap;
    assert_near((double)cap[16], 1, 1e-9);
    assert_near((double)cap[17], 1, 1e-6);
    assert_near((double)cap[18], WARM_CAP, 0.02); /* the first minutes were still cool */
    assert_near((double)cap[19], WARM_CAP, 1e-6);
    assert_near((double)cap[21], 1, 1e-6);
    assert_near(scene.state.heat_hours.asked_s[19], 0, 0); /* the next day begins afresh */
}

/* Neither a dead output, nor a silent sensor, nor the night is heat. */
static void faults_are_no_heat(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 17 * HOUR);
    scene_run(&scene, 60);
    scene.now.fixtures[0].output_fault = true;
    scene.now.fixtures[1].heat.quality = READING_LOST;
    run_to_the_next_day();
    for (int hour = 0; hour < 24; hour++) {
        assert_near((double)scene.state.learned.heat_cap[hour], 1, 1e-6);
    }
    scene_begin(&scene, 1, 2 * HOUR);
    scene_heat(&scene, 0, WARM_C);
    scene_run(&scene, 1200);
    assert_near(scene.state.heat_hours.asked_s[2], 0, 0);
}

/* A tripped fixture of two equal ones leaves a half. */
static void fixtures_are_weighed_by_their_light(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 18 * HOUR);
    scene.sim.rules[0].full_umol = 100;
    scene.sim.rules[1].full_umol = 300;
    scene_heat(&scene, 0, 120);
    scene_run(&scene, 1200);
    const struct learned_hours *hours = &scene.state.heat_hours;
    assert_near(hours->cap_s[18] / hours->asked_s[18], 0.75, 0.01);
}

/* The evening was too warm for weeks: the plan lights the morning instead, though energy costs the
 * same in both. */
static void a_warm_evening_is_planned_for(void **state)
{
    (void)state;
    static const struct tariff_rule noon[] = {{0x7f, 0xfff, 11 * 3600, 13 * 3600, 0.2}};
    static const struct tariff tariff = {
        .civil = {.offset_s = 3600}, .price_per_kwh = 0.16, .rule_count = 1, .rules = noon};
    double level[2];
    for (int warm = 0; warm < 2; warm++) {
        scene_begin(&scene, 1, 8 * HOUR);
        scene.sim.space.rules.tariff = &tariff;
        for (int hour = 16; hour < 22; hour++) {
            scene.state.learned.heat_cap[hour] = warm ? 0.3F : 1.0F;
        }
        scene_run(&scene, 60);
        level[warm] = scene.verdict.planned_level;
    }
    assert_true(level[1] > level[0] + 0.1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hours_are_learned_at_the_end_of_the_day),
        cmocka_unit_test(faults_are_no_heat),
        cmocka_unit_test(fixtures_are_weighed_by_their_light),
        cmocka_unit_test(a_warm_evening_is_planned_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
