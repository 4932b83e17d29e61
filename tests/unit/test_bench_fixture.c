/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The physics of one simulated fixture against closed forms.
 *
 * Natural convection: conductance grows with the fourth root of the temperature difference (laminar
 * vertical plate, Nu = 0.59 Ra^0.25; Incropera & DeWitt, Fundamentals of Heat and Mass Transfer,
 * chapter 9), so that q = ΔT^1.25/(R_35 35^0.25) and ΔT = (q R_35 35^0.25)^0.8.
 */
#include "bench_fixture.h"
#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>

static const struct bench_fixture_faults no_faults = {.trip_drive = (double)NAN};

static void begin(struct bench_fixture *fixture, double watts, double room_c)
{
    struct bench_fixture_setup setup;
    bench_fixture_defaults(&setup, 420, watts);
    bench_fixture_init(fixture, &setup, room_c);
}

static void run(struct bench_fixture *fixture, double drive, double room_c, double seconds,
                double dt_s)
{
    bench_fixture_set_drive(fixture, drive);
    int steps = (int)ceil(seconds / dt_s - 1e-9);
    for (int i = 0; i < steps; i++) {
        bench_fixture_step(fixture, &no_faults, room_c, dt_s);
    }
}

/* Fixture of 600 W: of 564 W at the board 0.56 leave as light at 60 °C, 0.15 %/K less above. */
static double heat_600w(double level, double sink_c)
{
    double watts = 600 * (0.02 + 0.83 * level + 0.15 * level * level);
    return 0.94 * watts - 0.94 * 0.56 * 600 * level * (1 - 0.0015 * (sink_c - 60));
}

/* A dimming curve that is the level itself, with watts by the square law in fine steps. */
static void begin_600w(struct bench_fixture *fixture, double room_c)
{
    struct bench_fixture_setup setup;
    bench_fixture_defaults(&setup, 420, 600);
    setup.point_count = BENCH_POINTS_MAX;
    for (int i = 0; i < BENCH_POINTS_MAX; i++) {
        double level = (double)i / (BENCH_POINTS_MAX - 1);
        setup.drive[i] = setup.level[i] = level;
        setup.watts[i] = 600 * (0.02 + 0.83 * level + 0.15 * level * level);
    }
    bench_fixture_init(fixture, &setup, room_c);
    fixture->is_commanded_closed = true;
}

static void test_steady_state(void **state)
{
    (void)state;
    const double levels[] = {0.2, 0.5, 0.827, 1};
    for (size_t i = 0; i < sizeof levels / sizeof *levels; i++) {
        struct bench_fixture fixture;
        begin_600w(&fixture, 40);
        run(&fixture, levels[i], 40, 6 * 3600, 1);
        double q = heat_600w(levels[i], fixture.heatsink_c);
        double rise = pow(q * 0.145 * pow(35, 0.25), 0.8);
        assert_near(fixture.heatsink_c, 40 + rise, 0.05);
        assert_near(fixture.heat_w, q, 0.3);
        assert_near(bench_fixture_board_c(&fixture), fixture.heatsink_c + 0.01 * q, 0.01);
        assert_near(fixture.sensor_c, bench_fixture_board_c(&fixture), 0.01);
    }
}

/* Heat in = heat stored + heat given off, over a warm-up that is far from linear. */
static void test_energy_balance(void **state)
{
    (void)state;
    struct bench_fixture fixture;
    begin_600w(&fixture, 25);
    bench_fixture_set_drive(&fixture, 1);
    double in_j = 0, off_j = 0;
    for (int t = 0; t < 3600; t++) {
        double above = fixture.heatsink_c - 25;
        off_j += above > 0 ? pow(above, 1.25) / (0.145 * pow(35, 0.25)) : 0;
        bench_fixture_step(&fixture, &no_faults, 25, 1);
        in_j += fixture.heat_w;
    }
    assert_true(in_j > 600e3);
    assert_near(in_j, off_j + 5400 * (fixture.heatsink_c - 25), 1e-6 * in_j);
}

/* Linearised at 70 °C in 40 °C air: gain 37.6 K per unit of level, time constant 683 s
 * (dq/du = 297 W, 1.25/R − dq/dT = 7.90 W/K, C = 5400 J/K). */
static void test_gain_and_time_constant(void **state)
{
    (void)state;
    struct bench_fixture fixture;
    begin_600w(&fixture, 40);
    run(&fixture, 0.82, 40, 8 * 3600, 1);
    double before = fixture.heatsink_c;
    assert_near(before, 70, 0.6);
    bench_fixture_set_drive(&fixture, 0.84);
    double until = before + 0.02 * 37.6 * (1 - exp(-1));
    int seconds = 0;
    while (fixture.heatsink_c < until && seconds < 3600) {
        bench_fixture_step(&fixture, &no_faults, 40, 1);
        seconds++;
    }
    assert_in_range(seconds, 683 - 25, 683 + 25);
    run(&fixture, 0.84, 40, 8 * 3600, 1);
    assert_near((fixture.heatsink_c - before) / 0.02, 37.6, 0.6);
}

static void test_long_steps_agree_with_short_ones(void **state)
{
    (void)state;
    const double steps[] = {0.1, 1, 7, 60};
    double ends[4], middles[4];
    for (int i = 0; i < 4; i++) {
        struct bench_fixture fixture;
        begin_600w(&fixture, 25);
        run(&fixture, 1, 25, 840, steps[i]);
        middles[i] = fixture.heatsink_c;
        run(&fixture, 1, 25, 6 * 3600, steps[i]);
        ends[i] = fixture.heatsink_c;
    }
    for (int i = 1; i < 4; i++) {
        assert_near(ends[i], ends[0], 0.01);
        assert_near(middles[i], middles[0], 0.4);
    }
}

/* A very small heatsink must not make a long step explode. */
static void test_small_heatsink_is_stable(void **state)
{
    (void)state;
    struct bench_fixture_setup setup;
    bench_fixture_defaults(&setup, 420, 600);
    setup.c_j_per_k = 50;
    struct bench_fixture fixture;
    bench_fixture_init(&fixture, &setup, 25);
    fixture.is_commanded_closed = true;
    run(&fixture, 1, 25, 600, 60);
    double rise = pow(heat_600w(1, fixture.heatsink_c) * 0.145 * pow(35, 0.25), 0.8);
    assert_near(fixture.heatsink_c, 25 + rise, 0.5);
    run(&fixture, 0, 25, 600, 60);
    assert_true(fixture.heatsink_c > 24.9 && fixture.heatsink_c < 35);
}

static void test_curve(void **state)
{
    (void)state;
    struct bench_fixture fixture;
    begin(&fixture, 300, 25);
    fixture.is_commanded_closed = true;
    for (int i = 1; i < BENCH_CURVE_POINTS; i++) {
        fixture.heatsink_c = 25;
        run(&fixture, bench_curve[i].drive, 25, 0.01, 0.01);
        assert_near(fixture.umol, 420 * bench_curve[i].level, 0.05);
        assert_near(fixture.watts, 300 * bench_curve[i].watts_share, 1e-9);
    }
    run(&fixture, 0.30, 25, 0.01, 0.01);
    assert_near(fixture.curve_level, (0.255 + 0.355) / 2, 1e-12);
    bench_fixture_set_drive(&fixture, 3);
    assert_near(fixture.drive, 1, 0);
    bench_fixture_set_drive(&fixture, (double)NAN);
    assert_near(fixture.drive, 1, 0);
}

/* The usual watts follow 0.02 + 0.83 level + 0.15 level². */
static void test_usual_watts(void **state)
{
    (void)state;
    for (int i = 1; i < BENCH_CURVE_POINTS; i++) {
        double level = bench_curve[i].level;
        assert_near(bench_curve[i].watts_share, 0.02 + 0.83 * level + 0.15 * level * level, 6e-5);
    }
}

static void test_hysteresis(void **state)
{
    (void)state;
    struct bench_fixture fixture;
    begin(&fixture, 300, 25);
    bench_fixture_set_drive(&fixture, 0.08);
    fixture.is_commanded_closed = true;
    run(&fixture, 0.08, 25, 1, 1);
    assert_true(fixture.is_lit); /* power-up strikes at the turn-off drive */
    run(&fixture, 0.079, 25, 1, 1);
    assert_false(fixture.is_lit);
    assert_near(fixture.watts, 300 * 0.007, 1e-9);
    run(&fixture, 0.09, 25, 5, 1);
    assert_false(fixture.is_lit); /* dimmed out: comes back above the margin only */
    run(&fixture, 0.1, 25, 1, 1);
    assert_true(fixture.is_lit);
    run(&fixture, 0.081, 25, 1, 1);
    assert_true(fixture.is_lit);
    fixture.is_commanded_closed = false;
    run(&fixture, 0.081, 25, 1, 1);
    assert_near(fixture.watts, 0, 0);
    assert_near(fixture.umol, 0, 0);
}

static void test_warm_droop(void **state)
{
    (void)state;
    struct bench_fixture fixture;
    begin(&fixture, 300, 25);
    fixture.is_commanded_closed = true;
    run(&fixture, 1, 25, 1, 1);
    assert_near(fixture.umol, 420, 0.01);
    fixture.heatsink_c = 65; /* 40 K × 0.001 */
    run(&fixture, 1, 25, 0.01, 0.01);
    assert_near(fixture.umol, 420 * 0.96, 0.01);
}

static void test_trip_and_restrike(void **state)
{
    (void)state;
    struct bench_fixture_setup setup;
    bench_fixture_defaults(&setup, 420, 300);
    setup.trip_drive = 0.9;
    setup.trip_cold_c = 40;
    struct bench_fixture fixture;
    bench_fixture_init(&fixture, &setup, 20);
    fixture.is_commanded_closed = true;
    run(&fixture, 0.9, 20, 60, 0.5);
    assert_true(fixture.umol > 300); /* at the trip drive, not above it */
    run(&fixture, 0.95, 20, 1, 0.5);
    assert_true(fixture.umol > 300); /* one second is not yet a trip */
    run(&fixture, 0.95, 20, 0.5, 0.5);
    assert_near(fixture.umol, 0, 0);
    assert_near(fixture.watts, 300 * 0.007, 1e-9);
    run(&fixture, 0.3, 20, 600, 1);
    assert_near(fixture.umol, 0, 0); /* dimming does not bring it back */

    fixture.is_commanded_closed = false;
    run(&fixture, 0.3, 20, 4, 1);
    fixture.is_commanded_closed = true;
    run(&fixture, 0.3, 20, 10, 1);
    assert_near(fixture.umol, 0, 0); /* nor 4 s without mains */
    fixture.is_commanded_closed = false;
    run(&fixture, 0.3, 20, 5, 1);
    fixture.is_commanded_closed = true;
    run(&fixture, 0.3, 20, 1, 1);
    assert_true(fixture.umol > 100);

    fixture.heatsink_c = 60; /* warm: the same drive holds */
    run(&fixture, 0.95, 60, 60, 1);
    assert_true(fixture.umol > 300);
}

static void test_faults(void **state)
{
    (void)state;
    struct bench_fixture fixture;
    begin(&fixture, 300, 25);
    fixture.is_commanded_closed = true;
    run(&fixture, 0.85, 25, 1, 1);

    struct bench_fixture_faults faults = no_faults;
    faults.is_welded = true;
    fixture.is_commanded_closed = false;
    bench_fixture_step(&fixture, &faults, 25, 1);
    assert_true(fixture.umol > 300);
    bench_fixture_step(&fixture, &no_faults, 25, 1);
    assert_near(fixture.umol, 0, 0);
    bench_fixture_step(&fixture, &faults, 25, 1);
    assert_false(fixture.contact); /* welding an open contact does not close it */

    faults = no_faults;
    faults.is_open = true;
    fixture.is_commanded_closed = true;
    bench_fixture_step(&fixture, &faults, 25, 1);
    assert_near(fixture.watts, 0, 0);

    faults = no_faults;
    faults.is_dead = true;
    bench_fixture_step(&fixture, &faults, 25, 1);
    assert_near(fixture.umol, 0, 0);
    assert_true(fixture.watts > 0 && fixture.watts < 3);

    faults = no_faults;
    faults.trip_drive = 0.5;
    for (int i = 0; i < 2; i++) {
        bench_fixture_step(&fixture, &faults, 25, 1);
    }
    assert_true(fixture.is_tripped);

    begin(&fixture, 300, 25);
    faults = no_faults;
    faults.heat_step_k = 20;
    for (int i = 0; i < 20000; i++) {
        bench_fixture_step(&fixture, &faults, 25, 1);
    }
    assert_near(fixture.heatsink_c, 45, 0.2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_steady_state),
        cmocka_unit_test(test_energy_balance),
        cmocka_unit_test(test_gain_and_time_constant),
        cmocka_unit_test(test_long_steps_agree_with_short_ones),
        cmocka_unit_test(test_small_heatsink_is_stable),
        cmocka_unit_test(test_curve),
        cmocka_unit_test(test_usual_watts),
        cmocka_unit_test(test_hysteresis),
        cmocka_unit_test(test_warm_droop),
        cmocka_unit_test(test_trip_and_restrike),
        cmocka_unit_test(test_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
