/* SPDX-License-Identifier: Apache-2.0 */
/* The inside of a rehearsal, shared by rehearsal.c and rehearsal_outputs.c alone. */
#ifndef LAMPWARDEN_REHEARSAL_PARTS_H
#define LAMPWARDEN_REHEARSAL_PARTS_H

#include "inputs.h"
#include "powerplan.h"
#include "recorder.h"
#include "rehearsal.h"

struct obedience { /* of one fixture's outputs */
    double disagrees_s;
    bool is_fault;
};

struct rehearsal {
    const struct config *config;
    struct rehearsal_options options;
    struct bench_model *model;
    struct inputs *inputs;
    struct powerplan *power;    /* NULL: the spaces share nothing */
    struct sample *samples;     /* by sensor */
    struct space_state *states; /* by space, as are the following */
    struct now *nows;
    struct verdict *verdicts;
    struct recorder *recorders;
    struct recorder_air *airs;
    struct obedience (*obedience)[SPACE_FIXTURES_MAX];
    int64_t boot_ns;
    int64_t wall_ns;
    enum clock_trust trust;
    double price_per_kwh; /* of energy, and from when to when it holds */
    int64_t price_from_s, price_to_s;
    double seconds;
    uint64_t ticks;
};

/* What the daemon's own outputs would find: fills the fixtures of the space's `now`. */
void rehearsal_look_at_outputs(struct rehearsal *rehearsal, int space);

#endif
