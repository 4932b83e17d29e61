/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The chain of one tick: what every rule allowed. decide fills it on its way; what a fixture may
 * have is taken from it, so that what explains a moment is what ruled it. A rule that had nothing
 * to say allowed everything.
 *
 * Of the space: night, clock, ceiling, lost sensor, hand, ramps and the plan's own wish. Of a
 * fixture: its outputs, heat, LED driver, contact, power limit. The level that a fixture may have
 * is the smallest of its own rules and of what was asked of it; where it stands beside that is a
 * matter of its pace.
 */
#ifndef LAMPWARDEN_CHAIN_H
#define LAMPWARDEN_CHAIN_H

#include "limiter.h"

#include <stdbool.h>
#include <stdint.h>

#define CHAIN_FIXTURES_MAX 16
#define CHAIN_SAME         1e-6 /* levels so near are one */

/* Levels 0 … 1 by limiter; only those count whose bit is set. */
struct chain_rules {
    uint32_t said;
    double allowed[LIMITER_COUNT];
};

static inline void chain_say(struct chain_rules *rules, enum limiter limiter, double level)
{
    rules->said |= UINT32_C(1) << limiter;
    rules->allowed[limiter] = level;
}

static inline bool chain_has_said(const struct chain_rules *rules, enum limiter limiter)
{
    return (rules->said >> limiter & 1) != 0;
}

/* The smallest level that was said, and of equals the strongest rule; INFINITY and LIMITER_COUNT
 * where nothing was said. */
double chain_least(const struct chain_rules *rules, enum limiter *ret_limiter);

/* Where a fixture stands beside the level that it may have. */
enum chain_pace {
    CHAIN_THERE,  /* it has it; or its lowest level, where it may have light but less than that */
    CHAIN_RISES,  /* below, on its way up */
    CHAIN_FALLS,  /* above, on its way down */
    CHAIN_LOWEST, /* at its lowest level: its contact closes or opens, or serves its minimum on time
                   */
    CHAIN_WAITS,  /* dark: its contact waits for its turn to close, or the window is nearly over */
    CHAIN_PACE_COUNT
};

struct chain_fixture {
    struct chain_rules rules;
    double asked;          /* of it: by the space, or by somebody who moves its outputs */
    enum limiter asked_by; /* which rule of the space, or by-hand */
    enum chain_pace pace;
};

/* The level that the fixture may have, and who holds it there: of equals what was asked, but in the
 * dark the strongest. */
double chain_may_have(const struct chain_fixture *fixture, enum limiter *ret_limiter);

/* How the plan came to its level. */
enum chain_plan {
    CHAIN_PLAN_NONE,      /* no plan was asked, or the target is met */
    CHAIN_PLAN_ONE_LEVEL, /* one level for the rest of the window */
    CHAIN_PLAN_PRICED,    /* by the price of light */
    CHAIN_PLAN_SHARED,    /* by the plan of all spaces that share a supply */
    CHAIN_PLAN_HELD, /* the price says otherwise, but a run or rest of the lamp would be too short
                      */
    CHAIN_PLAN_COUNT
};

struct chain {
    struct chain_rules rules; /* of the space; the smallest of them is what it asks */
    enum chain_plan plan;
    double light_price; /* that the plan pays, currency per mol m⁻²; NaN: it knows none */
    struct chain_fixture fixtures[CHAIN_FIXTURES_MAX]; /* as many as the space has */
};

#endif
