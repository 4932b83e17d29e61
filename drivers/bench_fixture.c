/* SPDX-License-Identifier: Apache-2.0 */
#include "bench_fixture.h"

#include <math.h>

/* Of the wall power, 6 % stays in the LED driver's own housing; the rest reaches the led board and
 * leaves it as light or as heat. Radiant power falls with the heatsink's temperature. Engineering
 * estimates. */
#define BOARD_SHARE      0.94
#define RADIANT_PER_K    0.0015
#define RADIANT_AT_C     60.0
#define BOARD_K_PER_W    0.01
#define CONVECTION_REF_K 35.0

#define COLD_LIGHT_C 25.0 /* full_umol holds at this heatsink temperature */
#define STANDBY_W    2.0
#define TRIP_AFTER_S 1.0 /* above the trip drive */
#define RESET_S      5.0 /* without mains: the LED driver's store has emptied */
#define NEVER_DRIVE  2.0

/* Explicit steps of at most 1/50 of the time constant: the error of a 60 s step stays under 1 %. */
#define STEPS_PER_TIME_CONSTANT 50.0
#define STEPS_MAX               1000

static double interpolate(const double *x, const double *y, int count, double at)
{
    if (at <= x[0]) {
        return y[0];
    }
    for (int i = 1; i < count; i++) {
        if (at <= x[i]) {
            return y[i - 1] + (y[i] - y[i - 1]) * (at - x[i - 1]) / (x[i] - x[i - 1]);
        }
    }
    return y[count - 1];
}

static int first_lit(const struct bench_fixture_setup *setup)
{
    int i = 0;
    while (i < setup->point_count && !(setup->level[i] > 0)) {
        i++;
    }
    return i;
}

void bench_fixture_set_drive(struct bench_fixture *fixture, double drive)
{
    if (isnan(drive)) {
        return;
    }
    const struct bench_fixture_setup *setup = &fixture->setup;
    fixture->drive = fmin(fmax(drive, 0), 1);
    fixture->curve_level = 0;
    fixture->curve_watts = fixture->standby_w;
    if (fixture->drive >= fixture->turn_off_drive) {
        int first = first_lit(setup), count = setup->point_count - first;
        fixture->curve_level =
            interpolate(setup->drive + first, setup->level + first, count, fixture->drive);
        fixture->curve_watts =
            interpolate(setup->drive + first, setup->watts + first, count, fixture->drive);
    }
}

void bench_fixture_init(struct bench_fixture *fixture, const struct bench_fixture_setup *setup,
                        double room_c)
{
    *fixture = (struct bench_fixture){
        .setup = *setup, .heatsink_c = room_c, .sensor_c = room_c, .open_s = RESET_S};
    int count = setup->point_count, first = first_lit(setup);
    bool ever_lit = first < count;
    fixture->turn_off_drive = ever_lit ? setup->drive[first] : NEVER_DRIVE;
    fixture->standby_w = ever_lit && first > 0 ? setup->watts[first - 1] : STANDBY_W;
    double full_watts = ever_lit ? setup->watts[count - 1] : 0;
    fixture->radiant_w = BOARD_SHARE * full_watts - setup->heat_w;
    bench_fixture_set_drive(fixture, 0);
}

static void move_contact(struct bench_fixture *fixture, const struct bench_fixture_faults *faults,
                         double dt_s)
{
    bool was_closed = fixture->contact;
    bool stays = faults->is_welded && was_closed;
    fixture->contact = (fixture->is_commanded_closed || stays) && !faults->is_open;
    if (!fixture->contact) {
        fixture->open_s += dt_s;
        fixture->is_lit = false;
        if (fixture->open_s >= RESET_S) {
            fixture->is_tripped = false;
        }
        return;
    }
    fixture->open_s = 0;
    double strike_drive = fixture->turn_off_drive;
    if (was_closed && !fixture->is_lit) {
        strike_drive += fixture->setup.turn_on_margin;
    }
    fixture->is_lit = fixture->drive >= strike_drive;
}

static void watch_trip(struct bench_fixture *fixture, const struct bench_fixture_faults *faults,
                       double dt_s)
{
    const struct bench_fixture_setup *setup = &fixture->setup;
    bool is_over = fixture->drive > setup->trip_drive && fixture->heatsink_c < setup->trip_cold_c;
    if (!isnan(faults->trip_drive)) {
        is_over = fixture->drive > faults->trip_drive;
    }
    if (!fixture->is_lit || fixture->is_tripped || !is_over) {
        fixture->over_s = 0;
        return;
    }
    fixture->over_s += dt_s;
    if (fixture->over_s > TRIP_AFTER_S) {
        fixture->is_tripped = true;
        fixture->over_s = 0;
    }
}

/* Heat into the heatsink: what reaches the board less what leaves as light. */
static double heat_into_sink(const struct bench_fixture *fixture, double level)
{
    double radiant =
        fixture->radiant_w * level * (1 - RADIANT_PER_K * (fixture->heatsink_c - RADIANT_AT_C));
    return fmax(0, BOARD_SHARE * fixture->watts - radiant);
}

/* C dT/dt = q − (T − Ta)/R with R = R_35 (35 K/|T − Ta|)^0.25. */
static void warm_up(struct bench_fixture *fixture, double level, double room_c, double dt_s)
{
    const struct bench_fixture_setup *setup = &fixture->setup;
    double shortest_s = setup->r35_k_per_w * setup->c_j_per_k / STEPS_PER_TIME_CONSTANT;
    double wanted = ceil(dt_s / shortest_s);
    int steps = wanted >= 1 && wanted <= STEPS_MAX ? (int)wanted : STEPS_MAX;
    double h = dt_s / steps;
    for (int i = 0; i < steps; i++) {
        double above = fixture->heatsink_c - room_c;
        double steepening = sqrt(sqrt(fabs(above) / CONVECTION_REF_K));
        fixture->heat_w = heat_into_sink(fixture, level);
        double net_w = fixture->heat_w - above * steepening / setup->r35_k_per_w;
        fixture->heatsink_c += net_w * h / setup->c_j_per_k;
    }
}

void bench_fixture_step(struct bench_fixture *fixture, const struct bench_fixture_faults *faults,
                        double room_c, double dt_s)
{
    const struct bench_fixture_setup *setup = &fixture->setup;
    move_contact(fixture, faults, dt_s);
    watch_trip(fixture, faults, dt_s);

    bool gives_light = fixture->is_lit && !fixture->is_tripped && !faults->is_dead;
    double level = gives_light ? fixture->curve_level : 0;
    double lost = setup->warm_droop * (fixture->heatsink_c - COLD_LIGHT_C);
    fixture->umol = fmax(0, setup->full_umol * level * (1 - lost));
    fixture->watts = gives_light ? fixture->curve_watts : fixture->standby_w;
    if (!fixture->contact) {
        fixture->watts = 0;
    }
    warm_up(fixture, level, room_c + faults->heat_step_k, dt_s);
    /* implicit first-order lag: stable at any step, and exact arithmetic on every machine */
    fixture->sensor_c +=
        (bench_fixture_board_c(fixture) - fixture->sensor_c) * dt_s / (setup->sensor_lag_s + dt_s);
}

double bench_fixture_board_c(const struct bench_fixture *fixture)
{
    return fixture->heatsink_c + BOARD_K_PER_W * fixture->heat_w;
}
