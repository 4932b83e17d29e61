/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the past interval brought is noted for the end of the light day, when the cost of its lamp
 * light is laid beside the cheapest that was possible.
 */
#include "decide_parts.h"

#include "hindsight.h"
#include "units.h"

/* Under a sun nobody knows the daylight that no good reading shows. */
static bool knows_daylight(const struct tick *tick)
{
    return tick->verdict->light_is_measured || !tick->rules->sees_daylight ||
           !(tick->state->plan_sky_umol > 0);
}

/* A contact that does not open gives light that nobody asked for and that may cost nothing here. */
static bool is_stuck(const struct tick *tick)
{
    bool is_any = false;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        is_any = is_any || tick->state->fixtures[i].is_stuck;
    }
    return is_any;
}

void decide_note_light(struct tick *tick)
{
    struct space_state *state = tick->state;
    const struct now *now = tick->now;
    if (!tick->knows_time || !state->is_begun || is_stuck(tick) ||
        tick->dt_s > tick->rules->integral.gap_s) {
        return;
    }
    const int64_t begin_s = lightday_begin(&tick->rules->day, state->light_day);
    const struct daylog_step step = {
        .daylight_umol = knows_daylight(tick) ? tick->verdict->daylight_umol : UNITS_NONE,
        .cap = state->lamp_cap,
        .price_per_kwh = now->price_per_kwh,
    };
    daylog_book(&state->daylog, (double)(now->wall_s - begin_s), tick->dt_s, &step);
    const double promised_umol = decide_promised_umol(tick);
    if (promised_umol > 0) {
        state->daylog.lamp_mol += units_mol(tick->verdict->lamp_umol, tick->dt_s);
        state->daylog.promised_mol += units_mol(promised_umol / state->correction.lamp, tick->dt_s);
    }
}

void decide_note_energy(struct tick *tick)
{
    struct daylog *log = &tick->state->daylog;
    double lit_w = 0;
    double promised_w = 0;
    bool is_lit = false;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_verdict *fixture = &tick->verdict->fixtures[i];
        is_lit = is_lit || fixture->closed || tick->state->fixtures[i].is_stuck;
        if (fixture->closed) {
            lit_w += fixture->watts;
            promised_w += dimcurve_watts(&tick->rules->fixtures[i].curve, fixture->drive);
        }
    }
    log->lamp_kwh += units_kwh(lit_w, tick->dt_s);
    log->promised_kwh += units_kwh(promised_w, tick->dt_s);
    if (units_known(tick->now->price_per_kwh)) {
        const double standby_w =
            is_lit ? fmin(tick->rules->lamp.off_w, tick->verdict->watts) : tick->verdict->watts;
        log->standby_cost += units_kwh(standby_w, tick->dt_s) * tick->now->price_per_kwh;
    }
    const int count = tick->rules->fixture_count;
    const double full = tick->verdict->full_umol;
    tick->state->lamp_cap = full > 0 ? plan_umol(tick->sources, count, 1) / full : 1;
}

void decide_hindsight(const struct tick *tick, struct day_summary *day)
{
    const struct space_rules *rules = tick->rules;
    const struct space_state *state = tick->state;
    if (day->stage_index < 0 || day->stage_index >= rules->stage_count ||
        !(day->account.target_mol > 0)) {
        return;
    }
    const struct hindsight_day past = {
        .rules = rules,
        .stage = &rules->stages[day->stage_index],
        .begin_s = lightday_begin(&rules->day, day->light_day),
        .log = &state->daylog,
    };
    const struct hindsight costs = hindsight(
        &past, day->account.target_mol - day->integral.daylight_mol, day->integral.lamp_mol);
    if (units_known(costs.bound_cost)) {
        day->lamp_cost = day->cost - state->daylog.standby_cost;
        day->bound_cost = costs.bound_cost;
        day->even_cost = costs.even_cost;
    }
}
