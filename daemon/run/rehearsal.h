/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A rehearsal: the same decisions, sensors' quality and records as the daemon's, against the bench
 * instead of drivers, as fast as the machine can. Simulated time starts where the first light day
 * begins.
 *
 * One bench model holds every fixture and one canopy a space, numbered as in the configuration:
 * that is what a fault script's units count. The same configuration, options and seed give the same
 * bytes.
 */
#ifndef LAMPWARDEN_REHEARSAL_H
#define LAMPWARDEN_REHEARSAL_H

#include "bench_model.h"
#include "config.h"
#include "daylight.h"
#include "decide.h"
#include "journal.h"

#include <stdbool.h>
#include <stdint.h>

struct err;
struct rehearsal;

struct rehearsal_options {
    int64_t from_day; /* first light day, days since 1970-01-01 */
    double step_s;    /* 0.1 … 60; usual 1, the daemon's tick */
    uint64_t seed;
    struct daylight *daylight; /* NULL: dark outside; lent by the caller */
    const char *faults_path;   /* NULL: none */
    struct journal *journal;   /* NULL: nothing is stored; lent by the caller */
};

/* What one space saw and decided in the last step. Pointers stay valid as long as the rehearsal. */
struct rehearsal_view {
    const struct now *now;
    const struct space_state *state;
    const struct verdict *verdict;
};

/* The configuration is lent and must outlive the rehearsal. */
int rehearsal_create(const struct config *config, const struct rehearsal_options *options,
                     struct rehearsal **ret, struct err *err);
void rehearsal_destroy(struct rehearsal *rehearsal); /* NULL is fine */

/* One tick of every space. */
void rehearsal_step(struct rehearsal *rehearsal);

struct rehearsal_view rehearsal_view(const struct rehearsal *rehearsal, int space);
struct bench_model *rehearsal_model(struct rehearsal *rehearsal);
int64_t rehearsal_wall_s(const struct rehearsal *rehearsal);
double rehearsal_seconds(const struct rehearsal *rehearsal); /* since the start */

/* Things that happen to a daemon. */
void rehearsal_set_clock(struct rehearsal *rehearsal, int64_t wall_s, enum clock_trust trust);
void rehearsal_set_hand(struct rehearsal *rehearsal, int space, const struct hand *hand);
void rehearsal_try(struct rehearsal *rehearsal, int space, int fixture, const struct trial *drive,
                   const struct trial *contact);
/* A person accepts what the lamps' steps show; see space_correct. */
bool rehearsal_correct(struct rehearsal *rehearsal, int space, enum correction_of of);
void rehearsal_acknowledge(struct rehearsal *rehearsal, int space); /* for the next step */

/* Killed now, started again after down_s with the state of the last tick; contacts open meanwhile.
 */
int rehearsal_restart(struct rehearsal *rehearsal, double down_s, struct err *err);

#endif
