/* SPDX-License-Identifier: Apache-2.0 */
/*
 * From the price of light to the lamp of this moment: how far it burns, and that it neither comes
 * nor goes for a price that trembles.
 */
#include "decide_parts.h"

#include "plan_day.h"
#include "plan_sky.h"
#include "units.h"

#define STAY_ON 0.99 /* a lit lamp stays lit down to this share of the price that lights it */

/* Of the stage and of every contact. */
static double longest_rest_s(const struct tick *tick)
{
    double longest = tick->stage->shortest_rest_s;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        longest = fmax(longest, tick->rules->fixtures[i].switching.min_off_s);
    }
    return longest;
}

/* A burning lamp that the price would put out stays on where a new start would come too late. */
static bool must_stay_on(const struct tick *tick, const struct plan_lamp *lamp, double cap,
                         double need_mol)
{
    const double after_s = fmax(0, tick->lit_s - longest_rest_s(tick));
    return plan_sky_holds(lamp, need_mol, tick->state->plan.dark_sky_mol,
                          units_mol(cap * lamp->full_umol, after_s), decide_rise_per_s(tick));
}

/* Rounding must not hold a price just below the one that lights the lamp; and a lamp that burns is
 * not put out by a price that trembles. */
static double level_now(const struct tick *tick, const struct plan_lamp *lamp, double cap,
                        double need_mol)
{
    const double daylight = tick->verdict->daylight_umol;
    const double price_per_kwh = tick->rules->tariff ? tick->now->price_per_kwh
                                                     : plan_day_tariff(tick->rules)->price_per_kwh;
    const struct plan_slot here = {
        .dt_s = 1,
        .lit_s = 1,
        .price_per_kwh = decide_with_extra(tick, price_per_kwh, tick->now->wall_s),
        .cap = cap,
    };
    struct plan_price price = tick->state->plan.price;
    if (price.share >= 1) {
        price.price = price.price * (1 + 1e-6) + 1e-12;
    }
    const double level = plan_level_at(lamp, &here, daylight, &price);
    if (level > 0 || !tick->state->is_lit) {
        return level;
    }
    price.price /= STAY_ON;
    const double longer = plan_level_at(lamp, &here, daylight, &price);
    if (longer > 0 || !must_stay_on(tick, lamp, cap, need_mol)) {
        return longer;
    }
    price.price = (double)INFINITY;
    return fmin(plan_level_at(lamp, &here, daylight, &price),
                tick->rules->lamp.level[tick->rules->lamp.best]);
}

/* A run or a rest of the stage is over, and a new run has the time that it needs. */
static bool may_turn(const struct tick *tick, bool wants_on)
{
    const struct space_state *state = tick->state;
    const struct stage *stage = tick->stage;
    const double since_s = state->plan_turned_ns == 0
                               ? (double)INFINITY
                               : units_seconds(tick->now->boot_ns - state->plan_turned_ns);
    if (!wants_on) {
        return since_s >= stage->shortest_run_s;
    }
    return state->plan.by_guard ||
           (since_s >= stage->shortest_rest_s &&
            (double)tick->verdict->place.until_off_s >= stage->shortest_run_s);
}

/* Under daylight the lamp comes and goes as the plan says, but a price that trembles wears no
 * contact: a lamp that was just lit burns on at its lowest level, one that was just put out stays
 * dark, unless a dark sky leaves no time to lose. */
double decide_dwell(struct tick *tick, const struct plan_lamp *lamp, double cap, double need_mol)
{
    struct space_state *state = tick->state;
    const double level = level_now(tick, lamp, cap, need_mol);
    const bool wants_on = level > 0;
    if (!tick->rules->sees_daylight || wants_on == state->plan_wants_on) {
        return level;
    }
    if (may_turn(tick, wants_on)) {
        state->plan_wants_on = wants_on;
        state->plan_turned_ns = tick->now->boot_ns;
        return level;
    }
    tick->verdict->chain.plan = CHAIN_PLAN_HELD;
    return wants_on ? 0 : tick->rules->lamp.level[0];
}
