/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What protects a fixture: heat, trips of its LED driver, a contact that does not open. The result
 * is the highest level that each fixture may have now, and who says so.
 */
#include "decide_parts.h"

#include "units.h"

#define LONGEST_BLIND_S 5.0  /* of one tick */
#define STUCK_AFTER_S   10.0 /* a contact needs no longer to open, nor a lamp to go out */
#define STUCK_CONFIRM_S 5.0
#define STUCK_SHARE     0.05 /* of full power or light, seen with the contact open */
#define STUCK_WATTS     5.0  /* standby of LED drivers stays below */
#define STUCK_UMOL      2.0

static double sample_age_s(const struct tick *tick, const struct reading *reading)
{
    return units_seconds(tick->now->boot_ns - reading->taken_ns);
}

static bool has_own_meter(const struct fixture_rules *rules)
{
    return rules->has_power && !rules->power_is_shared;
}

/* Closed fixtures of the space; with one alone the PPFD reading speaks about it. */
static int lit_count(const struct tick *tick)
{
    int count = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        count += tick->state->fixtures[i].level > 0;
    }
    return count;
}

static double power_ratio(const struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct reading *power = &tick->now->fixtures[index].power;
    if (!has_own_meter(rules) || !reading_is_good(power)) {
        return UNITS_NONE;
    }
    const double expected = dimcurve_watts(&rules->curve, tick->state->fixtures[index].drive);
    return expected > STUCK_WATTS ? power->value / expected : UNITS_NONE;
}

/* Light says something about one fixture only when it burns alone; about all of them when all are
 * gone. Daylight only adds, so that a collapse seen is a collapse. */
static double light_ratio(const struct tick *tick, int index)
{
    const struct reading *ppfd = &tick->now->ppfd;
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    if (!tick->rules->has_ppfd || !reading_is_good(ppfd)) {
        return UNITS_NONE;
    }
    if (lit_count(tick) > 1 && has_own_meter(rules)) {
        return UNITS_NONE; /* its own meter knows better */
    }
    const double expected =
        decide_expected_umol(tick->state, ppfd->taken_ns) * tick->state->light_gain;
    return expected > STUCK_UMOL ? ppfd->value / expected : UNITS_NONE;
}

struct decide_evidence decide_evidence(const struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct fixture_state *state = &tick->state->fixtures[index];
    const struct reading *power = &tick->now->fixtures[index].power;
    const struct reading *ppfd = &tick->now->ppfd;
    if (has_own_meter(rules)) {
        const bool is_lit = state->switching.phase != SWITCHING_OPEN;
        return (struct decide_evidence){
            .drive = state->drive,
            .in_watts = true,
            .seen = reading_is_good(power) ? power->value : UNITS_NONE,
            .expected = is_lit ? dimcurve_watts(&rules->curve, state->drive) : 0,
        };
    }
    return (struct decide_evidence){
        .drive = state->drive,
        .seen = tick->rules->has_ppfd && reading_is_good(ppfd) ? ppfd->value : UNITS_NONE,
        .expected = decide_expected_umol(tick->state, ppfd->taken_ns) * tick->state->light_gain,
    };
}

/* Light without a sun speaks about the one fixture that burns, and about its curve only beyond what
 * the slow gain takes for ageing. */
static double light_of_one(const struct tick *tick, int index)
{
    const struct reading *ppfd = &tick->now->ppfd;
    if (tick->rules->sees_daylight || !tick->rules->has_ppfd || !reading_is_good(ppfd)) {
        return UNITS_NONE;
    }
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_state *other = &tick->state->fixtures[i];
        if (i != index && (other->dark_s < STUCK_AFTER_S || other->is_stuck)) {
            return UNITS_NONE;
        }
    }
    return ppfd->value;
}

static void guard_curve(struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    struct fixture_state *state = &tick->state->fixtures[index];
    const struct reading *power = &tick->now->fixtures[index].power;
    struct curvewatch_sight sight = {
        .is_steady = state->level > 0 && state->steady_s >= CURVEWATCH_STEADY_S,
    };
    if (has_own_meter(rules)) {
        sight.seen = reading_is_good(power) ? power->value : UNITS_NONE;
        sight.expected = dimcurve_watts(&rules->curve, state->drive);
        sight.full = fmax(dimcurve_watts(&rules->curve, 1), STUCK_WATTS / CURVEWATCH_FULL_SHARE);
        sight.share = CURVEWATCH_WATTS_SHARE;
    } else {
        sight.seen = light_of_one(tick, index);
        sight.full = space_full_umol(tick->rules, tick->state, index);
        sight.expected = sight.full * state->level;
        sight.share = CURVEWATCH_LIGHT_SHARE;
    }
    if (curvewatch_step(&state->curvewatch, &sight, tick->dt_s)) {
        decide_say(tick, EVENT_CURVE_WRONG, index, sight.seen, sight.expected);
    }
}

static void guard_led_driver(struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    struct fixture_state *state = &tick->state->fixtures[index];
    const struct ceiling_evidence evidence = {
        .drive = state->drive,
        .is_steady =
            state->level > 0 && tick->verdict->light_is_measured
                ? state->steady_s >= rules->ceiling.settle_s + sample_age_s(tick, &tick->now->ppfd)
                : state->level > 0 && state->steady_s >= rules->ceiling.settle_s + 2,
        .light_ratio = light_ratio(tick, index),
        .power_ratio = power_ratio(tick, index),
    };
    switch (ceiling_step(&rules->ceiling, &state->ceiling, &evidence, tick->dt_s)) {
    case CEILING_NOTHING:
        break;
    case CEILING_TRIPPED:
        decide_say(tick, EVENT_DRIVER_TRIP, index, state->ceiling.trip_drive,
                   state->ceiling.drive_cap);
        break;
    case CEILING_RESTRIKE:
        decide_say(tick, EVENT_DRIVER_RESTRIKE, index, state->ceiling.drive_cap, UNITS_NONE);
        break;
    case CEILING_LIGHT_BACK:
        decide_say(tick, EVENT_DRIVER_LIGHT_BACK, index, state->ceiling.drive_cap, UNITS_NONE);
        break;
    case CEILING_GAVE_UP:
        decide_say(tick, EVENT_DRIVER_GAVE_UP, index, state->ceiling.trips_without_light,
                   UNITS_NONE);
        break;
    }
}

static void guard_heat(struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    struct heat *heat = &tick->state->fixtures[index].heat;
    /* A pause of the whole program is no silence of the sensor: it had no chance to be read. */
    const double dt_s = tick->now->inputs_settled ? fmin(tick->dt_s, LONGEST_BLIND_S) : 0;
    const double shown_c = tick->now->fixtures[index].heat.value;
    switch (heat_step(&rules->heat, heat, &tick->now->fixtures[index].heat, dt_s)) {
    case HEAT_NOTHING:
        break;
    case HEAT_TRIPPED:
        decide_say(tick, EVENT_HEAT_TRIP, index, shown_c, rules->heat.trip_c);
        break;
    case HEAT_TRIPPED_BLIND:
        decide_say(tick, EVENT_HEAT_BLIND, index, UNITS_NONE, UNITS_NONE);
        break;
    case HEAT_REARMED:
        decide_say(tick, EVENT_HEAT_REARMED, index, shown_c, UNITS_NONE);
        break;
    case HEAT_LATCHED:
        decide_say(tick, EVENT_HEAT_LATCHED, index, shown_c, heat->trips_today);
        break;
    }
}

/* W or µmol that an open contact should not let through; NaN: none seen or nothing to see it with.
 */
static double seen_through_open(const struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct fixture_now *now = &tick->now->fixtures[index];
    if (has_own_meter(rules)) {
        const double full_w = dimcurve_watts(&rules->curve, 1);
        const double limit_w = fmax(STUCK_WATTS, STUCK_SHARE * full_w);
        return reading_is_good(&now->power) && now->power.value > limit_w ? now->power.value
                                                                          : UNITS_NONE;
    }
    const struct reading *ppfd = &tick->now->ppfd;
    if (tick->rules->sees_daylight || !tick->rules->has_ppfd || !reading_is_good(ppfd)) {
        return UNITS_NONE;
    }
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        if (tick->state->fixtures[i].dark_s < STUCK_AFTER_S) {
            return UNITS_NONE; /* another fixture may be what is seen */
        }
    }
    return ppfd->value > STUCK_UMOL ? ppfd->value : UNITS_NONE;
}

static void guard_contact(struct tick *tick, int index)
{
    struct fixture_state *state = &tick->state->fixtures[index];
    if (state->dark_s < STUCK_AFTER_S) {
        state->stuck_s = 0;
        return;
    }
    const double seen = seen_through_open(tick, index);
    const double change = units_known(seen) != state->is_stuck ? tick->dt_s : -state->stuck_s;
    state->stuck_s += change;
    if (state->stuck_s < STUCK_CONFIRM_S) {
        return;
    }
    state->stuck_s = 0;
    state->is_stuck = !state->is_stuck;
    decide_say(tick, state->is_stuck ? EVENT_SWITCH_STUCK : EVENT_SWITCH_FREED, index, seen,
               UNITS_NONE);
}

/* What each of the fixture's own guards allows. */
static void say_guards(const struct tick *tick, int index, struct chain_rules *rules)
{
    const struct fixture_rules *lamp = &tick->rules->fixtures[index];
    const struct fixture_state *state = &tick->state->fixtures[index];
    const double by_drive = dimcurve_level(&lamp->curve, state->ceiling.drive_cap);
    rules->said = 0;
    if (tick->now->fixtures[index].output_fault) {
        chain_say(rules, LIMITER_OUTPUT_FAULT, 0);
    }
    if (state->heat.is_tripped) {
        chain_say(rules, LIMITER_HEAT_TRIP, 0);
    }
    if (ceiling_is_resting(&state->ceiling)) {
        chain_say(rules, LIMITER_DRIVER_TRIP, 0);
    }
    if (lamp->heat.is_watched && state->heat.cap < 1) {
        chain_say(rules, LIMITER_HEAT, fmax(state->heat.cap, dimcurve_min_level(&lamp->curve)));
    }
    if (by_drive < 1) {
        chain_say(rules, LIMITER_DRIVE_CEILING, by_drive);
    }
}

static void cap_source(struct tick *tick, int index)
{
    struct plan_source *source = &tick->sources[index];
    struct chain_rules *rules = &tick->verdict->chain.fixtures[index].rules;
    enum limiter held_by = LIMITER_COUNT;
    say_guards(tick, index, rules);
    source->full_umol = space_full_umol(tick->rules, tick->state, index) * tick->state->light_gain;
    source->cap = fmin(chain_least(rules, &held_by), 1);
    source->least = dimcurve_min_level(&tick->rules->fixtures[index].curve);
}

double decide_full_umol(const struct tick *tick)
{
    double umol = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        umol += tick->sources[i].full_umol;
    }
    return umol;
}

void decide_guards(struct tick *tick)
{
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        struct fixture_state *state = &tick->state->fixtures[i];
        if (tick->now->acknowledged) {
            heat_acknowledge(&state->heat);
            ceiling_acknowledge(&state->ceiling, &tick->rules->fixtures[i].ceiling);
        }
        guard_heat(tick, i);
        guard_led_driver(tick, i);
        guard_contact(tick, i);
        guard_curve(tick, i);
        cap_source(tick, i);
    }
}
