/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the plan wants of the lamps now. Under daylight, and where energy changes its price, the
 * price of light says how far each moment is lit; else the plan is one level for the whole day.
 */
#include "decide_parts.h"

#include "plan_day.h"
#include "units.h"

double decide_min_level(const struct tick *tick)
{
    double least = 1;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        least = fmin(least, dimcurve_min_level(&tick->rules->fixtures[i].curve));
    }
    return least;
}

/* What heat and faults leave of it is the cap. */
static struct plan_lamp lamp_of(const struct tick *tick)
{
    return plan_day_lamp(tick->rules, tick->stage, decide_full_umol(tick));
}

/* The common level of the fixtures that the price of light gives at the present price of energy.
 * Where heat and faults leave less than the least of all of them together, the price knows no level
 * of the rest, and the rest burns at the one level of the day. */
static double priced_level(struct tick *tick, double need_mol, double one_level)
{
    const struct plan_lamp lamp = lamp_of(tick);
    const int count = tick->rules->fixture_count;
    if (!(lamp.full_umol > 0)) {
        return 1;
    }
    const double cap = plan_umol(tick->sources, count, 1) / lamp.full_umol;
    decide_price(tick, &lamp, cap, need_mol);
    if (cap > 0 && cap < lampcurve_min_level(lamp.curve)) {
        return one_level;
    }
    const double level = decide_dwell(tick, &lamp, cap, need_mol);
    return level > 0 ? plan_level_for(tick->sources, count, level * lamp.full_umol) : 0;
}

/* Where nobody sees the sky there is nothing to wait for, and where energy has one price nothing to
 * shift: then the plan is one level. */
static bool has_one_level(const struct tick *tick, bool is_full)
{
    if (tick->state->sensor_is_lost) {
        return true; /* the level for a lost sensor is one: hours that the plan dims would be lost
                      */
    }
    if (tick->rules->sees_daylight) {
        return !tick->rules->has_ppfd;
    }
    return is_full || tariff_is_flat(plan_day_tariff(tick->rules));
}

/* What dawn and dusk make of the plan's level. Of none there is nothing to shape: the sky is
 * enough, or a better hour is to come. */
static struct ask shape(struct tick *tick, double level, enum limiter limiter)
{
    struct chain_rules *rules = &tick->verdict->chain.rules;
    const double least = decide_min_level(tick);
    const double shaped = tick->is_last ? least : fmax(level * tick->envelope, least);
    const bool is_shaped = level > 0 && (tick->is_last || shaped < level);
    const enum limiter ramp = tick->is_dusk ? LIMITER_DUSK : LIMITER_DAWN;
    chain_say(rules, limiter, is_shaped ? fmax(level, shaped) : level);
    if (!is_shaped) {
        return (struct ask){level, limiter};
    }
    chain_say(rules, ramp, shaped);
    return (struct ask){shaped, ramp};
}

struct ask decide_ask_plan(struct tick *tick)
{
    struct verdict *verdict = tick->verdict;
    const double target = verdict->stage.target_mol;
    const double delivered = integral_delivered_mol(&tick->state->integral);
    const struct plan_problem problem = {
        .need_mol = target * (1 + tick->rules->aim_margin) - delivered,
        .lit_s = tick->lit_s,
        .ceiling_umol = tick->stage->ceiling_umol,
        .sources = tick->sources,
        .source_count = tick->rules->fixture_count,
    };
    struct plan_answer answer = plan_level(&problem);
    verdict->need_mol = problem.need_mol;
    if (!(problem.need_mol > 0)) {
        verdict->planned_level = answer.level;
        verdict->forecast_mol = delivered;
        /* Without a sun the lamp is the plants' day: it keeps its length, at the minimum. */
        const double level = tick->rules->sees_daylight ? 0 : decide_min_level(tick);
        chain_say(&verdict->chain.rules, LIMITER_TARGET_MET, level);
        return (struct ask){level, LIMITER_TARGET_MET};
    }
    double daylight_mol = 0;
    const double shared = decide_shared_level(tick);
    verdict->chain.plan = CHAIN_PLAN_ONE_LEVEL;
    if (units_known(shared) && !answer.is_full) {
        answer.level = shared;
        verdict->chain.plan = CHAIN_PLAN_SHARED;
    } else if (!has_one_level(tick, answer.is_full)) {
        verdict->chain.plan = CHAIN_PLAN_PRICED;
        answer.level = priced_level(tick, problem.need_mol, answer.level);
        daylight_mol = tick->state->plan.daylight_mol;
        verdict->chain.light_price = tick->state->plan.price.price;
        answer.is_full = problem.need_mol > answer.reach_mol + daylight_mol;
    }
    const double reach_mol = fmin(answer.reach_mol, allotment_reach_mol(&tick->now->power));
    verdict->forecast_mol =
        delivered + fmax(daylight_mol, fmin(problem.need_mol, reach_mol + daylight_mol));
    verdict->planned_level = fmin(answer.level, 1); /* rounding goes above */
    return shape(tick, verdict->planned_level, answer.is_full ? LIMITER_FULL_LIGHT : LIMITER_PLAN);
}
