/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One fixture: from the level that the space asks for, through the fixture's own cap, the care of
 * its contact and the slew, to what its outputs are told.
 */
#include "decide_parts.h"

#include "units.h"

#define STEADY_DRIVE 0.02 /* a drive that moved by less counts as standing still */

/* Stronger than a wish: the contact opens now, without dimming first or minimum on time. */
static bool is_urgent(enum limiter limiter)
{
    return limiter <= LIMITER_DRIVER_TRIP;
}

/* The night would open a contact that closes now before its minimum time on. A hand may want that.
 */
static bool is_too_late(const struct tick *tick, const struct switching_rules *rules,
                        const struct ask *ask)
{
    return tick->stage && tick->verdict->place.is_lit && ask->limiter != LIMITER_BY_HAND &&
           (double)tick->verdict->place.until_off_s < rules->min_on_s &&
           rules->min_on_s < tick->stage->window.length_s;
}

double decide_rise_per_s(const struct tick *tick)
{
    const double full = decide_full_umol(tick);
    const bool is_limited = tick->stage && tick->stage->rise_umol_per_s > 0 && full > 0;
    const double usual = tick->rules->rise_per_s;
    return is_limited ? fmin(tick->stage->rise_umol_per_s / full, usual) : usual;
}

static double move_level(const struct tick *tick, const struct fixture_state *state, double want,
                         double min_level, enum limiter limiter)
{
    const double from = state->level > min_level ? state->level : min_level;
    const bool falls_at_once = limiter <= LIMITER_LIGHT_CEILING || tick->is_last;
    const double fall_per_s = falls_at_once ? (double)INFINITY : tick->rules->fall_per_s;
    return fmax(ramp_slew(from, want, decide_rise_per_s(tick), fall_per_s, tick->dt_s), min_level);
}

static void track_steadiness(struct tick *tick, struct fixture_state *state, bool moved)
{
    if (moved || fabs(state->drive - state->steady_drive) > STEADY_DRIVE) {
        state->steady_s = 0;
        state->steady_drive = state->drive;
    } else {
        state->steady_s += tick->dt_s;
    }
}

static double watts_of(const struct tick *tick, int index, bool closed)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct reading *power = &tick->now->fixtures[index].power;
    if (rules->has_power && !rules->power_is_shared && reading_is_good(power)) {
        return fmax(power->value, 0);
    }
    return closed ? dimcurve_watts(&rules->curve, tick->state->fixtures[index].drive) : 0;
}

/* Beside its own guards: the space's budget, and the room under the stage's ceiling of one that is
 * moved by hand: the plan's common level keeps to that ceiling by itself. */
static void say_limits(struct tick *tick, int index)
{
    struct chain_rules *rules = &tick->verdict->chain.fixtures[index].rules;
    const double room = decide_try_room(tick, index);
    if (tick->power_cap[index] < 1) {
        chain_say(rules, LIMITER_POWER_LIMIT, tick->power_cap[index]);
    }
    if (room < 1) {
        chain_say(rules, LIMITER_LIGHT_CEILING, room);
    }
}

/* What is asked of it, before its own limits. */
static struct ask ask_of(struct tick *tick, int index, const struct ask *of_space)
{
    struct chain_fixture *chain = &tick->verdict->chain.fixtures[index];
    struct ask ask = *of_space;
    decide_try_contact(tick, index, &ask);
    chain->asked = ask.level;
    chain->asked_by = ask.limiter;
    return ask;
}

/* Where it came to stand beside what it may have. */
static enum chain_pace pace_of(const struct tick *tick, int index,
                               const struct switching_answer *answer, double want)
{
    const double level = tick->state->fixtures[index].level;
    const double may_have = answer->is_resting ? 0 : want;
    const double aim = fmax(may_have, tick->sources[index].least);
    if (!answer->closed) {
        return may_have > 0 ? CHAIN_WAITS : CHAIN_THERE;
    }
    if (answer->at_minimum) {
        return may_have > 0 && aim <= level + CHAIN_SAME ? CHAIN_THERE : CHAIN_LOWEST;
    }
    return level < aim - CHAIN_SAME   ? CHAIN_RISES
           : level > aim + CHAIN_SAME ? CHAIN_FALLS
                                      : CHAIN_THERE;
}

void decide_fixture(struct tick *tick, int index, const struct ask *of_space)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    struct fixture_state *state = &tick->state->fixtures[index];
    struct fixture_verdict *verdict = &tick->verdict->fixtures[index];
    const double min_level = dimcurve_min_level(&rules->curve);
    struct chain_fixture *chain = &tick->verdict->chain.fixtures[index];
    say_limits(tick, index);
    const struct ask ask = ask_of(tick, index, of_space);
    const double want = chain_may_have(chain, &state->limiter);
    const struct switching_ask switch_ask = {
        .want = want > 0,
        .may_close = tick->now->may_close && !tick->has_closed &&
                     !is_too_late(tick, &rules->switching, &ask),
        /* A device keeps its contact closed while nobody commands it: a gap is no rest. */
        .is_unknown = tick->state->was_resumed || tick->now->fixtures[index].output_fault,
        .urgent = !(want > 0) && is_urgent(state->limiter),
    };
    const struct switching_answer answer =
        switching_step(&rules->switching, &state->switching, &switch_ask, tick->dt_s);
    tick->has_closed = tick->has_closed || (answer.moved && answer.closed);
    if (answer.is_resting) {
        chain_say(&chain->rules, LIMITER_REST, 0);
        state->limiter = LIMITER_REST;
    }
    bool is_tried = false; /* its dimming output is where somebody put it */
    if (!answer.closed) {
        state->level = 0;
        state->drive = decide_try_open(tick, index);
        state->dark_s += tick->dt_s;
    } else {
        is_tried = !answer.at_minimum && decide_try_lit(tick, index);
        if (!is_tried) {
            state->level = answer.at_minimum
                               ? min_level
                               : move_level(tick, state, want, min_level, state->limiter);
            state->level = fmax(fmin(state->level, tick->power_cap[index]), min_level);
            state->drive = dimcurve_drive(&rules->curve, state->level);
        }
        state->dark_s = 0;
        state->stuck_s = 0;
        state->lit_level = state->level;
    }
    track_steadiness(tick, state, answer.moved);
    chain->pace = is_tried ? CHAIN_THERE : pace_of(tick, index, &answer, want);
    *verdict = (struct fixture_verdict){
        .level = state->level,
        .drive = state->drive,
        .closed = answer.closed,
        .watts = watts_of(tick, index, answer.closed),
        .cap = tick->sources[index].cap,
        .limiter = state->limiter,
        .unsure_s = answer.closed ? 0 : state->unsure_s,
        .is_unknown = !answer.closed && tick->now->fixtures[index].opening_unconfirmed &&
                      !(state->lit_level > 0),
    };
}
