/* SPDX-License-Identifier: Apache-2.0 */
/* Lamps and light days for the tests of the plan. */
#ifndef LAMPWARDEN_PLAN_CASE_H
#define LAMPWARDEN_PLAN_CASE_H

#include "plan_slot.h"
#include "prng.h"

/* full_w (p0 + p1 u + p2 u²) when lit, 0 when off, at 65 levels from min_level > 0 to 1; levels lie
 * closer together at the bottom. */
struct plan_case_lamp {
    double full_w, p0, p1, p2, min_level;
};
void plan_case_quadratic(struct lampcurve *ret, const struct plan_case_lamp *lamp);

/* A random convex curve of 2 … 9 points from min_level on. Without a fixed loss its line begins at
 * off. */
void plan_case_curve(struct lampcurve *ret, struct prng *prng, double min_level, double fixed_w);

/* A random lamp on that curve: full_umol, share, and in every third case a ceiling. */
struct plan_lamp plan_case_lamp(const struct lampcurve *curve, struct prng *prng);

/* count slots of 15 … 30 minutes with daylight in the middle: `prices` different energy prices in
 * blocks, some slots dark, some with caps, half of the days with a floor. */
void plan_case_slots(struct plan_slots *ret, struct prng *prng, int count, int prices);

#endif
