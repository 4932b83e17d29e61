/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The highest drive that an LED driver holds. Some shut down above roughly 85–90 % of their dimming
 * range, more often cold (common practice, no source).
 *
 * Approached upwards in small steps; at each the light must stay, and the power where there is a
 * meter. Both gone is a trip: whoever guards the lamp says so and lets it rest, then its trip is
 * acknowledged and the next approach begins a little below. Where nobody says so, the switch is
 * opened here for a rest. Never more trips than agreed. Light and power that contradict each other
 * end the search.
 */
#ifndef LAMPWARDEN_CEILINGSEARCH_H
#define LAMPWARDEN_CEILINGSEARCH_H

#include "lampsight.h"

#define CEILINGSEARCH_ROUNDS_MAX 8

struct ceilingsearch_rules {
    double from_drive, top_drive; /* usual 0.80 and 1 */
    double step;                  /* usual 0.01 */
    double dwell_s;               /* at each; longer than a guard needs; usual 12 */
    double margin;                /* the answer stays that far below; usual 0.05 */
    double lost_s;                /* without a light reading: given up; usual 30 */
    int rounds;                   /* approaches, 1 … CEILINGSEARCH_ROUNDS_MAX; usual 2 */
    int trips_most;               /* over all; usual that many */
};

struct ceilingsearch_round {
    double held_drive; /* highest that held; NaN: not even the first */
    double trip_drive; /* NaN: none up to the top */
    double heat_c;     /* heatsink then; NaN: not known */
};

enum ceilingsearch_stage {
    CEILINGSEARCH_DARK, /* at drive 0: what the daylight is */
    CEILINGSEARCH_APPROACH,
    CEILINGSEARCH_FALLEN, /* light and power are gone: waits for the guard's word */
    CEILINGSEARCH_OPENED, /* nobody said it: a rest with the switch open */
    CEILINGSEARCH_REST,   /* the guard's */
    CEILINGSEARCH_END
};

struct ceilingsearch {
    struct ceilingsearch_rules rules;
    enum ceilingsearch_stage stage;
    bool is_done;
    char why[160]; /* not empty: given up */
    int round_count, trips;
    struct ceilingsearch_round rounds[CEILINGSEARCH_ROUNDS_MAX];

    double drive, top_drive; /* asked, and the highest that may still be asked */
    double held_drive;       /* of this round */
    bool has_arrived;
    double since_s, stood_s, stood_drive, new_s, taken_s;
    double dark_umol;
    int samples, gone, half;      /* at this drive: all, light and power gone, only one of them */
    double umol, watts;           /* mean at this drive */
    double good_umol, good_watts; /* at the last that held; NaN: none yet */
};

void ceilingsearch_begin(struct ceilingsearch *search, const struct ceilingsearch_rules *rules,
                         double now_s);
void ceilingsearch_look(struct ceilingsearch *search, const struct lampsight *sight,
                        struct lampwish *ret);

/* The drive ceiling to store: what held in every round less the margin when it tripped in any, else
 * the top that was reached. NaN: not even the first drive held. ret_heat_c: heatsink at the lowest
 * trip; NaN: none or not known. */
double ceilingsearch_ceiling(const struct ceilingsearch *search, double *ret_heat_c);

/* About, when it does not trip and when it trips every time (with rests of rest_s). */
void ceilingsearch_lengths(const struct ceilingsearch_rules *rules, double rest_s,
                           double *ret_least_s, double *ret_most_s);

#endif
