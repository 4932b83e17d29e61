/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Days on which something breaks: sensors, bus, heat, LED drivers, contacts. Light goes on where it
 * may.
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
#include <string.h>

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

#define HOUR 3600.0

static void begin(uint64_t seed)
{
    const struct rehearsal_options options = {.from_day = SIM_DAY, .step_s = 1, .seed = seed};
    sim_watch_begin(&watch, &sim.config, &options);
}

static void fault(enum bench_fault_kind kind, double from_h, double hours, double value)
{
    const struct bench_fault fault = {from_h * HOUR, hours * HOUR, kind, 0, value};
    assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &fault), 0);
}

static const struct day_summary *first_day(void)
{
    sim_until_day(&watch, 1);
    return &watch.days[0].summary;
}

/* Silent from noon on: the fixed level carries the day; the mol are marked as bridged. */
static void sensor_lost_at_noon(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(11);
    fault(BENCH_PPFD_SILENT, 12, 24, 0);
    const struct day_summary *day = first_day();
    assert_int_equal(watch.events[EVENT_SENSOR_LOST], 1);
    assert_near(day->account.delivered_mol, 13, 0.4);
    assert_true(day->integral.bridged_mol > 6);
    assert_int_equal(day->switch_operations, 2);
    sim_watch_end(&watch);
}

/* NaN, stuck and silent for a while: back to measuring afterwards, the day is met. */
static void sensor_troubles(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(12);
    fault(BENCH_PPFD_NAN, 8, 1, 0);
    fault(BENCH_PPFD_SILENT, 11, 0.5, 0);
    fault(BENCH_PPFD_STUCK, 21.4, 0.5,
          0); /* through the dusk: a stuck value must not count for long */
    const struct day_summary *day = first_day();
    assert_int_equal(watch.events[EVENT_SENSOR_LOST], watch.events[EVENT_SENSOR_BACK]);
    assert_near(day->account.delivered_mol, 13, 0.3);
    sim_watch_end(&watch);
}

/* Nothing answers for an hour: the outputs are in fault, the lamp's hour is charged to that only as
 * far as it cannot be made up. */
static void bus_down_for_an_hour(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(13);
    watch.light_may_lie = true; /* the contact stays as it was while nothing can be told to it */
    fault(BENCH_BUS_DOWN, 14, 1, 0);
    const struct day_summary *day = first_day();
    assert_near(day->account.delivered_mol, 13, 0.1);
    assert_true(account_missing_mol(&day->account) < 0.05);
    sim_watch_end(&watch);
}

/* The aisle is 25 K warmer for four hours: foldback, no trip, the mol made up or charged to heat.
 */
static void heat_and_foldback(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.stages[0].target_mol = 20;
    begin(14);
    fault(BENCH_HEAT_STEP, 12, 4, 32);
    const struct day_summary *day = first_day();
    assert_int_equal(watch.events[EVENT_HEAT_TRIP], 0);
    assert_true(watch.hottest_c < 72);
    assert_true(day->heatsink_max_c > 60);
    const double missing = account_missing_mol(&day->account);
    assert_true(missing > 0.2);
    assert_true(day->account.missing_mol[LIMITER_HEAT] > 0.95 * missing);
    sim_watch_end(&watch);
}

/* Far too hot for any light: trip, re-arm, and the third trip stays until it is acknowledged. */
static void heat_trip_and_latch(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(15);
    fault(BENCH_HEAT_STEP, 8, 1, 70);
    fault(BENCH_HEAT_STEP, 11, 1, 70);
    fault(BENCH_HEAT_STEP, 14, 1, 70);
    sim_for(&watch, 18 * HOUR);
    assert_int_equal(watch.events[EVENT_HEAT_TRIP] + watch.events[EVENT_HEAT_LATCHED], 3);
    assert_int_equal(watch.events[EVENT_HEAT_LATCHED], 1);
    assert_int_equal(watch.events[EVENT_HEAT_REARMED], 2);
    assert_false(rehearsal_view(watch.rehearsal, 0).verdict->fixtures[0].closed);
    rehearsal_acknowledge(watch.rehearsal, 0);
    sim_for(&watch, 120);
    assert_true(rehearsal_view(watch.rehearsal, 0).verdict->fixtures[0].closed);
    const struct day_summary *day = first_day();
    assert_true(day->account.missing_mol[LIMITER_HEAT_TRIP] > 0.5);
    sim_watch_end(&watch);
}

/* No heat sensor at all counts as hot. */
static void blind_to_heat(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(16);
    fault(BENCH_HEAT_SILENT, 10, 1, 0);
    const struct day_summary *day = first_day();
    assert_int_equal(watch.events[EVENT_HEAT_BLIND], 1);
    assert_int_equal(watch.events[EVENT_HEAT_REARMED], 1);
    assert_int_equal(day->switch_operations, 4);
    assert_near(day->account.delivered_mol, 13, 0.1);
    sim_watch_end(&watch);
}

/* The LED driver trips above 0.80 of its range: found, backed off, lit again below it. */
static void trip_at_high_drive(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.stages[0].target_mol = 21;
    begin(17);
    fault(BENCH_TRIP, 0, 48, 0.80);
    const struct day_summary *day = first_day();
    assert_true(day->driver_trips >= 1 && day->driver_trips <= 4);
    assert_int_equal(watch.events[EVENT_DRIVER_LIGHT_BACK], 1);
    assert_true(rehearsal_view(watch.rehearsal, 0).state->fixtures[0].ceiling.drive_cap > 0.6);
    assert_true(day->account.delivered_mol > 17);
    sim_watch_end(&watch);
}

/* An LED driver of the kind that cannot dim to off: at drive 0 it still gives a tenth of its light.
 */
static void glow_at_zero_drive(void)
{
    const struct dimcurve_point points[] = {{0, 0.1, 40}, {0.5, 0.5, 150}, {1, 1, 300}};
    assert_int_equal(dimcurve_init(&sim.rules[0].curve, points, 3, NULL), DIMCURVE_OK);
    sim_config_join(&sim);
}

/* A contact that does not open: reported, drive at its safe value, the dose of the night is
 * counted. */
static void welded_switch(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    glow_at_zero_drive();
    begin(18);
    watch.night_may_break = true;
    fault(BENCH_WELDED, 12, 36, 0);
    sim_for(&watch, 23 * HOUR);
    assert_int_equal(watch.events[EVENT_SWITCH_STUCK], 1);
    assert_true(rehearsal_view(watch.rehearsal, 0).verdict->fixtures[0].drive == 0);
    assert_int_equal(watch.events[EVENT_NIGHT_BREAK], 1);
    sim_until_day(&watch, 2);
    /* two hours from 22:00 and six until 06:00 at a tenth of 420 µmol, then freed at 24 h + 12 h +
     * 12 h */
    assert_near(watch.days[0].summary.night_dose_umol_m2, 2 * HOUR * 42, 0.06 * 2 * HOUR * 42);
    assert_near(watch.days[1].summary.night_dose_umol_m2, 8 * HOUR * 42, 0.06 * 8 * HOUR * 42);
    sim_watch_end(&watch);
}

/* A contact that does not close: no light, so the LED driver's guard gives up; nothing flaps. */
static void contact_does_not_close(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(19);
    fault(BENCH_SWITCH_OPEN, 0, 24, 0);
    const struct day_summary *day = first_day();
    assert_true(watch.events[EVENT_DRIVER_GAVE_UP] >= 1);
    assert_true(day->switch_operations < 100);
    assert_near(account_missing_mol(&day->account), 13, 0.01);
    sim_watch_end(&watch);
}

/* The dimming output stops obeying at noon. */
static void dim_output_stuck(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(20);
    fault(BENCH_DIM_STUCK, 12, 1, 0);
    fault(BENCH_HEAT_STEP, 12.2, 0.5, 35); /* it would have to dim */
    (void)first_day();
    assert_true(watch.hottest_c < 82);
    sim_watch_end(&watch);
}

/* The configuration's watts become `share` of what the lamp on the bench takes. */
static void promise_watts(int fixture, double share)
{
    struct dimcurve *curve = &sim.rules[fixture].curve;
    struct dimcurve_point points[DIMCURVE_POINTS_MAX];
    const int count = curve->count;
    memcpy(points, curve->points, sizeof points);
    for (int i = 0; i < count; i++) {
        points[i].watts *= share;
    }
    assert_int_equal(dimcurve_init(curve, points, count, NULL), DIMCURVE_OK);
    sim_config_join(&sim);
}

/* Said once a day of the one fixture whose curve is another lamp's, and nothing is done about it.
 */
static void a_curve_of_another_lamp(void **state)
{
    (void)state;
    const double shares[] = {0.6, 0.9, 1.1, 1.7};
    for (size_t i = 0; i < sizeof shares / sizeof shares[0]; i++) {
        const bool is_clear = shares[i] < 0.7 || shares[i] > 1.4;
        sim_config_init(&sim, 2);
        begin(40 + i);
        promise_watts(1, shares[i]);
        watch.curve_may_differ = is_clear;
        sim_until_day(&watch, 2);
        assert_int_equal(watch.events[EVENT_CURVE_WRONG], is_clear ? 2 : 0);
        assert_int_equal(watch.events[EVENT_DRIVER_TRIP], 0);
        assert_near(watch.days[0].summary.account.delivered_mol, 13, 0.05);
        sim_watch_end(&watch);
    }
}

/* Without a meter the light speaks, beyond what the gain learns as ageing. */
static void light_against_the_curve(void **state)
{
    (void)state;
    const double gains[] = {0.4, 0.7, 1, 1.3};
    for (size_t i = 0; i < sizeof gains / sizeof gains[0]; i++) {
        sim_config_init(&sim, 1);
        sim.rules[0].has_power = false;
        begin(50 + i);
        watch.light_may_lie = true;
        watch.curve_may_differ = gains[i] < 0.5;
        fault(BENCH_PPFD_GAIN, 0, 100, gains[i]);
        sim_until_day(&watch, 2);
        assert_int_equal(watch.events[EVENT_CURVE_WRONG], gains[i] < 0.5 ? 2 : 0);
        sim_watch_end(&watch);
    }
}

/* Nine steps are five days of lights-on and lights-off. Told once, whatever the sun adds, and
 * nothing is changed by itself. */
static void a_sensor_that_reads_wrong(void **state)
{
    (void)state;
    const double gains[] = {0.88, 0.98, 1.02, 1.15};
    for (size_t i = 0; i < 2 * sizeof gains / sizeof gains[0]; i++) {
        const double gain = gains[i / 2];
        sim_config_init(&sim, 1);
        sim.space.rules.sees_daylight = i % 2 == 1;
        begin(70 + i);
        watch.light_may_lie = true;
        fault(BENCH_PPFD_GAIN, 0, 400, gain);
        sim_until_day(&watch, 8);
        assert_int_equal(watch.events[EVENT_LIGHT_DRIFT], fabs(gain - 1) > 0.05 ? 1 : 0);
        sim_watch_end(&watch);
    }
}

/* The line is lost just before lights-off, so the lamp burns on into the night: what may have
 * fallen is what the model says fell. */
static void an_opening_that_never_arrived(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(60);
    watch.night_may_break = true;
    watch.light_may_lie = true;
    fault(BENCH_BUS_DOWN, 21.75, 1.5, 0);
    sim_for(&watch, 23 * HOUR);
    const struct rehearsal_view view = rehearsal_view(watch.rehearsal, 0);
    assert_int_equal(watch.events[EVENT_OPENING_UNCONFIRMED], 1);
    assert_near(view.verdict->fixtures[0].unsure_s, 1.25 * HOUR, 10);
    assert_true(watch.night_umol_s > 10000);
    assert_near(view.state->night_possible, watch.night_umol_s, 0.03 * watch.night_umol_s);
    (void)first_day();
    assert_int_equal(watch.events[EVENT_OPENING_CONFIRMED], 1);
    sim_watch_end(&watch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sensor_lost_at_noon),
        cmocka_unit_test(sensor_troubles),
        cmocka_unit_test(bus_down_for_an_hour),
        cmocka_unit_test(heat_and_foldback),
        cmocka_unit_test(heat_trip_and_latch),
        cmocka_unit_test(blind_to_heat),
        cmocka_unit_test(trip_at_high_drive),
        cmocka_unit_test(welded_switch),
        cmocka_unit_test(contact_does_not_close),
        cmocka_unit_test(dim_output_stuck),
        cmocka_unit_test(a_curve_of_another_lamp),
        cmocka_unit_test(light_against_the_curve),
        cmocka_unit_test(a_sensor_that_reads_wrong),
        cmocka_unit_test(an_opening_that_never_arrived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
