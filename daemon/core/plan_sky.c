/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_sky.h"

#include "units.h"

#include <math.h>

/* The slots with as much of the lamp as starts and slews leave. */
static void usable(const struct plan_slots *slots, struct plan_slots *ret)
{
    *ret = *slots;
    for (int i = 0; i < ret->count; i++) {
        ret->slot[i].cap *= PLAN_SKY_USABLE;
    }
}

/* At the next plan it would be too late. */
static bool is_out_of_reach(const struct plan_sky *sky, double clearness, double need_mol)
{
    const double meanwhile_mol = units_mol(sky->lamp->full_umol, PLAN_SKY_EVERY_S);
    return need_mol > 0 &&
           plan_reach_mol(sky->lamp, sky->slots, clearness) - meanwhile_mol < need_mol;
}

static double mean_price(const struct plan_sky *sky, double missing_price)
{
    struct plan_slots slots;
    usable(sky->slots, &slots);
    const struct scenarios *scenarios = sky->scenarios;
    if (scenarios->count == 0) {
        return plan_price_of(sky->lamp, &slots, 0, sky->need_mol, missing_price);
    }
    double sum = 0;
    for (int j = 0; j < scenarios->count; j++) {
        const double clearness = scenarios->clearness[j];
        const double need_mol = sky->need_mol - clearness * sky->clear_mol;
        if (need_mol > 0) {
            sum += plan_price_of(sky->lamp, &slots, clearness, need_mol, missing_price);
        }
    }
    return sum / scenarios->count;
}

struct plan_sky_answer plan_sky_price(const struct plan_sky *sky)
{
    const struct scenarios *scenarios = sky->scenarios;
    const bool has_sun = scenarios->count > 0;
    const double low =
        has_sun && !sky->is_astray ? 0.5 * (scenarios->clearness[0] + scenarios->pessimistic) : 0;
    struct plan_sky_answer answer = {
        .daylight_mol = has_sun ? scenarios->mean * sky->clear_mol : 0,
        .pessimistic_mol = low * sky->clear_mol,
    };
    if (!(sky->need_mol > 0) || sky->slots->count == 0) {
        return answer;
    }
    const double missing_price = plan_missing_price(sky->lamp, sky->slots);
    const double guarded = sky->is_astray ? PLAN_SKY_GUARDED_ASTRAY : PLAN_SKY_GUARDED;
    const double guarded_mol = sky->need_mol - (1 - guarded) * sky->target_mol;
    answer.by_guard = has_sun && (is_out_of_reach(sky, low, guarded_mol - answer.pessimistic_mol) ||
                                  sky->reach_mol < sky->need_mol - answer.pessimistic_mol);
    answer.price = answer.by_guard ? missing_price : mean_price(sky, missing_price);
    return answer;
}

bool plan_sky_holds(const struct plan_lamp *lamp, double need_mol, double daylight_mol,
                    double rest_reach_mol, double rise_per_s)
{
    /* A start climbs through half of the lamp on the average. */
    const double start_mol = rise_per_s > 0 ? units_mol(lamp->full_umol, 0.45 / rise_per_s) : 0;
    return need_mol - daylight_mol > 0 && rest_reach_mol - start_mol < need_mol - daylight_mol;
}
