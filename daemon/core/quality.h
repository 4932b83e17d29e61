/* SPDX-License-Identifier: Apache-2.0 */
/*
 * How far one sensor may be trusted: range, age, frozen, jump. One struct quality per sensor; step
 * it every tick with the newest sample, also when there is none.
 *
 * A value that fails is never replaced by 0. A sample that cannot be true (error, NaN, tiny, out of
 * range, power-on value) is refused and only lets the last good reading age: good, stale (same
 * value), lost (NaN). A sample that might be true (a jump, a frozen value) shows as suspect with
 * its own value and time, until it is believed, refuted or too old.
 */
#ifndef LAMPWARDEN_QUALITY_H
#define LAMPWARDEN_QUALITY_H

#include "reading.h"

#include <stdbool.h>
#include <stdint.h>

struct quality_rules {
    double low, high;  /* plausible range, in the sensor's unit; outside it the sample is refused */
    int64_t stale_ns;  /* a good value older than this is stale */
    int64_t lost_ns;   /* … and older than this is lost; > stale_ns */
    double jump_per_s; /* largest believable change per second; INFINITY: any. A single jump is
                          suspect; the third sample in a row near the new value is believed */
    int64_t frozen_ns; /* the value did not move for this long although the thing that moves it
                          changed by `frozen_stir` meanwhile; 0: not watched */
    double frozen_stir;  /* change of the stimulus that must show, e.g. 0.1 of the level */
    double frozen_above; /* a value up to this is never frozen: a dark sensor under a dead lamp
                            tells the truth; usual 1 for PPFD, −INFINITY for the rest */
    double power_on_c; /* a value that the chip shows before its first conversion (85 °C for 1-Wire
                          probes); NaN: none. Refused, but heat is never ignored: it counts at once
                          when the last good value, not older than stale_ns, lies within 5 of it or
                          a neighbour within 10, and without any neighbour once it has come for
                          lost_ns */
};

enum quality_fault {
    QUALITY_OK,
    QUALITY_NO_ANSWER,    /* no sample, or the driver reported an error */
    QUALITY_NOT_A_NUMBER, /* NaN or infinite */
    QUALITY_TINY,         /* 0 < |x| < 1e-6: a float read in the wrong word order */
    QUALITY_RANGE,
    QUALITY_JUMP,
    QUALITY_FROZEN,
    QUALITY_POWER_ON,
};

struct quality {
    struct reading last;      /* the last good reading; lost before the first */
    enum quality_fault fault; /* what was wrong with the newest sample, or is with its reading */
    double candidate;         /* a jump that may prove true; valid with candidate_count > 0 */
    int64_t candidate_ns;
    int candidate_count;
    bool is_stirred; /* the stimulus moved since the value last did */
    int64_t stirred_ns;
    double still_stimulus; /* the stimulus when the value last moved; NaN: not known then */
    int64_t sample_ns;     /* time of the newest sample seen, to notice repeats */
    bool is_powering_on;   /* power-on values since `power_on_ns`, no more than stale_ns apart */
    int64_t power_on_ns;
    int64_t power_on_seen_ns; /* the newest of them */
};

void quality_reset(struct quality *quality);

/* What a sensor said last; with error < 0 the rest is ignored. */
struct quality_sample {
    double value;
    int64_t taken_ns; /* boot time */
    int error;        /* 0 or a negative errno */
    double neighbour; /* good reading of another sensor on the same thing; NaN: there is none */
};

/* A sample already seen (taken_ns not later) only ages. stimulus: what moves the value, e.g. the
 * applied level; NaN: unknown. */
struct reading quality_step(const struct quality_rules *rules, struct quality *quality,
                            const struct quality_sample *sample, double stimulus, int64_t now_ns);

const char *quality_fault_name(enum quality_fault fault); /* "out of range", "frozen", … */

#endif
