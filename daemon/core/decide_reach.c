/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whether the light day can still meet its target, and what binds it. Only what lasts counts
 * against the hours to come: window, ceiling, drive ceilings and the usual heat. A dead output may
 * be mended and a tripped lamp may return; what they have taken is gone.
 */
#include "decide_parts.h"

#include "plan_day.h"
#include "units.h"

#define EVERY_S 300

/* One as far above the brightest case as twice what that is above the next: a day that was said to
 * be lost has to be lost. */
static double brightest_sky(const struct tick *tick)
{
    struct scenarios scenarios;
    clearness_scenarios(&tick->state->clearness, &tick->state->learned, &scenarios);
    if (scenarios.count == 0) {
        return 0;
    }
    const double *clearness = scenarios.clearness;
    const int last = scenarios.count - 1;
    return clearness[last] + 2 * (clearness[last] - clearness[last - 1]);
}

/* Of all lamps at their drive ceilings. */
static double driven_umol(const struct tick *tick)
{
    double umol = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const double drive = tick->state->fixtures[i].ceiling.drive_cap;
        umol += tick->sources[i].full_umol * dimcurve_level(&tick->rules->fixtures[i].curve, drive);
    }
    return umol;
}

/* The lit rest of the day under drive ceilings and ceiling: mol with the usual heat, and what that
 * heat takes. */
static double rest_mol(const struct tick *tick, double full_umol, double driven, double clearness,
                       double *ret_heat_mol)
{
    const struct plan_lamp lamp = plan_day_lamp(tick->rules, tick->stage, full_umol);
    const double cap = driven / full_umol;
    struct plan_slots slots;
    plan_day_slots(tick->rules, tick->stage, &tick->state->learned, 1, tick->now->wall_s, &slots);
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i].cap = fmin(slots.slot[i].cap, cap);
    }
    const double warm_mol = plan_reach_mol(&lamp, &slots, clearness);
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i].cap = cap;
    }
    *ret_heat_mol = plan_reach_mol(&lamp, &slots, clearness) - warm_mol;
    return warm_mol;
}

static double window_left_s(const struct tick *tick)
{
    struct lightday_piece pieces[2];
    const int count =
        lightday_pieces(&tick->rules->day, &tick->stage->window, tick->now->wall_s, pieces);
    double left_s = 0;
    for (int i = 0; i < count; i++) {
        left_s += (double)(pieces[i].to_s - pieces[i].from_s);
    }
    return left_s;
}

static struct reach reckon(const struct tick *tick, double full_umol)
{
    const struct space_state *state = tick->state;
    const double *missing = state->account.missing_mol;
    const double clearness = tick->rules->sees_daylight ? brightest_sky(tick) : 0;
    const double clear_mol = fmax(0, state->clearness.clear_day_mol - state->clearness.clear_mol);
    const double daylight_mol = tick->rules->sees_daylight ? clearness * clear_mol : 0;
    const double driven = driven_umol(tick);
    const double left_s = window_left_s(tick);
    double heat_mol;
    const double free_mol = rest_mol(tick, full_umol, driven, clearness, &heat_mol);
    const double lamp_mol = fmin(free_mol, allotment_reach_mol(&tick->now->power));
    const double whole_mol = units_mol(full_umol, tick->stage->window.length_s);
    heat_mol += missing[LIMITER_HEAT] + missing[LIMITER_HEAT_TRIP];
    const double fault_mol = missing[LIMITER_OUTPUT_FAULT] + missing[LIMITER_DRIVER_TRIP];
    struct reach reach = {
        .target_mol = tick->verdict->stage.target_mol,
        .reach_mol = integral_delivered_mol(&state->integral) + lamp_mol + daylight_mol,
        .left_h = left_s / 3600,
        .is_whole = left_s >= (double)tick->stage->window.length_s,
        .light_umol = fmin(full_umol, tick->stage->ceiling_umol),
        .by_ceiling = tick->stage->ceiling_umol < full_umol,
        .heat_share = heat_mol / whole_mol,
        .power_share = (free_mol - lamp_mol + missing[LIMITER_POWER_LIMIT]) / whole_mol,
        .fault_share = fault_mol / whole_mol,
        .daylight_mol = tick->rules->sees_daylight ? daylight_mol : UNITS_NONE,
    };
    if (!reach.by_ceiling) {
        reach.fault_share += 1 - driven / full_umol;
    }
    reach.is_short = reach.reach_mol < REACH_MET * reach.target_mol;
    return reach;
}

/* What has to be seen for a verdict on the day: the lamps' sensors once, the sky where it counts,
 * and a plan of this day where a supply is shared. */
static bool can_tell(const struct tick *tick)
{
    const bool sees_sky = tick->rules->has_ppfd && !tick->state->sensor_is_lost;
    const struct allotment *power = &tick->now->power;
    if (power->is_shared && power->count > 0 && power->light_day != tick->state->light_day) {
        return false;
    }
    return tick->stage && tick->now->inputs_settled && (!tick->rules->sees_daylight || sees_sky);
}

/* A reload brought another one: what was said of the old one is no word on it. */
static bool is_of_another_target(const struct tick *tick)
{
    const double target_mol = tick->verdict->stage.target_mol;
    return tick->stage && tick->state->reach.target_mol > 0 &&
           fabs(tick->state->reach.target_mol - target_mol) > 1e-9;
}

void decide_reach(struct tick *tick)
{
    struct space_state *state = tick->state;
    const double since_s = units_seconds(tick->now->boot_ns - state->reach_ns);
    if (is_of_another_target(tick)) {
        state->reach_ns = 0;
        state->said_short = false;
    }
    if (state->reach_ns == 0) {
        state->reach = (struct reach){0};
    }
    const bool is_due = state->reach_ns == 0 || !(since_s >= 0 && since_s < EVERY_S);
    const double full_umol = is_due ? decide_full_umol(tick) : 0;
    if (full_umol > 0 && can_tell(tick)) {
        state->reach_ns = tick->now->boot_ns;
        state->reach = reckon(tick, full_umol);
    }
    tick->verdict->reach = state->reach;
    if (state->reach.is_short && !state->said_short) {
        state->said_short = true;
        decide_say(tick, EVENT_TARGET_OUT_OF_REACH, -1, state->reach.target_mol,
                   state->reach.reach_mol);
    }
}
