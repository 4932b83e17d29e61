/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The price of light in force: made again every few minutes, and at once when what it was made for
 * has moved.
 */
#include "decide_parts.h"

#include "plan_day.h"
#include "plan_sky.h"
#include "units.h"

static bool is_due(const struct tick *tick, double target_mol, double cap)
{
    const struct plan_state *plan = &tick->state->plan;
    const double passed_s = units_seconds(tick->now->boot_ns - plan->planned_ns);
    const double moved_s = (double)(tick->now->wall_s - plan->planned_wall_s);
    return plan->planned_ns == 0 || !(passed_s >= 0 && passed_s < PLAN_SKY_EVERY_S) ||
           fabs(moved_s - passed_s) > PLAN_SKY_CLOCK_STEP ||
           fabs(target_mol - plan->target_mol) > 1e-9 ||
           fabs(cap - plan->cap) > PLAN_SKY_CAP_CHANGE;
}

static void price_under_the_sky(struct tick *tick, const struct plan_lamp *lamp,
                                const struct plan_slots *slots, double need_mol)
{
    const struct clearness *today = &tick->state->clearness;
    struct scenarios scenarios;
    clearness_scenarios(today, &tick->state->learned, &scenarios);
    const struct plan_sky sky = {
        .lamp = lamp,
        .slots = slots,
        .scenarios = &scenarios,
        .clear_mol = fmax(0, today->clear_day_mol - today->clear_mol),
        .reach_mol = allotment_reach_mol(&tick->now->power),
        .need_mol = need_mol,
        .target_mol = tick->verdict->stage.target_mol,
        .is_astray = tick->state->sky_is_astray || scenarios.is_dark,
    };
    const struct plan_sky_answer answer = plan_sky_price(&sky);
    struct plan_state *plan = &tick->state->plan;
    /* Where power is short there is nothing to make up with later: the lamp waits for no sun. */
    plan->price =
        (struct plan_price){fmax(answer.price, allotment_light_price(&tick->now->power)), 1};
    plan->by_guard = answer.by_guard;
    plan->daylight_mol = answer.daylight_mol;
    plan->dark_sky_mol = answer.pessimistic_mol;
}

/* Until a contact that rests may close again; 0: one is closed, or may be. */
static double rest_left_s(const struct tick *tick)
{
    double left = (double)INFINITY;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct switching *switching = &tick->state->fixtures[i].switching;
        const double rest_s = tick->rules->fixtures[i].switching.min_off_s;
        left =
            fmin(left, switching->phase != SWITCHING_OPEN ? 0 : rest_s - switching->since_change_s);
    }
    return fmax(left, 0);
}

static void make_plan(struct tick *tick, const struct plan_lamp *lamp, double cap, double need_mol)
{
    struct plan_slots slots;
    plan_day_slots(tick->rules, tick->stage, &tick->state->learned, cap, tick->now->wall_s, &slots);
    decide_add_extra(tick, &slots);
    tick->state->plan = (struct plan_state){
        .planned_ns = tick->now->boot_ns,
        .planned_wall_s = tick->now->wall_s,
        .target_mol = tick->verdict->stage.target_mol,
        .cap = cap,
    };
    const double rise_per_s = decide_rise_per_s(tick);
    const struct plan_climb climb = {
        .level = tick->state->level,
        .least = lampcurve_min_level(lamp->curve),
        .rest_s = rest_left_s(tick),
        .rise_per_s = rise_per_s < tick->rules->rise_per_s ? rise_per_s : 0,
    };
    plan_day_climb(&slots, &climb, tick->now->wall_s);
    if (tick->rules->sees_daylight) {
        price_under_the_sky(tick, lamp, &slots, need_mol);
        return;
    }
    const double missing_price = plan_missing_price(lamp, &slots);
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i].cap *= PLAN_DAY_INDOOR_CAP;
    }
    tick->state->plan.price = plan_fill(lamp, &slots, 0, need_mol, missing_price);
}

void decide_price(struct tick *tick, const struct plan_lamp *lamp, double cap, double need_mol)
{
    if (is_due(tick, tick->verdict->stage.target_mol, cap)) {
        make_plan(tick, lamp, cap, need_mol);
    }
}
