/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What one space has counted since the daemon started: for those who read counters, which may only
 * grow and begin again at 0. The sums of a light day are no such thing: they outlive a restart,
 * perhaps a little older, and end with the day. A reload that keeps the space keeps its counts.
 *
 * Belongs to the tick; readers see the copy in the snapshot. No allocation.
 */
#ifndef LAMPWARDEN_TALLY_H
#define LAMPWARDEN_TALLY_H

#include "config.h"
#include "decide.h"
#include "journal.h"

struct tally_fixture {
    uint64_t switch_operations; /* closings and openings of its contact */
    uint64_t heat_trips;        /* too hot, or no reading of it */
    uint64_t driver_trips;      /* of its LED driver */
};

struct tally {
    double energy_j;
    double cost;                        /* in the site's currency */
    double lamp_mol, daylight_mol;      /* mol m⁻² at the canopy */
    double limiter_s[LIMITER_COUNT];    /* for how long each one ruled */
    uint64_t events[JOURNAL_ALARM + 1]; /* of the space, by enum journal_class */
    uint64_t night_breaks;
    struct tally_fixture fixtures[SPACE_FIXTURES_MAX];
};

/* The running sums as they were before a decision. */
struct tally_before {
    double energy_kwh, cost, lamp_mol, daylight_mol;
    uint64_t switch_operations[SPACE_FIXTURES_MAX];
};

struct tally_before tally_look(const struct space_state *state);

/* After the decision; dt_s: since the one before. */
void tally_step(struct tally *tally, const struct tally_before *before,
                const struct space_state *state, const struct verdict *verdict, double dt_s);

void tally_event(struct tally *tally, const struct decide_event *event, enum journal_class class);

/* After a reload: the counts of each fixture go to its place in the new list of the space. */
void tally_carry(struct tally *tally, const struct config *before, int old_space,
                 const struct config *after, int space);

#endif
