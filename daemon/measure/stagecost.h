/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the light of a stage costs under the tariff: at one level through the window, and planned
 * into its cheapest hours by the same price of light that the daemon uses (plan_price.h). By the
 * lamps alone, as if no sun shone, with cold heatsinks, under drive ceilings, PPFD ceiling, floor,
 * dawn and dusk.
 */
#ifndef LAMPWARDEN_STAGECOST_H
#define LAMPWARDEN_STAGECOST_H

#include "space.h"

/* Cost in the site's currency, of the lamps alone. */
struct stagecost_way {
    double kwh, cost;
    double peak_w; /* of all lamps, the highest of the days */
};

struct stagecost {
    int days;
    double need_mol;  /* of a day, the aim above the target included */
    double reach_mol; /* the most of a day, at its lowest */
    bool is_met;
    double level; /* of the even light at full envelope, the lowest steady one at least */
    struct stagecost_way even, planned; /* sums over the days */
};

/* Of `days` ≥ 1 light days from `day` on. Where energy has one price for ever one day stands for
 * all. */
struct stagecost stagecost_of(const struct space_rules *rules, const struct stage *stage,
                              int64_t day, int days);

/* Parts of a bill beside energy. */
struct stagecost_terms {
    double fixed_per_month;
    double demand_per_kw; /* a month, for its highest kilowatts */
};

static inline double stagecost_bill(const struct stagecost_terms *terms, double energy_cost,
                                    double peak_kw)
{
    return terms->fixed_per_month + energy_cost + terms->demand_per_kw * peak_kw;
}

#endif
