/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One supply of electricity for several spaces: who may draw how much at a moment.
 *
 * While all fits nobody pays more than the tariff. When it does not, an extra price of energy is
 * put on top, the smallest at which the sum fits: the watts then stay with those to whom they are
 * worth most (the multiplier of the limit in the sum of all spaces' costs; S. Boyd, L.
 * Vandenberghe, Convex Optimization, 2004, section 5.4.4: the price of a shared resource). A soft
 * limit has a price of its own: what lies above it costs that much on top, which some light may be
 * worth.
 */
#ifndef LAMPWARDEN_POWERSHARE_H
#define LAMPWARDEN_POWERSHARE_H

#include "powercurve.h"

struct power_limit {
    double hard_w;             /* never exceeded; INFINITY: none */
    double soft_w;             /* above it energy costs more; INFINITY: none; < hard_w */
    double soft_price_per_kwh; /* how much more, > 0 */
};

/* What may be drawn at an extra price of energy. */
double power_limit_w(const struct power_limit *limit, double extra_per_kwh);

/* A space at this moment. Its watts: scale · watts of the curve at the level that the price leaves
 * worth its cost, within limits, and least_w at least. */
struct power_user {
    const struct powercurve *curve;
    double
        log_worth; /* ln of the worth of full light, W, where energy costs 1 a kWh; −INFINITY: 0 */
    struct powercurve_limits limits;
    double scale;   /* ≥ 0: of the time, or of the watts where a meter reads above the curve */
    double least_w; /* drawn at any price */
};

/* What energy costs with an extra price on top of the tariff's, which counts as PLAN_PRICE_LEAST at
 * least. */
double powershare_whole_price(double price_per_kwh, double extra_per_kwh);

/* ln of that worth for a price of light (plan_price.h), ≥ 0. */
double powershare_log_worth(double price, double full_umol);

double powershare_watts(const struct power_user *user, double price_per_kwh, double spread);

/* The smallest extra price of energy, currency per kWh, at which the sum of all fits the limit, to
 * 1e-6 of the whole price and never on the side of too much; 0: they fit as it is. Where even the
 * lowest levels do not fit: a price at which nobody draws more than that. price_per_kwh counts as
 * PLAN_PRICE_LEAST at least. */
double powershare_extra(const struct power_limit *limit, double price_per_kwh,
                        const struct power_user *users, int count, double spread);

#endif
