/* SPDX-License-Identifier: Apache-2.0 */
#include "sidebyside.h"

#include "units.h"

#define WH_PER_KWH 1000.0

static void fill(const struct height_offer *offer, const struct sidebyside_terms *terms,
                 struct sidebyside_row *ret)
{
    *ret = (struct sidebyside_row){
        .offer = offer,
        .watts = UNITS_NONE,
        .photons_per_j = UNITS_NONE,
        .kwh_per_day = UNITS_NONE,
        .cost_per_year = UNITS_NONE,
        .more_per_year = UNITS_NONE,
    };
    if (!offer) {
        return;
    }
    ret->watts = offer->watts;
    ret->photons_per_j = offer->stats.photons_per_j;
    ret->kwh_per_day = offer->watts * terms->lit_h / WH_PER_KWH;
    ret->cost_per_year = ret->kwh_per_day * terms->days * terms->price_per_kwh;
}

int sidebyside_of(const struct height_offer *const *offers, int count,
                  const struct sidebyside_terms *terms, struct sidebyside_row *ret)
{
    int cheapest = -1;
    for (int i = 0; i < count; i++) {
        fill(offers[i], terms, &ret[i]);
        if (units_known(ret[i].watts) && (cheapest < 0 || ret[i].watts < ret[cheapest].watts)) {
            cheapest = i;
        }
    }
    for (int i = 0; cheapest >= 0 && i < count; i++) {
        const struct sidebyside_row *best = &ret[cheapest];
        ret[i].more_per_year = ret[i].cost_per_year - best->cost_per_year;
        ret[i].is_within_error =
            i != cheapest && ret[i].watts / best->watts - 1 <= terms->sensor_error;
    }
    return cheapest;
}
