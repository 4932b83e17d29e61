/* SPDX-License-Identifier: Apache-2.0 */
/* What a light day brought is noted tick by tick, and its close lays the costs side by side. */
#include "scene.h"

#include "hindsight.h"
#include "near.h"
#include "plan_bound.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define HOUR_S INT64_C(3600)
#define TICK_S 10

static struct scene scene;
static struct day_summary closed;

/* 0.30 by day, 0.10 in the evening from 18:00 on, where there is no tariff. */
static void ticks_until(int64_t second)
{
    const int64_t begin_s = lightday_begin(&scene.sim.space.rules.day, SIM_DAY);
    while (scene.now.wall_s < begin_s + second) {
        const int64_t next = scene.now.wall_s + TICK_S - begin_s;
        scene.now.price_per_kwh = next > 18 * HOUR_S ? 0.10 : 0.30;
        scene_tick(&scene, TICK_S);
        if (scene.verdict.day_closed) {
            closed = scene.verdict.closed;
        }
    }
}

static void rest_of_the_day(void)
{
    closed = (struct day_summary){.bound_cost = -1};
    ticks_until(24 * HOUR_S);
    assert_int_equal(closed.light_day, SIM_DAY);
    assert_true(closed.account.delivered_mol > 5);
}

/* The price comes from ticks_until; the plan, without a tariff, knows nothing of it and keeps to
 * one level. */
static void begin(int fixtures, int64_t second)
{
    scene_begin(&scene, fixtures, second);
    scene.sim.space.rules.tariff = NULL;
}

/* The same quarter hours by hand: 16 h from 06:00, ramps of half an hour, 420 µmol, and 98 % of the
 * drive. */
static double bound_by_hand(double need_mol, double cap, double full_umol)
{
    static struct plan_slots slots;
    slots.count = 64;
    for (int i = 0; i < 64; i++) {
        const double middle = 900 * i + 450;
        const double edge_s = fmin(middle, 57600 - middle);
        double share = 1; /* the raised cosine's mean over each quarter of an hour */
        if (edge_s < 1800) {
            share = edge_s < 900 ? 0.5 - 1 / 3.14159265358979 : 0.5 + 1 / 3.14159265358979;
        }
        slots.slot[i] = (struct plan_slot){
            .dt_s = 900, .lit_s = 900 * share, .price_per_kwh = i < 48 ? 0.30 : 0.10, .cap = cap};
    }
    const struct plan_lamp lamp = {&scene.sim.space.rules.lamp, full_umol, 1, 400, true};
    return plan_bound(&lamp, &slots, need_mol).cost;
}

static void a_day_beside_its_bound(void **state)
{
    (void)state;
    begin(2, 0);
    scene_tick(&scene, 0);
    rest_of_the_day();
    const double cap =
        dimcurve_level(&scene.sim.rules[0].curve, scene.sim.rules[0].ceiling.drive_max);
    const double bound = bound_by_hand(13, cap, 420);
    assert_near(closed.bound_cost, bound, 1e-4 * bound);
    assert_true(closed.lamp_cost >= closed.bound_cost && closed.lamp_cost < closed.even_cost * 1.1);
    assert_near(closed.lamp_cost, closed.cost, 1e-4);
    assert_true(closed.even_cost > 1.05 * closed.bound_cost);
    assert_int_equal(daylog_seen_s(&scene.state.daylog), 0); /* the next day begins afresh */
    struct day_summary running;
    decide_summary(&scene.sim.space.rules, &scene.state, &running);
    assert_false(units_known(running.bound_cost) || units_known(running.lamp_cost));
}

/* One of two fixtures rests for the middle of the day: half of the lamp, by its share of light. */
static void what_heat_takes_is_no_cheaper_light(void **state)
{
    (void)state;
    begin(2, 0);
    scene.sim.rules[0].full_umol = 300;
    scene.sim.rules[1].full_umol = 120;
    sim_config_join(&scene.sim);
    scene_tick(&scene, 0);
    ticks_until(10 * HOUR_S);
    scene.now.fixtures[0].output_fault = true;
    ticks_until(14 * HOUR_S);
    scene.now.fixtures[0].output_fault = false;
    rest_of_the_day();
    assert_true(units_known(closed.bound_cost));
    assert_true(closed.bound_cost > 1.001 * bound_by_hand(13, 0.98, 420));
}

static void the_cap_is_weighted_by_light(void **state)
{
    (void)state;
    begin(2, 10 * HOUR_S);
    scene.sim.rules[0].full_umol = 300;
    scene.sim.rules[1].full_umol = 120;
    scene.sim.rules[1].ceiling.drive_max = 1;
    scene.state.fixtures[1].ceiling.drive_cap = 1;
    sim_config_join(&scene.sim);
    scene_tick(&scene, 0);
    scene.now.fixtures[0].output_fault = true;
    ticks_until(11 * HOUR_S);
    assert_near(scene.state.lamp_cap, 120.0 / 420, 1e-9);
    assert_near((double)scene.state.daylog.cap[42], 120.0 / 420, 1e-6);
}

/* First started at two in the morning: nobody knows what the first hours were. */
static void a_day_that_was_not_seen_from_its_beginning(void **state)
{
    (void)state;
    begin(1, 2 * HOUR_S);
    rest_of_the_day();
    assert_false(units_known(closed.bound_cost));
    assert_false(units_known(closed.even_cost));
    assert_false(units_known(closed.lamp_cost));
    assert_true(closed.cost > 0);
}

/* Under a sun a silent sensor hides the daylight; at night there is none to hide. */
static void daylight_that_nobody_saw(void **state)
{
    (void)state;
    for (int hour = 0; hour <= 12; hour += 12) {
        begin(1, 0);
        scene.sim.space.rules.sees_daylight = true;
        scene_tick(&scene, 0);
        ticks_until((1 + hour) * HOUR_S);
        scene.now.ppfd.quality = READING_LOST;
        ticks_until((4 + hour) * HOUR_S);
        scene.now.ppfd.quality = READING_SUSPECT;
        rest_of_the_day();
        assert_int_equal(units_known(closed.bound_cost), hour == 0);
    }
}

/* Light of a contact that does not open has no price here. */
static void a_contact_that_does_not_open(void **state)
{
    (void)state;
    begin(1, 0);
    scene_tick(&scene, 0);
    scene_power(&scene, 0, 200);
    ticks_until(2 * HOUR_S);
    assert_true(scene.state.fixtures[0].is_stuck);
    assert_true(daylog_seen_s(&scene.state.daylog) < 60);
}

/* 20 W with open contacts are the meter's standby, not the lamp's light. */
static void standby_is_not_lamp_light(void **state)
{
    (void)state;
    begin(1, 0);
    scene.sim.rules[0].ceiling.drive_max = 1;
    scene_tick(&scene, 0);
    scene_power(&scene, 0, 4);
    ticks_until(5 * HOUR_S);
    assert_near(scene.state.daylog.standby_cost, 0.004 * 5 * 0.3, 1e-6);
    assert_near(scene.state.cost, scene.state.daylog.standby_cost, 1e-9);
    assert_near(scene.state.daylog.promised_kwh, 0, 0);
}

/* A restart forgets the log, and the day is not compared; with the log it is as if nothing had
 * been, though a quarter of an hour is missing in it. */
static void a_restart_in_the_middle(void **state)
{
    (void)state;
    double bound = 0;
    for (int keeps = 0; keeps < 3; keeps++) {
        scene_begin(&scene, 1, 0);
        scene_tick(&scene, 0);
        ticks_until(11 * HOUR_S);
        const struct daylog saved = scene.state.daylog;
        ticks_until(11 * HOUR_S + 900);
        if (keeps < 2) {
            space_resume(&scene.state, &scene.sim.space.rules);
        }
        if (keeps == 1) {
            scene.state.daylog = saved;
        }
        rest_of_the_day();
        assert_int_equal(units_known(closed.bound_cost), keeps > 0);
        if (keeps == 1) {
            bound = closed.bound_cost;
            assert_true(closed.lamp_cost >= 0.995 * bound);
        }
    }
    assert_near(closed.bound_cost, bound, 1e-3 * bound);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_beside_its_bound),
        cmocka_unit_test(what_heat_takes_is_no_cheaper_light),
        cmocka_unit_test(the_cap_is_weighted_by_light),
        cmocka_unit_test(a_day_that_was_not_seen_from_its_beginning),
        cmocka_unit_test(daylight_that_nobody_saw),
        cmocka_unit_test(a_contact_that_does_not_open),
        cmocka_unit_test(standby_is_not_lamp_light),
        cmocka_unit_test(a_restart_in_the_middle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
