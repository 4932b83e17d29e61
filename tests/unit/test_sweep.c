/* SPDX-License-Identifier: Apache-2.0 */
/* A sweep of simulated lamps in simulated time, guarded as the daemon guards them. */
#include "sweep.h"

#include "err.h"
#include "lamprig.h"
#include "near.h"
#include "sweep_result.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define LONGEST_S 20000
#define SEEDS     24

static const struct sweep_rules usual = {
    .steps = 20,
    .top_drive = 1,
    .reference_drive = 0.6,
    .fine = 0.004,
    .reference_every = 4,
    .settle = {.least_s = 3, .most_s = 40, .samples = 8},
    .warm_least_s = 120,
    .warm_most_s = 1800,
    .lost_s = 30,
    .trips_most = 1,
    .has_switch = true,
};

/* Too big for a stack. */
static struct sweep sweep;
static struct sweep_result result;
static double shares[LONGEST_S]; /* second by second, of the last run */

static void run(struct lamprig *rig, const struct sweep_rules *rules)
{
    struct lampwish wish = {0};
    struct lampsight sight;
    lamprig_start(rig);
    sweep_begin(&sweep, rules, 0);
    for (int s = 0; s < LONGEST_S && !sweep.is_done; s++) {
        lamprig_second(rig, &wish, &sight);
        sweep_look(&sweep, &sight, &wish);
        shares[s] = sweep_share(&sweep, sight.now_s);
        assert_true(shares[s] >= (s > 0 ? shares[s - 1] : 0) && shares[s] <= 1);
    }
    lamprig_stop(rig);
    assert_true(sweep.is_done);
}

static void run_well(struct lamprig *rig, const struct sweep_rules *rules)
{
    struct err err = {0};
    run(rig, rules);
    if (sweep.why[0] || sweep_result_of(&sweep, &result, &err) != 0) {
        fail_msg("seed %d: %s %s", (int)rig->setup.seed, sweep.why, err.text);
    }
}

static double interpolate(const double *x, const double *y, int count, double at)
{
    int i = 1;
    while (i < count - 1 && at > x[i]) {
        i++;
    }
    return y[i - 1] + (y[i] - y[i - 1]) * (at - x[i - 1]) / (x[i] - x[i - 1]);
}

/* The fitted curve against the simulated lamp's own. */
static void check_curve(const struct lamprig *rig, double from, double to, double close)
{
    const struct bench_fixture_setup *lamp = &rig->setup.fixtures[0];
    const double full = interpolate(lamp->drive, lamp->level, lamp->point_count, to);
    for (int i = 0; i <= 40; i++) {
        const double drive = from + (to - from) * i / 40;
        const double level = interpolate(lamp->drive, lamp->level, lamp->point_count, drive);
        const double watts = interpolate(lamp->drive, lamp->watts, lamp->point_count, drive);
        assert_near(dimcurve_level(&result.fit.curve, drive), level / full, close);
        if (rig->has_meter) {
            assert_near(dimcurve_watts(&result.fit.curve, drive), watts, 300 * close);
        }
    }
}

static void finds_everything(void **state)
{
    (void)state;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct lamprig rig;
        lamprig_defaults(&rig, (uint64_t)seed);
        rig.setup.fixtures[0].turn_on_margin = 0.02 + 0.002 * seed;
        run_well(&rig, &usual);
        assert_int_equal(rig.trips, 0); /* though the configured curve promises light everywhere */
        assert_near(result.off_drive, 0.08, 0.005);
        assert_near(result.on_drive, 0.10 + 0.002 * seed, 0.005);
        assert_near(result.fit.saturated_above, 0.95, 0.01);
        assert_near(result.fit.holds_drive, 0.08, 0.005);
        assert_near(result.fit.holds_level, 0.1, 0.006);
        assert_near(result.fit.lights_drive, result.on_drive, 0.005);
        assert_near(result.droop_per_k, 0.001, 0.0004);
        assert_near(result.droop, 0.001 * (result.hot_c - result.cold_c), 0.004);
        assert_true(result.hot_c > 37 && result.cold_c < 22);
        check_curve(&rig, result.on_drive + 0.005, 1, 0.01);
        assert_true(result.fit.rms_level < 0.004 && result.fit.worst_level < 0.015);
    }
}

/* A day with clouds of an hour: ± 40 µmol on 100. */
static void daylight_drifts(void **state)
{
    (void)state;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct lamprig rig;
        lamprig_defaults(&rig, (uint64_t)seed);
        rig.daylight_umol = 100;
        rig.daylight_swing = 40;
        run_well(&rig, &usual);
        assert_int_equal(rig.trips, 0);
        assert_near(result.off_drive, 0.08, 0.005);
        assert_near(result.on_drive, 0.10, 0.005);
        assert_near(result.fit.saturated_above, 0.95, 0.015);
        check_curve(&rig, result.on_drive + 0.005, 1, 0.015);
        assert_true(result.dark_least > 57 && result.dark_most < 143);
        assert_true(result.dark_most - result.dark_least > 40);
    }
}

/* Read every 5 s: slower, and dark visits are as short. */
static void a_slow_sensor(void **state)
{
    (void)state;
    for (int seed = 1; seed <= 3; seed++) {
        struct lamprig rig;
        lamprig_defaults(&rig, (uint64_t)seed);
        rig.sample_s = 5;
        run_well(&rig, &usual);
        assert_int_equal(rig.trips, 0);
        assert_near(result.off_drive, 0.08, 0.005);
        assert_near(result.on_drive, 0.10, 0.005);
        check_curve(&rig, result.on_drive + 0.005, 1, 0.012);
    }
}

static void a_trip_lowers_the_top(void **state)
{
    (void)state;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct lamprig rig;
        lamprig_defaults(&rig, (uint64_t)seed);
        rig.setup.fixtures[0].trip_drive = 0.87;
        run_well(&rig, &usual);
        assert_int_equal(rig.trips, 1);
        assert_int_equal(sweep.trips, 1);
        assert_near(sweep.trip_drive, 0.90, 1e-6);
        const int last = result.fit.curve.count - 1;
        assert_near(result.fit.curve.points[last].drive, 0.85, 0.001);
        check_curve(&rig, result.on_drive + 0.005, 0.85, 0.012);
        assert_true(isnan(result.fit.saturated_above));
    }
}

static void a_lamp_that_never_goes_dark(void **state)
{
    (void)state;
    struct lamprig rig;
    lamprig_defaults(&rig, 5);
    struct bench_fixture_setup *lamp = &rig.setup.fixtures[0];
    lamp->point_count = 3;
    const double drive[] = {0, 0.1, 1}, level[] = {0.1, 0.1, 1}, watts[] = {33, 33, 300};
    memcpy(lamp->drive, drive, sizeof drive);
    memcpy(lamp->level, level, sizeof level);
    memcpy(lamp->watts, watts, sizeof watts);
    rig.has_meter = rig.has_heat = false;
    rig.daylight_umol = 30;
    run_well(&rig, &usual);
    assert_true(isnan(result.off_drive) && isnan(result.fit.dead_below));
    assert_near(result.fit.holds_drive, 0, 0);
    assert_near(result.fit.holds_level, 0.1, 0.01);
    assert_false(result.fit.has_watts);
    assert_true(isnan(result.droop_per_k));
    check_curve(&rig, 0, 1, 0.012);
}

/* The plants' ceiling holds it at 0.7: that is where the curve ends. */
static void a_lamp_that_is_held_back(void **state)
{
    (void)state;
    struct lamprig rig;
    lamprig_defaults(&rig, 6);
    rig.held_drive = 0.68;
    run_well(&rig, &usual);
    assert_near(result.fit.curve.points[result.fit.curve.count - 1].drive, 0.68, 1e-9);
    check_curve(&rig, 0.11, 0.68, 0.012);
}

static void fault(struct lamprig *rig, enum bench_fault_kind kind, double from_s, double length_s,
                  double value)
{
    const struct bench_fault it = {from_s, length_s, kind, 0, value};
    assert_int_equal(bench_model_add_fault(rig->model, &it), 0);
}

static void run_with(struct lamprig *rig, enum bench_fault_kind kind, double from_s)
{
    struct lampwish wish = {0};
    struct lampsight sight;
    lamprig_start(rig);
    fault(rig, kind, from_s, 1e6, 0);
    sweep_begin(&sweep, &usual, 0);
    for (int s = 0; s < LONGEST_S && !sweep.is_done; s++) {
        lamprig_second(rig, &wish, &sight);
        sweep_look(&sweep, &sight, &wish);
        shares[s] = sweep_share(&sweep, sight.now_s);
        assert_true(shares[s] >= (s > 0 ? shares[s - 1] : 0) && shares[s] <= 1);
    }
    lamprig_stop(rig);
    assert_true(sweep.is_done);
}

static void says(const char *words)
{
    if (!strstr(sweep.why, words)) {
        fail_msg("'%s' is not in '%s'", words, sweep.why);
    }
    struct err err;
    result.droop = 7;
    assert_int_equal(sweep_result_of(&sweep, &result, &err), -ENODATA);
    assert_string_equal(err.text, sweep.why);
    assert_near(result.droop, 7, 0);
}

static void gives_up(void **state)
{
    (void)state;
    struct lamprig rig;
    lamprig_defaults(&rig, 7);
    run_with(&rig, BENCH_DEAD, 0);
    assert_int_equal(rig.trips, 0); /* before anybody calls it a trip */
    says("no light from the lamp at drive 0.60");
    lamprig_defaults(&rig, 7);
    run_with(&rig, BENCH_PPFD_SILENT, 900);
    says("no good light reading for 30 s");
    assert_true(rig.now_s < 960);
    lamprig_defaults(&rig, 7);
    run_with(&rig, BENCH_SWITCH_OPEN, 0);
    says("no light from the lamp");
    lamprig_defaults(&rig, 7);
    rig.setup.fixtures[0].trip_drive = 0.87;
    struct sweep_rules none = usual;
    none.trips_most = 0;
    run(&rig, &none);
    assert_int_equal(rig.trips, 1);
    says("the LED driver tripped at drive 0.900: more often than agreed");
}

/* One that dies in the middle: nobody stores darkness for light. */
static void a_lamp_that_dies(void **state)
{
    (void)state;
    struct lamprig rig;
    lamprig_defaults(&rig, 8);
    run_with(&rig, BENCH_DEAD, 1500);
    assert_true(rig.trips <= usual.trips_most + 1);
    assert_true(strstr(sweep.why, "more often than agreed") || strstr(sweep.why, "no light"));
}

static void a_frozen_sensor_contradicts_itself(void **state)
{
    (void)state;
    struct lamprig rig;
    struct err err;
    lamprig_defaults(&rig, 9);
    run_with(&rig, BENCH_PPFD_STUCK, 1600);
    assert_true(sweep.why[0] || sweep_result_of(&sweep, &result, &err) == -EDOM);
}

static void says_how_long(void **state)
{
    (void)state;
    double least_s = 0, most_s = 0;
    struct lamprig rig;
    sweep_lengths(&usual, &least_s, &most_s);
    lamprig_defaults(&rig, 10);
    run_well(&rig, &usual);
    assert_true(rig.now_s > least_s && rig.now_s < most_s);
    assert_string_equal(sweep_kind_name(SWEEP_BEND), "bend");
    for (int tenth = 1; tenth < 10; tenth++) { /* and on the way how far it is */
        assert_true(fabs(shares[(int)rig.now_s * tenth / 10] - tenth / 10.0) < 0.2);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_everything),
        cmocka_unit_test(daylight_drifts),
        cmocka_unit_test(a_slow_sensor),
        cmocka_unit_test(a_trip_lowers_the_top),
        cmocka_unit_test(a_lamp_that_never_goes_dark),
        cmocka_unit_test(a_lamp_that_is_held_back),
        cmocka_unit_test(gives_up),
        cmocka_unit_test(a_lamp_that_dies),
        cmocka_unit_test(a_frozen_sensor_contradicts_itself),
        cmocka_unit_test(says_how_long),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
