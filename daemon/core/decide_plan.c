/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the plan wants of the lamps now. Where energy has one price all day the plan is one level;
 * where it changes, the price of light says how far each hour is dimmed.
 */
#include "decide_parts.h"

#include "plan_cut.h"
#include "units.h"

#define REPLAN_S    300
#define CAP_CHANGE  0.05 /* of the lamp: plan again at once */
#define CLOCK_STEP  2    /* s between the two clocks since the last plan */
#define ONE_LEVEL_S 1.0

double decide_min_level(const struct tick *tick)
{
    double least = 1;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        least = fmin(least, dimcurve_min_level(&tick->rules->fixtures[i].curve));
    }
    return least;
}

/* The lamp as it was commissioned, with its gain; what heat and faults leave of it is the cap. */
static struct plan_lamp lamp_of(const struct tick *tick)
{
    double full = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        full += tick->sources[i].full_umol;
    }
    return (struct plan_lamp){
        .curve = &tick->rules->lamp,
        .full_umol = full,
        .full_share = 1,
        .ceiling_umol = tick->stage->ceiling_umol,
        .stays_lit = true,
    };
}

static bool is_due(const struct tick *tick, double target_mol, double cap)
{
    const struct plan_state *plan = &tick->state->plan;
    const double passed_s = units_seconds(tick->now->boot_ns - plan->planned_ns);
    const double moved_s = (double)(tick->now->wall_s - plan->planned_wall_s);
    return plan->planned_ns == 0 || !(passed_s >= 0 && passed_s < REPLAN_S) ||
           fabs(moved_s - passed_s) > CLOCK_STEP || fabs(target_mol - plan->target_mol) > 1e-9 ||
           fabs(cap - plan->cap) > CAP_CHANGE;
}

static void make_plan(struct tick *tick, const struct plan_lamp *lamp, double cap, double need_mol)
{
    struct plan_slots slots;
    plan_cut(&tick->rules->day, tick->stage, tick->rules->tariff, tick->now->wall_s, &slots);
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i].cap = cap;
    }
    tick->state->plan = (struct plan_state){
        .price = plan_fill(lamp, &slots, 0, need_mol, plan_missing_price(lamp, &slots)),
        .planned_ns = tick->now->boot_ns,
        .planned_wall_s = tick->now->wall_s,
        .target_mol = tick->verdict->stage.target_mol,
        .cap = cap,
    };
}

/* The common level of the fixtures that the price of light gives at the present price of energy. */
static double priced_level(struct tick *tick, double need_mol)
{
    const struct plan_lamp lamp = lamp_of(tick);
    const int count = tick->rules->fixture_count;
    if (!(lamp.full_umol > 0)) {
        return 1;
    }
    const double cap = plan_umol(tick->sources, count, 1) / lamp.full_umol;
    if (is_due(tick, tick->verdict->stage.target_mol, cap)) {
        make_plan(tick, &lamp, cap, need_mol);
    }
    const struct plan_slot here = {
        .dt_s = ONE_LEVEL_S,
        .lit_s = ONE_LEVEL_S,
        .price_per_kwh = tariff_price(tick->rules->tariff, tick->now->wall_s),
        .cap = cap,
    };
    const double level = plan_level_at(&lamp, &here, 0, &tick->state->plan.price);
    return plan_level_for(tick->sources, count, level * lamp.full_umol);
}

static bool follows_prices(const struct tick *tick)
{
    return !tick->rules->sees_daylight && tick->rules->tariff &&
           !tariff_is_flat(tick->rules->tariff);
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
    verdict->forecast_mol = delivered + fmax(0, fmin(problem.need_mol, answer.reach_mol));
    if (!(problem.need_mol > 0)) {
        verdict->planned_level = answer.level;
        /* Without a sun the lamp is the plants' day: it keeps its length, at the minimum. */
        return (struct ask){tick->rules->sees_daylight ? 0 : decide_min_level(tick),
                            LIMITER_TARGET_MET};
    }
    if (!answer.is_full && follows_prices(tick)) {
        answer.level = priced_level(tick, problem.need_mol);
    }
    verdict->planned_level = answer.level;
    struct ask ask = {answer.level, answer.is_full ? LIMITER_FULL_LIGHT : LIMITER_PLAN};
    const double shaped = fmax(answer.level * tick->envelope, decide_min_level(tick));
    if (tick->is_last || shaped < ask.level) {
        ask.level = tick->is_last ? decide_min_level(tick) : shaped;
        ask.limiter = tick->is_dusk ? LIMITER_DUSK : LIMITER_DAWN;
    }
    return ask;
}
