/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The price of light: what a further mol is worth to a space for the rest of its light day. The
 * lamp burns at the level where its marginal energy cost equals that price, so that no mol is
 * bought dear while a cheaper one is to be had (water-filling; D'Amico, Sanguinetti, Palomar 2014,
 * separable convex problems with one linear constraint).
 *
 * Price of light V: currency per mol m⁻² of the space. A unit of level for a second gives full_umol
 * · 10⁻⁶ mol, and a watt of the lamp curve for a second costs full_share · price_per_kwh / 3.6e6:
 * so full light is worth worth_w = 3.6 · V · full_umol / (full_share · price_per_kwh)    watts.
 * Energy prices below PLAN_PRICE_LEAST count as that: free energy fills first, and the target still
 * ends the lamp.
 */
#ifndef LAMPWARDEN_PLAN_PRICE_H
#define LAMPWARDEN_PLAN_PRICE_H

#include "plan_slot.h"

#define PLAN_PRICE_LEAST 1e-3 /* of 1 currency per kWh */

/* Cap and floor of a slot under so much daylight, as levels: *ret_high is 0 or at least the lamp's
 * lowest level, and so is *ret_low ≤ *ret_high. Daylight of NaN allows no lamp. */
void plan_limits(const struct plan_lamp *lamp, const struct plan_slot *slot, double daylight_umol,
                 double *ret_low, double *ret_high);

/* A price of light, and how far to go where it leaves the choice: on a stretch of the lamp curve
 * whose every level is worth the same the level lies `share` of the way up. Off is no end of such a
 * stretch: between off and the cheapest photon the answer is the cheapest photon. */
struct plan_price {
    double price; /* currency per mol m⁻², ≥ 0 */
    double share; /* 0 … 1; 1: a price that suffices does suffice */
};

/* The level at a price of light, within plan_limits. */
double plan_level_at(const struct plan_lamp *lamp, const struct plan_slot *slot,
                     double daylight_umol, const struct plan_price *price);

/* The most that the slots can give when the sky has this clearness, mol of lamp light. */
double plan_reach_mol(const struct plan_lamp *lamp, const struct plan_slots *slots,
                      double clearness);

/* Lamp light at a price of light, mol, non-decreasing in the price; and what it costs (may be
 * NULL), currency, energy prices as they are. */
double plan_supply_mol(const struct plan_lamp *lamp, const struct plan_slots *slots,
                       double clearness, const struct plan_price *price, double *ret_cost);

/* The smallest price at which the slots give need_mol of lamp light
 * under that clearness; 0 when the floors alone (or nothing) suffice; exactly missing_price when
 * they cannot. missing_price > 0: what a missing mol is worth. Slots of one price get one level. */
double plan_price_of(const struct plan_lamp *lamp, const struct plan_slots *slots, double clearness,
                     double need_mol, double missing_price);

/* The same with the share that makes the supply equal the need (to 1e-9 mol, except where only a
 * jump from off to the cheapest photon lies there: then it exceeds the need). */
struct plan_price plan_fill(const struct plan_lamp *lamp, const struct plan_slots *slots,
                            double clearness, double need_mol, double missing_price);

#define PLAN_MISSING_WORTH 6.0 /* of full light that is missing, over the watts that it takes */

/* A price above every sensible one, > 0: PLAN_MISSING_WORTH times the dearest average mol of the
 * slots at full light, and never below what any level of the lamp costs. */
double plan_missing_price(const struct plan_lamp *lamp, const struct plan_slots *slots);

#endif
