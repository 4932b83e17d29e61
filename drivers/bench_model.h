/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The bench: simulated fixtures over simulated canopies in one room. Plain physics, no I/O, no
 * clock; time advances only in bench_model_step. The in-process driver, the Modbus device program
 * and the rehearsal all use it. The same seed and the same calls give the same bytes.
 *
 * A fixture: drive → level by its dimming curve (straight lines between the points; dark below the
 * first lit point), droop as it warms up, wall power by its curve. Powered up it strikes at any
 * drive from the first lit point on; dimmed out while powered it comes back `turn_on_margin` above
 * that. Its LED driver trips after more than 1 s above a drive (more readily when cold), then takes
 * 2 W until the contact was open for 5 s. Its heatsink: C dT/dt = q − (T − Ta)/R with R = R_35 (35
 * K/(T − Ta))^0.25 (natural convection); the sensor sits on the board, 0.01 K/W warmer, and has
 * lag, noise and a quantum of 0.25 K. The room: air temperature and humidity, a constant with a
 * slow daily swing (coldest at bench time 0 and every 24 h), warmed by the fixtures with a lag of
 * 10 min.
 */
#ifndef LAMPWARDEN_BENCH_MODEL_H
#define LAMPWARDEN_BENCH_MODEL_H

#include <stdbool.h>
#include <stdint.h>

#define BENCH_FIXTURES_MAX 64
#define BENCH_CANOPIES_MAX 64
#define BENCH_POINTS_MAX   32
#define BENCH_FAULTS_MAX   256
#define BENCH_CURVE_POINTS 11

struct err;

struct bench_fixture_setup {
    int canopy;      /* the canopy it lights */
    int point_count; /* dimming curve, as in the configuration */
    double drive[BENCH_POINTS_MAX], level[BENCH_POINTS_MAX], watts[BENCH_POINTS_MAX];
    double full_umol;      /* PPFD at the canopy at level 1, cold */
    double turn_on_margin; /* turn-on drive above the turn-off drive; usual 0.02 */
    double warm_droop;     /* share of light lost per K of heatsink above 25 °C; usual 0.001 */
    double trip_drive;     /* LED driver trips above this drive; 2: never */
    double trip_cold_c;    /* … only below this heatsink temperature; INFINITY: at any */
    double heat_w; /* heat into the heatsink at level 1 and 60 °C; usual 0.4136 × watts at full */
    double r35_k_per_w;  /* usual 36 K / heat_w: 0.145 for a fixture of 600 W */
    double c_j_per_k;    /* usual 21.8 s/K × heat_w: 5400 for a fixture of 600 W */
    double sensor_lag_s; /* usual 30 */
};

struct bench_setup {
    uint64_t seed;
    int fixture_count;
    struct bench_fixture_setup fixtures[BENCH_FIXTURES_MAX];
    int canopy_count;
    double ppfd_noise;           /* standard deviation, share of reading; usual 0.005 */
    double ppfd_quantum;         /* µmol; usual 0.1 */
    double heat_noise_c;         /* usual 0.15 */
    double room_c, room_swing_c; /* mean and half the daily swing */
    double room_k_per_w;         /* warming of the air per watt of all fixtures; usual 0.002 */
    double humidity_percent;
};

/* The usual dimming curve, watts as a share of the watts at full: dead below 0.08, saturated above
 * 0.95, and in between slightly bent; watts = 0.02 + 0.83 level + 0.15 level². */
struct bench_curve_point {
    double drive, level, watts_share;
};
extern const struct bench_curve_point bench_curve[BENCH_CURVE_POINTS];

/* Scripted faults. `unit` is a fixture (outputs, heat, power, trip, welded) or a canopy (ppfd);
 * bus-down and late concern everything, their unit is ignored. */
enum bench_fault_kind {
    BENCH_PPFD_STUCK,  /* the PPFD reading keeps its value */
    BENCH_PPFD_NAN,    /* reads NaN */
    BENCH_PPFD_SILENT, /* no answer */
    BENCH_PPFD_GAIN,   /* multiplied by value */
    BENCH_HEAT_STUCK,
    BENCH_HEAT_SILENT,
    BENCH_HEAT_STEP,   /* the room around this fixture is warmer by value K */
    BENCH_TRIP,        /* the LED driver trips above drive `value` whatever the temperature */
    BENCH_DEAD,        /* no light at any drive */
    BENCH_WELDED,      /* the contact does not open (read-back shows the command) */
    BENCH_SWITCH_OPEN, /* the contact opens and does not close (read-back shows the command) */
    BENCH_DIM_STUCK,   /* the dimming output ignores writes (read-back shows the old value) */
    BENCH_BUS_DOWN,    /* nothing of any unit answers, writes do not arrive */
    BENCH_LATE,        /* answers come value seconds late (device program only) */
    BENCH_FAULT_KINDS
};

struct bench_fault {
    double from_s, length_s; /* bench time: active while from ≤ time < from + length */
    enum bench_fault_kind kind;
    int unit;
    double value;
};

struct bench_model;

void bench_setup_defaults(struct bench_setup *setup); /* no fixtures, usual room */
void bench_fixture_defaults(struct bench_fixture_setup *fixture, double full_umol,
                            double full_watts);

/* "2,1,1": two usual fixtures over canopy 0, one over canopy 1, one over canopy 2. */
int bench_setup_layout(struct bench_setup *setup, const char *layout, double full_umol,
                       double full_watts, struct err *err);

bool bench_setup_is_usable(const struct bench_setup *setup); /* counts and indices fit */

/* NULL: no memory, or not usable. The setup is copied. Contacts begin open, drives at 0, everything
 * at room temperature. */
struct bench_model *bench_model_create(const struct bench_setup *setup);
void bench_model_destroy(struct bench_model *model);

int bench_model_fixtures(const struct bench_model *model); /* how many */
int bench_model_canopies(const struct bench_model *model);
int bench_model_canopy_of(const struct bench_model *model, int fixture); /* −1: no such fixture */

int bench_model_add_fault(struct bench_model *model, const struct bench_fault *fault); /* -ENOSPC */
/* For a script that turns out bad half-way: keep only the first `count` faults. */
int bench_model_fault_count(const struct bench_model *model);
void bench_model_cut_faults(struct bench_model *model, int count);

/* Take effect with the next step. Drives are clamped to 0 … 1; NaN and units that do not exist
 * change nothing. */
void bench_model_set_drive(struct bench_model *model, int fixture, double drive);
void bench_model_set_switch(struct bench_model *model, int fixture, bool closed);
void bench_model_set_daylight(struct bench_model *model, int canopy, double ppfd_umol);
void bench_model_step(struct bench_model *model, double dt_s); /* 0.01 … 60 s */
/* Steps of 1 s, longer ones (at most 60 s) where there is much to catch up; more than 10 days are
 * cut. */
void bench_model_run(struct bench_model *model, double seconds);

/* Readings as the sensors showed them at the last step: the same until the next one. Return 0,
 * -ETIMEDOUT when the fault script says silent, -EINVAL for a unit that does not exist; the value
 * may be NaN by script. */
int bench_model_ppfd(struct bench_model *model, int canopy, double *ret_umol);
int bench_model_heat(struct bench_model *model, int fixture, double *ret_c);
int bench_model_power(struct bench_model *model, int fixture, double *ret_w);
int bench_model_air(struct bench_model *model, double *ret_c, double *ret_humidity_percent);
int bench_model_drive(struct bench_model *model, int fixture, double *ret_drive); /* read-back */
int bench_model_switch(struct bench_model *model, int fixture, bool *ret_closed); /* read-back */

/* The truth, for checks: not what a sensor says. */
double bench_model_true_umol(const struct bench_model *model, int canopy); /* lamp + daylight */
double bench_model_true_lamp_umol(const struct bench_model *model, int canopy);
double bench_model_true_heatsink_c(const struct bench_model *model,
                                   int fixture); /* at the sensor's place */
double bench_model_seconds(const struct bench_model *model);
bool bench_model_has_fault(const struct bench_model *model, enum bench_fault_kind kind, int unit,
                           double *ret_value);

#endif
