/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Runs a rehearsal tick by tick under invariants that must hold whatever happens: checked on every
 * tick, a broken one fails the cmocka test with the simulated time and the values.
 */
#ifndef LAMPWARDEN_SIM_DAY_H
#define LAMPWARDEN_SIM_DAY_H

#include "rehearsal.h"

#define SIM_DAYS_MAX 400

struct sim_watch {
    const struct config *config;
    struct rehearsal *rehearsal;
    struct {
        bool closed;
        double since_s; /* since the contact moved, by this watch's own count */
        double drive;
    } contacts[SPACE_FIXTURES_MAX];
    double levels[SPACE_FIXTURES_MAX]; /* of the tick before */
    double truth_mol;                  /* light that really fell in the light day, from the model */
    double night_umol_s;               /* lamp light that really fell in the dark part */
    bool was_night;
    double hottest_c;
    double seconds;
    bool had_restart; /* since the last tick */
    int events[EVENT_KIND_COUNT];
    int day_count;
    struct {
        struct day_summary summary;
        double truth_mol;
    } days[SIM_DAYS_MAX];
    /* set by tests that break a rule on purpose */
    bool light_may_lie;   /* a sensor lies: delivered is not compared with the truth */
    bool night_may_break; /* the contact is welded or a person breaks the night */
    bool truth_is_partial;
    bool curve_may_differ; /* the lamp is not the one of the configuration */
};

void sim_watch_begin(struct sim_watch *watch, const struct config *config,
                     const struct rehearsal_options *options);
void sim_watch_end(struct sim_watch *watch);

/* One tick and all checks. */
void sim_tick(struct sim_watch *watch);

/* Ticks until a light day (counted from 0) has closed. */
void sim_until_day(struct sim_watch *watch, int days);

/* Ticks for so many simulated seconds. */
void sim_for(struct sim_watch *watch, double seconds);

void sim_restart(struct sim_watch *watch, double down_s);

#endif
