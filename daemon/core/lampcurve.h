/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the light of a whole space costs in watts: the dimming curves of all its fixtures joined
 * into one curve of power over level, made convex so that every watt price has one best level.
 *
 * Level here is the space's: PPFD-weighted, 0 … 1 of full light; a fixture below its own minimum
 * burns at that minimum. The lit part [min_level, 1] is sampled at LAMPCURVE_POINTS_MAX levels and
 * replaced by its lower convex hull, a chain of straight lines with rising slope. Off is a point
 * apart: (0, off_w). The cheapest photon is at the best level, where the line from off touches the
 * chain; dimming below it saves watts and wastes mol.
 */
#ifndef LAMPWARDEN_LAMPCURVE_H
#define LAMPWARDEN_LAMPCURVE_H

#include "dimcurve.h"

#define LAMPCURVE_POINTS_MAX 65
#define LAMPCURVE_TIE        1e-10 /* worths that differ by this part or less are the same */

struct lampcurve {
    int count;                          /* points of the chain, ≥ 1; the last has level 1 */
    double level[LAMPCURVE_POINTS_MAX]; /* strictly rising, level[0] is the lowest steady level */
    double watts[LAMPCURVE_POINTS_MAX]; /* ≥ 0 */
    double slope[LAMPCURVE_POINTS_MAX]; /* W per unit of level from i to i + 1, rising; count − 1 */
    double off_w;                       /* 0 … watts[0] */
    int best;                           /* index of the cheapest photon */
};

struct lampcurve_part {
    const struct dimcurve *curve;
    double full_umol; /* > 0 */
};

/* Joins count ≥ 1 fixtures at a common level. off_w: what all of them draw with open contacts;
 * taken as no more than they draw at their lowest. */
void lampcurve_join(struct lampcurve *ret, const struct lampcurve_part *parts, int count,
                    double off_w);

/* From 1 … LAMPCURVE_POINTS_MAX measured or invented points of the lit part: level > 0, strictly
 * rising, the last one 1. Points above or on the hull are left out. */
void lampcurve_of(struct lampcurve *ret, const double *level, const double *watts, int count,
                  double off_w);

double lampcurve_min_level(const struct lampcurve *curve);

/* Watts at a level; ≤ 0: off; between 0 and the lowest level: as at the lowest. */
double lampcurve_watts(const struct lampcurve *curve, double level);

/* Index of the chain's point that is best when full light is worth worth_w ≥ 0 watts, off and
 * limits left out of account; of two equally good ones the upper. It is known to lie in from … to.
 */
int lampcurve_point_at(const struct lampcurve *curve, double worth_w, int from, int to);

/* The level at which a lamp is run when full light is worth worth_w watts (worth of a unit of level
 * divided by the price of a watt; ≥ 0, may be INFINITY), within [low, high]: 0 when high < min
 * level, or when no level is worth its watts. low > 0 forces the lamp on, at its lowest level at
 * least. Where a whole stretch is worth the same its upper end is taken, so that a price that just
 * suffices does suffice. */
double lampcurve_level_at(const struct lampcurve *curve, double worth_w, double low, double high);

/* The lower end of that stretch; the same as lampcurve_level_at where there is none, or only the
 * jump from off. */
double lampcurve_level_below(const struct lampcurve *curve, double worth_w, double low,
                             double high);

/* worth_w at which the lamp is switched on under a cap `high` (INFINITY when it cannot). */
double lampcurve_threshold_w(const struct lampcurve *curve, double high);

#endif
