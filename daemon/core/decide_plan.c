/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the plan wants of the lamps now. Under daylight, and where energy changes its price, the
 * price of light says how far each moment is lit; else the plan is one level for the whole day.
 */
#include "decide_parts.h"

#include "plan_day.h"
#include "plan_sky.h"
#include "units.h"

#define CAP_CHANGE 0.05 /* of the lamp: plan again at once */
#define CLOCK_STEP 2    /* s between the two clocks since the last plan */
#define SKY_OPEN_S 600
#define SKY_S      60    /* the clear sky is looked at so often */
#define INDOOR_CAP 0.995 /* of the lamp: warm lamps give a little less than their curve says */
#define STAY_ON    0.97  /* a lit lamp stays lit down to this share of the price that lights it */

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
    double full = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        full += tick->sources[i].full_umol;
    }
    return plan_day_lamp(tick->rules, tick->stage, full);
}

static bool is_due(const struct tick *tick, double target_mol, double cap)
{
    const struct plan_state *plan = &tick->state->plan;
    const double passed_s = units_seconds(tick->now->boot_ns - plan->planned_ns);
    const double moved_s = (double)(tick->now->wall_s - plan->planned_wall_s);
    return plan->planned_ns == 0 || !(passed_s >= 0 && passed_s < PLAN_SKY_EVERY_S) ||
           fabs(moved_s - passed_s) > CLOCK_STEP || fabs(target_mol - plan->target_mol) > 1e-9 ||
           fabs(cap - plan->cap) > CAP_CHANGE;
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
        .need_mol = need_mol,
        .target_mol = tick->verdict->stage.target_mol,
    };
    const struct plan_sky_answer answer = plan_sky_price(&sky);
    struct plan_state *plan = &tick->state->plan;
    plan->price = (struct plan_price){answer.price, 1};
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
        slots.slot[i].cap *= INDOOR_CAP;
    }
    tick->state->plan.price = plan_fill(lamp, &slots, 0, need_mol, missing_price);
}

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
static double dwell(struct tick *tick, double level)
{
    struct space_state *state = tick->state;
    const bool wants_on = level > 0;
    if (!tick->rules->sees_daylight || wants_on == state->plan_wants_on) {
        return level;
    }
    if (may_turn(tick, wants_on)) {
        state->plan_wants_on = wants_on;
        state->plan_turned_ns = tick->now->boot_ns;
        return level;
    }
    return wants_on ? 0 : tick->rules->lamp.level[0];
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
    if (is_due(tick, tick->verdict->stage.target_mol, cap)) {
        make_plan(tick, &lamp, cap, need_mol);
    }
    if (cap > 0 && cap < lampcurve_min_level(lamp.curve)) {
        return one_level;
    }
    const double level = dwell(tick, level_now(tick, &lamp, cap, need_mol));
    return level > 0 ? plan_level_for(tick->sources, count, level * lamp.full_umol) : 0;
}

/* Where nobody sees the sky there is nothing to wait for, and where energy has one price nothing to
 * shift: then the plan is one level. */
static bool has_one_level(const struct tick *tick, bool is_full)
{
    if (tick->state->sensor_is_lost) {
        return true; /* the level for a lost sensor is one: hours that the plan dims would be lost */
    }
    if (tick->rules->sees_daylight) {
        return !tick->rules->has_ppfd;
    }
    return is_full || tariff_is_flat(plan_day_tariff(tick->rules));
}

void decide_sky(struct tick *tick)
{
    struct space_state *state = tick->state;
    if (!tick->rules->sees_daylight || !tick->knows_time || !state->is_begun) {
        return;
    }
    const int64_t away_s = tick->now->wall_s - state->plan_sky_s;
    if (away_s < 0 || away_s >= SKY_S) {
        state->plan_sky_s = tick->now->wall_s;
        state->plan_sky_umol = sun_clear_umol(&tick->rules->sun, tick->now->wall_s);
    }
    const bool is_known = tick->verdict->light_is_measured || !(state->plan_sky_umol > 0);
    clearness_step(&state->clearness, &state->learned,
                   is_known ? tick->verdict->daylight_umol : UNITS_NONE, state->plan_sky_umol,
                   tick->dt_s, is_known);
}

/* A day that is joined under way has had its morning: nobody waits for that sun, and it teaches
 * nothing. */
void decide_open_sky(struct tick *tick, int64_t begin_s)
{
    struct clearness *today = &tick->state->clearness;
    const double past_s = (double)(tick->now->wall_s - begin_s);
    double mol = 0;
    double past_mol = 0;
    for (int64_t s = SKY_OPEN_S / 2; tick->rules->sees_daylight && s < UNITS_S_PER_DAY;
         s += SKY_OPEN_S) {
        const double slot_mol =
            units_mol(sun_clear_umol(&tick->rules->sun, begin_s + s), SKY_OPEN_S);
        mol += slot_mol;
        past_mol += (double)s < past_s ? slot_mol : 0;
    }
    clearness_open(today, mol);
    if (past_mol > 0) {
        clearness_step(today, &tick->state->learned, UNITS_NONE, past_mol * 1e6 / past_s, past_s,
                       false);
    }
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
        return (struct ask){tick->rules->sees_daylight ? 0 : decide_min_level(tick),
                            LIMITER_TARGET_MET};
    }
    double daylight_mol = 0;
    const double shared = decide_shared_level(tick);
    if (units_known(shared) && !answer.is_full) {
        answer.level = shared;
    } else if (!has_one_level(tick, answer.is_full)) {
        answer.level = priced_level(tick, problem.need_mol, answer.level);
        daylight_mol = tick->state->plan.daylight_mol;
        answer.is_full = problem.need_mol > answer.reach_mol + daylight_mol;
    }
    verdict->forecast_mol =
        delivered + fmax(daylight_mol, fmin(problem.need_mol, answer.reach_mol + daylight_mol));
    verdict->planned_level = answer.level;
    struct ask ask = {answer.level, answer.is_full ? LIMITER_FULL_LIGHT : LIMITER_PLAN};
    if (!(answer.level > 0)) {
        return ask; /* the sky is enough, or a better hour is to come */
    }
    const double shaped = fmax(answer.level * tick->envelope, decide_min_level(tick));
    if (tick->is_last || shaped < ask.level) {
        ask.level = tick->is_last ? decide_min_level(tick) : shaped;
        ask.limiter = tick->is_dusk ? LIMITER_DUSK : LIMITER_DAWN;
    }
    return ask;
}
