/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The price of light under a sky that nobody knows: the expected shadow price.
 *
 * Each scenario of clearness has a price at which the rest of the day would just meet its need.
 * Their mean is what a mol is worth now: buying it earlier than that pays exactly when buying it
 * later, only if it is still needed, would cost more in the mean (the price of stored water of
 * hydropower). Where even a dark sky would leave more need than the lamp can still give, recourse
 * ends: everything now. That sky lies midway between the lowest case and the pessimistic one, and
 * PLAN_SKY_GUARDED of the target has to be reached under it: measured on simulated years, the
 * lowest case let one feasible day in 128 be missed, the pessimistic one cost up to 4 % more where
 * the lamp is weak.
 */
#ifndef LAMPWARDEN_PLAN_SKY_H
#define LAMPWARDEN_PLAN_SKY_H

#include "clearness.h"
#include "plan_price.h"

#include <stdbool.h>

#define PLAN_SKY_GUARDED        0.98 /* share of the target that a day has to reach */
#define PLAN_SKY_GUARDED_ASTRAY 1.03 /* … under a wrong sky, which teaches no lamp's gain */
#define PLAN_SKY_USABLE         0.99 /* of the caps: starts and slews take the rest */
#define PLAN_SKY_EVERY_S        300  /* longest time to the next plan: the guard does without it */
/* A plan is made again at once when they have moved so far since it was made. */
#define PLAN_SKY_CAP_CHANGE 0.05 /* of the lamp, what heat and faults leave */
#define PLAN_SKY_CLOCK_STEP 2    /* s between the two clocks */

struct plan_sky {
    const struct plan_lamp *lamp;
    const struct plan_slots *slots;    /* the lit rest of the light day */
    const struct scenarios *scenarios; /* count 0: no sun */
    double clear_mol;  /* clear sky of all the rest of the light day, dark slots included */
    double reach_mol;  /* that a shared supply leaves the lamp under the dark sky; INFINITY: all it
                          needs */
    double need_mol;   /* target less what was delivered; may be ≤ 0 */
    double target_mol; /* of the day */
    bool is_astray;    /* the clear sky is wrong, or its day dark: the dark sky brings nothing */
};

struct plan_sky_answer {
    double price;           /* currency per mol m⁻²; 0: nothing is needed */
    bool by_guard;          /* everything there is, for the dark sky's sake */
    double daylight_mol;    /* that the scenarios bring in the mean */
    double pessimistic_mol; /* that the guard's dark sky brings: for plan_sky_holds */
};

struct plan_sky_answer plan_sky_price(const struct plan_sky *sky);

/* Whether a burning lamp that the price would put out stays on, because after its rest there would
 * not be enough of the day left: rest_reach_mol is what the lamp can give after that rest,
 * daylight_mol what the guard's dark sky brings from now on. rise_per_s: the slew of its new start.
 */
bool plan_sky_holds(const struct plan_lamp *lamp, double need_mol, double daylight_mol,
                    double rest_reach_mol, double rise_per_s);

#endif
