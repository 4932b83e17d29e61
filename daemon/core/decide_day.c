/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Light days open and close here, and the mol account is kept.
 */
#include "decide_parts.h"

#include "hindsight.h"
#include "units.h"

#include <string.h>

/* A trusted clock that is this much earlier was wrong before: its light day is abandoned. */
#define BACKWARD_DAYS 1

double decide_lit_s(const struct space_rules *rules, const struct stage *stage, int64_t wall_s)
{
    struct lightday_piece pieces[2];
    const int count = lightday_pieces(&rules->day, &stage->window, wall_s, pieces);
    double sum = 0;
    for (int i = 0; i < count; i++) {
        const double on = (double)pieces[i].window_on_s;
        sum += ramp_integral(&stage->ramp, (double)pieces[i].window_off_s - on,
                             (double)pieces[i].from_s - on, (double)pieces[i].to_s - on);
    }
    return sum;
}

/* Light of all lamps, what their drive ceilings leave of it, and the least they can be dimmed to.
 */
struct lamps {
    double full_umol, driven_umol, lowest_umol;
};

static struct lamps lamps_of(const struct space_rules *rules, const struct space_state *state)
{
    struct lamps lamps = {0, 0, 0};
    for (int i = 0; i < rules->fixture_count; i++) {
        const double umol = space_full_umol(rules, state, i) * state->light_gain;
        lamps.full_umol += umol;
        lamps.driven_umol +=
            umol * dimcurve_level(&rules->fixtures[i].curve, state->fixtures[i].ceiling.drive_cap);
        lamps.lowest_umol += umol * dimcurve_min_level(&rules->fixtures[i].curve);
    }
    return lamps;
}

/* What `lit_s` of full light can give without passing faults: heat, trips and dead outputs left
 * out. */
static struct account_reach reach_of(const struct tick *tick, const struct stage *stage,
                                     double lit_s)
{
    const struct lamps lamps = lamps_of(tick->rules, tick->state);
    const bool is_dark = stage->ceiling_umol < lamps.lowest_umol; /* under such a ceiling */
    const double held = is_dark ? 0 : fmin(lamps.driven_umol, stage->ceiling_umol);
    return (struct account_reach){units_mol(lamps.full_umol, lit_s),
                                  units_mol(lamps.driven_umol, lit_s), units_mol(held, lit_s)};
}

/* The light of the sun takes room under the stage's ceiling away from the lamps. */
static double lamp_reach_mol(const struct space_rules *rules, const struct space_state *state)
{
    const struct lamps lamps = lamps_of(rules, state);
    if (!rules->sees_daylight || !(lamps.full_umol > 0) || state->stage_index < 0 ||
        state->stage_index >= rules->stage_count) {
        return state->reach_static_mol;
    }
    const struct hindsight_day day = {
        .rules = rules,
        .stage = &rules->stages[state->stage_index],
        .begin_s = lightday_begin(&rules->day, state->light_day),
        .log = &state->daylog,
    };
    return state->reach_static_mol *
           hindsight_room(&day, lamps.full_umol, lamps.driven_umol / lamps.full_umol);
}

void decide_summary(const struct space_rules *rules, const struct space_state *state,
                    struct day_summary *ret)
{
    *ret = (struct day_summary){
        .light_day = state->light_day,
        .stage_index = state->stage_index,
        .stage_day = state->stage_day,
        .account = state->account,
        .integral = state->integral,
        .reach_mol = lamp_reach_mol(rules, state) + state->integral.daylight_mol,
        .energy_kwh = state->energy_kwh,
        .cost = state->cost,
        .lights_on_s = state->first_on_s,
        .lights_off_s = state->last_off_s,
        .lamp_cost = UNITS_NONE,
        .bound_cost = UNITS_NONE,
        .even_cost = UNITS_NONE,
        .heatsink_max_c = UNITS_NONE,
        .night_dose_umol_m2 = state->night_dose,
        .night_possible_umol_m2 = state->night_possible,
        .night_longest_s = state->night_longest_s,
        .night_breaks = state->night_breaks,
    };
    ret->is_feasible = ret->reach_mol >= state->account.target_mol;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_state *fixture = &state->fixtures[i];
        ret->switch_operations += fixture->switching.operations_today;
        ret->heat_trips += (uint32_t)fixture->heat.trips_today;
        ret->driver_trips += (uint32_t)fixture->ceiling.trips_today;
        if (!units_known(ret->heatsink_max_c) || fixture->heat.max_c > ret->heatsink_max_c) {
            ret->heatsink_max_c = fixture->heat.max_c;
        }
    }
}

static void close_day(struct tick *tick)
{
    struct space_state *state = tick->state;
    account_step(&state->account, integral_delivered_mol(&state->integral), 0, state->blame,
                 state->blame_otherwise);
    decide_summary(tick->rules, state, &tick->verdict->closed);
    decide_hindsight(tick, &tick->verdict->closed);
    clearness_close(&state->clearness, &state->learned);
    learned_heat(&state->learned, &state->heat_hours);
    decide_close_ageing(tick);
    tick->verdict->day_closed = true;
    if (state->stage_index >= 0) {
        decide_say(tick, EVENT_DAY_ENDS, -1, state->account.delivered_mol,
                   state->account.target_mol);
    }
}

static void clear_sums(struct tick *tick)
{
    struct space_state *state = tick->state;
    integral_reset(&state->integral);
    daylog_open(&state->daylog);
    state->energy_kwh = state->cost = 0;
    state->first_on_s = state->is_lit ? tick->now->wall_s : 0;
    state->last_off_s = 0;
    state->night_dose = state->night_longest_s = 0;
    state->night_breaks = 0;
    state->night_possible = 0;
    state->said_short = state->said_met = false;
    state->reach_ns = 0;
    memset(state->blame, 0, sizeof state->blame);
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        heat_new_day(&state->fixtures[i].heat);
        ceiling_new_day(&state->fixtures[i].ceiling, &tick->rules->fixtures[i].ceiling);
        curvewatch_new_day(&state->fixtures[i].curvewatch);
        switching_new_day(&state->fixtures[i].switching);
    }
}

static struct stage_today stage_in(const struct space_rules *rules, int64_t day)
{
    return stage_of(rules->stages, rules->stage_count, rules->first_day, rules->acclimation_mol,
                    day);
}

static struct stage_today stage_on(const struct tick *tick, int64_t day)
{
    return stage_in(tick->rules, day);
}

int64_t decide_next_on(const struct space_rules *rules, int64_t from_s)
{
    const int64_t today = lightday_of(&rules->day, from_s);
    for (int64_t day = today; day <= today + 1; day++) {
        const int64_t begin_s = lightday_begin(&rules->day, day);
        const struct stage_today stage = stage_in(rules, day);
        struct lightday_piece pieces[2];
        if (stage.phase == STAGE_RUNNING &&
            lightday_pieces(&rules->day, &rules->stages[stage.index].window,
                            from_s > begin_s ? from_s : begin_s, pieces) > 0) {
            return pieces[0].from_s;
        }
    }
    return -1;
}

/* What the open light day has above its own target, as far as it was measured, taken off the target
 * of the next one. Another stage begins afresh: its plants are asked for something else. */
static double carry(const struct tick *tick, int64_t day, const struct stage_today *today)
{
    const struct space_state *state = tick->state;
    if (!state->is_begun || day != state->light_day + 1 || today->phase != STAGE_RUNNING ||
        today->index != state->stage_index) {
        return 0;
    }
    const struct integral *integral = &state->integral;
    const double sure_mol = integral_delivered_mol(integral) - integral->bridged_mol;
    return stage_carried_mol(&tick->rules->stages[today->index], today->target_mol,
                             sure_mol - stage_on(tick, state->light_day).target_mol);
}

static void open_day(struct tick *tick, int64_t day)
{
    struct space_state *state = tick->state;
    const int64_t begin_s = lightday_begin(&tick->rules->day, day);
    const struct stage_today today = stage_on(tick, day);
    state->carried_mol = carry(tick, day, &today);
    clear_sums(tick);
    decide_open_sky(tick, begin_s);
    state->heat_hours = (struct learned_hours){0};
    state->is_begun = true;
    state->light_day = day;
    if (today.phase == STAGE_RUNNING && today.day == 1) {
        decide_say(tick, EVENT_STAGE_BEGINS, -1, today.index, today.target_mol);
    } else if (today.phase == STAGE_OVER && state->stage_phase == STAGE_RUNNING) {
        decide_say(tick, EVENT_STAGES_OVER, -1, UNITS_NONE, UNITS_NONE);
    }
    state->stage_index = today.index;
    state->stage_day = today.day;
    state->stage_phase = today.phase;
    if (today.phase != STAGE_RUNNING) {
        account_open(&state->account, 0, 0, &(struct account_reach){0, 0, 0});
        state->reach_static_mol = 0;
        return;
    }
    const struct stage *stage = &tick->rules->stages[today.index];
    const struct account_reach reach =
        reach_of(tick, stage, decide_lit_s(tick->rules, stage, begin_s));
    const double target_mol = today.target_mol - state->carried_mol;
    account_open(&state->account, target_mol, 0, &reach);
    state->reach_static_mol = reach.ceiling_mol;
    /* A day that is already under way lost its beginning to nobody's running. */
    state->blame_otherwise = LIMITER_NOT_RUNNING;
    decide_say(tick, EVENT_DAY_BEGINS, -1, target_mol, today.day);
    if (state->carried_mol > 0) {
        decide_say(tick, EVENT_CARRIED_OVER, -1, target_mol, state->carried_mol);
    }
}

static void roll_day(struct tick *tick)
{
    struct space_state *state = tick->state;
    const int64_t day = lightday_of(&tick->rules->day, tick->now->wall_s);
    const bool is_new =
        !state->is_begun || day > state->light_day || day < state->light_day - BACKWARD_DAYS;
    if (!is_new) {
        return; /* the same day, or a small step back over its beginning: no second opening */
    }
    if (state->is_begun) {
        close_day(tick);
    }
    open_day(tick, day);
}

void decide_day(struct tick *tick)
{
    struct verdict *verdict = tick->verdict;
    struct space_state *state = tick->state;
    tick->stage = NULL;
    tick->envelope = 0;
    tick->lit_s = 0;
    if (!tick->knows_time) {
        return;
    }
    decide_note_light(tick);
    roll_day(tick);
    verdict->stage = stage_on(tick, state->light_day);
    if (verdict->stage.phase != STAGE_RUNNING) {
        return;
    }
    tick->stage = &tick->rules->stages[verdict->stage.index];
    /* A reload may have put another stage, or a smaller carry-over, into this day. */
    verdict->stage.target_mol -=
        stage_carried_mol(tick->stage, verdict->stage.target_mol, state->carried_mol);
    struct lightday_place place =
        lightday_place(&tick->rules->day, &tick->stage->window, tick->now->wall_s);
    if (!place.is_lit) {
        const int64_t next_s = decide_next_on(tick->rules, tick->now->wall_s);
        place.until_on_s = next_s >= 0 ? next_s - tick->now->wall_s : -1;
    }
    verdict->place = place;
    tick->lit_s = decide_lit_s(tick->rules, tick->stage, tick->now->wall_s);
    if (place.is_lit) {
        const bool always = tick->stage->window.length_s >= UNITS_S_PER_DAY;
        tick->envelope = always ? 1
                                : ramp_envelope(&tick->stage->ramp, (double)place.since_on_s,
                                                (double)place.until_off_s);
        tick->is_dusk = place.until_off_s < place.since_on_s;
    }
}

void decide_account(struct tick *tick)
{
    struct space_state *state = tick->state;
    struct account *account = &state->account;
    if (!tick->stage) {
        return;
    }
    const struct account_reach rest = reach_of(tick, tick->stage, tick->lit_s);
    const double target = tick->verdict->stage.target_mol;
    if (fabs(target - account->target_mol) > 1e-9) {
        account_retarget(account, target, rest.ceiling_mol, LIMITER_PLAN);
    }
    account_step(account, integral_delivered_mol(&state->integral), rest.ceiling_mol, state->blame,
                 state->blame_otherwise);
    if (!state->said_met && account->delivered_mol >= target) {
        state->said_met = true;
        decide_say(tick, EVENT_TARGET_MET, -1, account->delivered_mol, UNITS_NONE);
    }
}

void decide_move_opening(struct tick *tick)
{
    struct day_summary *closed = &tick->verdict->closed;
    closed->lights_off_s = tick->now->wall_s;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        struct switching *switching = &tick->state->fixtures[i].switching;
        closed->switch_operations += switching->operations_today;
        switching->operations_today = 0;
    }
    tick->state->first_on_s = 0;
}
