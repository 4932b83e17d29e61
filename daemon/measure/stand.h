/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A light sensor that stands at one point of a survey: its readings until they have come to rest,
 * under a lamp whose level stands still too. No clock and no device: it is told what is seen.
 *
 * A reading that is not good, and a lamp that has left its level, start the wait afresh: what is
 * kept was read without a break.
 */
#ifndef LAMPWARDEN_STAND_H
#define LAMPWARDEN_STAND_H

#include "settle.h"

#include <stdbool.h>

#define STAND_LEVEL_SHARE 0.01 /* of its level: a lamp that moved by less has not moved */

struct stand_sight {
    double now_s;   /* a clock that steps back only when whoever reads was started anew */
    double umol;    /* the sensor's newest value; NaN: none that can be used */
    double taken_s; /* … and when it was measured; a repeated one keeps its time */
    double level;   /* of the lamps, 0 … 1; NaN: not known */
};

enum stand_state {
    STAND_SETTLES,  /* readings are taken */
    STAND_IS_DONE,  /* stand_mean_of tells */
    STAND_UNUSABLE, /* the reading is not good */
    STAND_MOVED,    /* the lamps left the level of the survey */
};

struct stand {
    struct settle_rules rules;
    struct settle settle;
    double level; /* of the lamps: what was wanted, or what they stand at */
    bool is_free; /* any level will do, but one */
    double last_s;
    enum stand_state state;
    bool is_begun;  /* something was seen */
    bool is_steady; /* when done: at rest, else taken as it is after rules.most_s */
};

/* level: of the survey so far; NaN: any, as long as it stands still. */
void stand_begin(struct stand *stand, const struct settle_rules *rules, double level);

enum stand_state stand_look(struct stand *stand, const struct stand_sight *sight);

/* Readings that count so far, rules.samples at most. */
int stand_samples(const struct stand *stand);

void stand_mean_of(const struct stand *stand, struct settle_mean *ret);

/* The lamps are where the survey wants them; true while that is not known. */
bool stand_is_level(double level, double wanted);

#endif
