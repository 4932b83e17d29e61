/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Many light days of one space in which something is wrong, indoors or under an invented sun, on
 * ticks of a minute (those of the sensor's gain: 10 s) under the invariants of sim_day.h: figures
 * of what it cost the plants and the purse. Two lamps of 210 µmol, 17 mol in 16 h from 06:00, three
 * prices of energy.
 */
#ifndef LAMPWARDEN_FAULT_YEAR_H
#define LAMPWARDEN_FAULT_YEAR_H

#include <stdbool.h>

enum fault_year_kind {
    FAULT_YEAR_NONE,
    FAULT_YEAR_HEAT,          /* hot evenings leave half of the lamps, for a month */
    FAULT_YEAR_GAIN,          /* the sensor drifts to 5 % too high in 60 days, and stays there */
    FAULT_YEAR_GAIN_ACCEPTED, /* … until a person accepts what the lamps' steps show */
    FAULT_YEAR_SENSOR,        /* no light reading for two days */
    FAULT_YEAR_PRICES,        /* hourly prices whose file lacks the last day */
    FAULT_YEAR_CLOCK,         /* an hour forward at noon, and back four days later */
    FAULT_YEAR_KINDS
};

struct fault_year {
    int days;
    int missed;       /* below 98 % of the target in truth, though feasible */
    double short_mol; /* in truth, of feasible days */
    double ratio;     /* cost of the lamp light over the cheapest in hindsight; NaN: no day's */
    int bounded;      /* days that have one */
    int events;       /* alarms and notices */
    int night_breaks; /* told; true ones end the test */
};

/* "heat", "gain", …: parts of figures' names. */
const char *fault_year_name(enum fault_year_kind kind);

/* days 12 … 365: the faults are shorter where there are fewer. A broken invariant fails the test.
 */
struct fault_year fault_year_run(enum fault_year_kind kind, bool has_sun, int days);

#endif
