/* SPDX-License-Identifier: Apache-2.0 */
/*
 * How far a space lights its lamps at a price, without jumps: what several spaces that share one
 * supply are compared by.
 *
 * The chain of a lampcurve answers a price in steps: all at once on a straight stretch, and from
 * off to its best level. Between two spaces that want the same watts such steps leave nobody to
 * choose, so each step is spread over a band of prices: a stretch of slope s fills in proportion to
 * ln(worth/s) from −spread to +spread. Ties are thereby shared, and as the spread goes to 0 the
 * answer becomes that of the chain.
 */
#ifndef LAMPWARDEN_POWERCURVE_H
#define LAMPWARDEN_POWERCURVE_H

#include "lampcurve.h"

#define POWERCURVE_STEPS_MAX 16

struct powercurve {
    const struct lampcurve *lamp;      /* outlives this */
    int count;                         /* steps of the lit part, 0 for a lamp that only switches */
    int best;                          /* steps that lie below the best level */
    double step[POWERCURVE_STEPS_MAX]; /* of level, from the lowest up; > 0 */
    double log_slope[POWERCURVE_STEPS_MAX];
    double best_level,
        best_log; /* of the step from off: its height, ln of its W per unit of level */
};

void powercurve_init(struct powercurve *ret, const struct lampcurve *lamp);

/* What limits the level: low > 0 forces the lamp on, at its lowest level at least; low 0: a level
 * below the lamp's lowest or best one stands for that part of the time at it. */
struct powercurve_limits {
    double low, high;
};

/* The level at ln(worth of full light in W), 0 where high is below the lamp's lowest level;
 * −INFINITY is worth nothing. Rises with log_worth. spread > 0. */
double powercurve_level(const struct powercurve *curve, double log_worth, double spread,
                        const struct powercurve_limits *limits);

/* Watts of such a level under the same limits, a part of the time by its mean; off draws nothing.
 */
double powercurve_watts(const struct powercurve *curve, double level,
                        const struct powercurve_limits *limits);

#endif
