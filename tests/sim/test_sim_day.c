/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whole light days at the daemon's own tick of one second.
 */
#include "sim_config.h"
#include "sim_day.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

static void begin(uint64_t seed)
{
    const struct rehearsal_options options = {.from_day = SIM_DAY, .step_s = 1, .seed = seed};
    sim_watch_begin(&watch, &sim.config, &options);
}

/* 13 mol asked, 13 mol given, on and off to the second, one closing and one opening. */
static void a_plain_day(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(1);
    sim_until_day(&watch, 2);
    for (int i = 0; i < 2; i++) {
        const struct day_summary *day = &watch.days[i].summary;
        const int64_t begin_s = lightday_begin(&sim.space.rules.day, day->light_day);
        assert_near(day->account.delivered_mol, 13, 0.05);
        assert_true(account_missing_mol(&day->account) < 1e-9);
        assert_true(day->is_feasible);
        assert_int_equal(day->switch_operations, 2);
        assert_int_equal(day->lights_on_s - begin_s, 6 * 3600);
        assert_int_equal(day->lights_off_s - begin_s, 22 * 3600);
        assert_near(day->integral.measured_s, 86400, 20);
    }
    sim_watch_end(&watch);
}

/* Two fixtures of which one is dead from noon: the other makes up what it can. */
static void a_dead_fixture_is_made_up(void **state)
{
    (void)state;
    sim_config_init(&sim, 2);
    begin(2);
    const struct bench_fault dead = {12 * 3600, 86400, BENCH_DEAD, 0, 0};
    assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &dead), 0);
    sim_until_day(&watch, 1);
    const struct day_summary *day = &watch.days[0].summary;
    assert_true(watch.events[EVENT_DRIVER_TRIP] > 0);
    assert_true(watch.events[EVENT_DRIVER_GAVE_UP] > 0);
    assert_true(day->account.delivered_mol > 10.5);
    assert_true(day->account.missing_mol[LIMITER_DRIVER_TRIP] > 0.1);
    sim_watch_end(&watch);
}

/* A target beyond the fixture is said early, and the account names why. */
static void out_of_reach(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.stages[0].target_mol = 24;
    sim.stages[0].ceiling_umol = 300;
    begin(3);
    sim_for(&watch, 60);
    assert_int_equal(watch.events[EVENT_TARGET_OUT_OF_REACH], 1);
    sim_until_day(&watch, 1);
    const struct day_summary *day = &watch.days[0].summary;
    assert_false(day->is_feasible);
    /* 300 µmol × (16 h − one ramp of 0.5 h) × 0.0036 */
    assert_near(day->account.delivered_mol, 16.74, 0.15);
    assert_true(day->account.missing_mol[LIMITER_LIGHT_CEILING] > 5);
    sim_watch_end(&watch);
}

/* A window across midnight with a light day from noon: one block of light in one light day. */
static void across_midnight(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.space.rules.day.start_s = 12 * 3600;
    sim.stages[0].window.on_s = 20 * 3600;
    begin(4);
    sim_until_day(&watch, 2);
    for (int i = 0; i < 2; i++) {
        assert_near(watch.days[i].summary.account.delivered_mol, 13, 0.05);
        assert_int_equal(watch.days[i].summary.switch_operations, 2);
        assert_int_equal(watch.days[i].summary.lights_off_s -
                             lightday_begin(&sim.space.rules.day, watch.days[i].summary.light_day),
                         86400); /* on the stroke of the next light day, yet this day's */
    }
    sim_watch_end(&watch);
}

/* The same window with a light day from midnight lies in two pieces; both days meet their target.
 */
static void in_two_pieces(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.stages[0].window.on_s = 20 * 3600;
    begin(5);
    sim_until_day(&watch, 3);
    assert_near(watch.days[1].summary.account.delivered_mol, 13, 0.05);
    assert_near(watch.days[2].summary.account.delivered_mol, 13, 0.05);
    sim_watch_end(&watch);
}

static void by_hand(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(6);
    struct hand hand = {.is_active = true, .level = 0.9, .until_ns = INT64_MAX};
    sim_for(&watch, 3 * 3600);
    rehearsal_set_hand(watch.rehearsal, 0, &hand);
    sim_for(&watch, 600); /* in the night: no light, or the watch complains */
    hand.until_ns = rehearsal_view(watch.rehearsal, 0).now->boot_ns + 3600 * UNITS_NS_PER_S;
    rehearsal_set_hand(watch.rehearsal, 0, &hand);
    sim_for(&watch, 3601);
    assert_int_equal(watch.events[EVENT_HAND_BEGINS], 1);
    assert_int_equal(watch.events[EVENT_HAND_ENDS], 1);
    hand.breaks_night = true;
    hand.level = 0.5;
    hand.until_ns = rehearsal_view(watch.rehearsal, 0).now->boot_ns + 600 * UNITS_NS_PER_S;
    rehearsal_set_hand(watch.rehearsal, 0, &hand);
    watch.night_may_break = true;
    sim_for(&watch, 1200);
    assert_int_equal(watch.events[EVENT_NIGHT_BREAK], 1);
    assert_int_equal(watch.events[EVENT_NIGHT_BREAK_ENDS], 1);
    watch.night_may_break = false;
    watch.night_umol_s = 0;
    sim_until_day(&watch, 1);
    /* ten minutes at half light of 420 µmol, less the climb at 1 % a second and warm-up */
    assert_near(watch.days[0].summary.night_dose_umol_m2, 600 * 210, 8000);
    assert_int_equal(watch.days[0].summary.night_breaks, 1);
    sim_watch_end(&watch);
}

/* The same seed gives the same light to the last bit; another seed another noise. */
static void repeatable(void **state)
{
    (void)state;
    double mol[3];
    for (int i = 0; i < 3; i++) {
        sim_config_init(&sim, 1);
        begin(i < 2 ? 7 : 8);
        sim_until_day(&watch, 1);
        mol[i] = watch.days[0].summary.account.delivered_mol;
        sim_watch_end(&watch);
    }
    assert_true(mol[0] == mol[1]);
    assert_true(mol[0] != mol[2]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plain_day),   cmocka_unit_test(a_dead_fixture_is_made_up),
        cmocka_unit_test(out_of_reach),  cmocka_unit_test(across_midnight),
        cmocka_unit_test(in_two_pieces), cmocka_unit_test(by_hand),
        cmocka_unit_test(repeatable),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
