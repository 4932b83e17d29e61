/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Physics of one simulated fixture, used by bench_model.c alone: contact, dimming curve,
 * hysteresis, trip, light, wall power and heat. Plain values, no noise, no faults' timing, no
 * clock.
 *
 * Light between the points of the curve follows straight lines. At power-up the lamp strikes at any
 * drive from its turn-off drive (the first lit point) upwards; once it was dimmed out while powered
 * it comes back only `turn_on_margin` above that drive, as LED drivers with a dim-to-off input do.
 */
#ifndef LAMPWARDEN_BENCH_FIXTURE_H
#define LAMPWARDEN_BENCH_FIXTURE_H

#include "bench_model.h"

/* What the fault script does to one fixture during one step. */
struct bench_fixture_faults {
    bool is_dead, is_welded, is_open;
    double trip_drive; /* NaN: by the setup */
    double heat_step_k;
};

struct bench_fixture {
    struct bench_fixture_setup setup;
    double turn_off_drive; /* 2 when the curve never lights */
    double standby_w;      /* with the contact closed and no light */
    double radiant_w;      /* power that leaves as light at level 1 and 60 °C */

    double drive;
    double curve_level, curve_watts; /* at this drive, when lit */
    bool is_commanded_closed;
    bool contact;
    bool is_lit, is_tripped;
    double over_s; /* above the trip drive */
    double open_s; /* without mains */

    double umol; /* at the canopy */
    double watts;
    double heat_w; /* into the heatsink */
    double heatsink_c;
    double sensor_c; /* after the sensor's lag */
};

void bench_fixture_init(struct bench_fixture *fixture, const struct bench_fixture_setup *setup,
                        double room_c);
void bench_fixture_set_drive(struct bench_fixture *fixture, double drive);
void bench_fixture_step(struct bench_fixture *fixture, const struct bench_fixture_faults *faults,
                        double room_c, double dt_s);

/* Where its sensor sits: the heatsink plus the immediate rise of the board. */
double bench_fixture_board_c(const struct bench_fixture *fixture);

#endif
