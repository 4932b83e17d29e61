/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The order of one decision. The light of the past interval is booked first, to the day and the
 * limiters that ruled it; then the rules of now are asked, strongest last word; then the fixtures
 * move.
 */
#include "decide_parts.h"

#include "units.h"

#include <stddef.h>
#include <string.h>

#define GAP_S     10.0 /* a tick this late means that nobody was at the wheel */
#define GAP_STEPS 1.5  /* … or so many steps of a rehearsal that ticks more seldom */

static const char *const event_names[EVENT_KIND_COUNT] = {
    [EVENT_DAY_BEGINS] = "day-begins",
    [EVENT_CARRIED_OVER] = "carried-over",
    [EVENT_DAY_ENDS] = "day-ends",
    [EVENT_STAGE_BEGINS] = "stage-begins",
    [EVENT_STAGES_OVER] = "stages-over",
    [EVENT_LIGHTS_ON] = "lights-on",
    [EVENT_LIGHTS_OFF] = "lights-off",
    [EVENT_TARGET_MET] = "target-met",
    [EVENT_TARGET_OUT_OF_REACH] = "target-out-of-reach",
    [EVENT_HEAT_TRIP] = "heat-trip",
    [EVENT_HEAT_BLIND] = "heat-blind",
    [EVENT_HEAT_REARMED] = "heat-rearmed",
    [EVENT_HEAT_LATCHED] = "heat-latched",
    [EVENT_DRIVER_TRIP] = "driver-trip",
    [EVENT_DRIVER_RESTRIKE] = "driver-restrike",
    [EVENT_DRIVER_LIGHT_BACK] = "driver-light-back",
    [EVENT_DRIVER_GAVE_UP] = "driver-gave-up",
    [EVENT_SENSOR_LOST] = "sensor-lost",
    [EVENT_SENSOR_BACK] = "sensor-back",
    [EVENT_SWITCH_STUCK] = "switch-stuck",
    [EVENT_SWITCH_FREED] = "switch-freed",
    [EVENT_NIGHT_BREAK] = "night-break",
    [EVENT_NIGHT_BREAK_ENDS] = "night-break-ends",
    [EVENT_HAND_BEGINS] = "hand-begins",
    [EVENT_HAND_ENDS] = "hand-ends",
    [EVENT_CLOCK_UNTRUSTED] = "clock-untrusted",
    [EVENT_CLOCK_TRUSTED] = "clock-trusted",
    [EVENT_GAP] = "gap",
    [EVENT_TRY_DRIVE] = "try-drive",
    [EVENT_TRY_CONTACT] = "try-contact",
    [EVENT_TRY_ENDS] = "try-ends",
    [EVENT_CURVE_WRONG] = "curve-wrong",
    [EVENT_OPENING_UNCONFIRMED] = "opening-unconfirmed",
    [EVENT_OPENING_CONFIRMED] = "opening-confirmed",
    [EVENT_LIGHT_DRIFT] = "light-drift",
    [EVENT_SENSOR_CORRECTED] = "sensor-corrected",
    [EVENT_LAMP_CORRECTED] = "lamp-corrected",
    [EVENT_CORRECTION_ENDS] = "correction-ends",
    [EVENT_LIGHT_AGED] = "light-aged",
    [EVENT_SENSOR_FALLEN] = "sensor-fallen",
};

const char *decide_event_name(enum core_event kind)
{
    return (unsigned)kind < EVENT_KIND_COUNT ? event_names[kind] : "unknown";
}

void decide_say(struct tick *tick, enum core_event kind, int fixture, double a, double b)
{
    struct verdict *verdict = tick->verdict;
    if (verdict->event_count == DECIDE_EVENTS_MAX) {
        verdict->events_dropped++;
        return;
    }
    verdict->events[verdict->event_count++] = (struct decide_event){
        .kind = kind,
        .fixture = fixture,
        .a = a,
        .b = b,
        .reach = tick->state->reach,
        .evidence = fixture < 0
                        ? (struct decide_evidence){UNITS_NONE, false, UNITS_NONE, UNITS_NONE}
                        : decide_evidence(tick, fixture),
    };
}

static void watch_time(struct tick *tick)
{
    struct space_state *state = tick->state;
    const struct now *now = tick->now;
    if (state->has_ticked && now->boot_ns > state->boot_ns) {
        tick->dt_s = units_seconds(now->boot_ns - state->boot_ns);
    }
    if (tick->dt_s > fmax(GAP_S, GAP_STEPS * now->step_s)) {
        decide_say(tick, EVENT_GAP, -1, tick->dt_s, UNITS_NONE);
        memset(state->blame, 0, sizeof state->blame);
        state->blame_otherwise = LIMITER_NOT_RUNNING;
    }
    tick->knows_time =
        now->clock != CLOCK_UNTRUSTED || tick->rules->clock_policy == CLOCK_POLICY_CARRY_ON;
    const bool was_untrusted = state->has_ticked && state->clock == CLOCK_UNTRUSTED;
    if (now->clock == CLOCK_UNTRUSTED && !was_untrusted) {
        decide_say(tick, EVENT_CLOCK_UNTRUSTED, -1, tick->rules->clock_policy, UNITS_NONE);
    } else if (now->clock != CLOCK_UNTRUSTED && was_untrusted) {
        decide_say(tick, EVENT_CLOCK_TRUSTED, -1, UNITS_NONE, UNITS_NONE);
    }
    state->clock = now->clock;
}

static void watch_hand(struct tick *tick)
{
    const bool is_active = tick->now->hand.is_active;
    if (is_active && !tick->state->hand_was_active) {
        decide_say(tick, EVENT_HAND_BEGINS, -1, tick->now->hand.level,
                   units_seconds(tick->now->hand.until_ns - tick->now->boot_ns));
    } else if (!is_active && tick->state->hand_was_active) {
        decide_say(tick, EVENT_HAND_ENDS, -1, UNITS_NONE, UNITS_NONE);
    }
    tick->state->hand_was_active = is_active;
}

static void lower(struct tick *tick, struct ask *ask, double cap, enum limiter limiter)
{
    if (!(cap < 1)) {
        return; /* it allows all there is */
    }
    chain_say(&tick->verdict->chain.rules, limiter, cap);
    if (cap < ask->level || (cap <= ask->level && limiter < ask->limiter)) {
        ask->level = cap;
        ask->limiter = limiter;
    }
}

/* The level that would give the day's target over the whole window, lamps alone. */
static double timer_level(const struct tick *tick)
{
    const struct lightday_rules *day = &tick->rules->day;
    const int64_t begin_s = lightday_begin(day, lightday_of(day, tick->now->wall_s));
    const double lit_s = decide_lit_s(tick->rules, tick->stage, begin_s);
    return plan_level_for(tick->sources, tick->rules->fixture_count,
                          tick->verdict->stage.target_mol * 1e6 / lit_s);
}

/* A rule that leaves no other a word. */
static struct ask ask_alone(struct tick *tick, double level, enum limiter limiter)
{
    tick->verdict->chain.rules.said = 0;
    chain_say(&tick->verdict->chain.rules, limiter, level);
    return (struct ask){level, limiter};
}

static struct ask ask_space(struct tick *tick)
{
    const struct now *now = tick->now;
    const bool may_break_night = now->hand.is_active && now->hand.breaks_night;
    struct ask ask = {0, LIMITER_NIGHT};
    double floor_level = 0;
    if (!tick->knows_time) {
        const bool is_low = tick->rules->clock_policy == CLOCK_POLICY_LOW;
        return ask_alone(tick, is_low ? decide_min_level(tick) : 0, LIMITER_CLOCK_UNTRUSTED);
    }
    if (tick->stage) {
        ask = decide_ask_plan(tick);
        floor_level = decide_floor_level(tick);
        decide_keep_floor(tick, floor_level, &ask);
        tick->verdict->floor_level = floor_level;
    }
    if (!tick->stage || !tick->verdict->place.is_lit) {
        if (!may_break_night) {
            return ask_alone(tick, 0, LIMITER_NIGHT);
        }
        ask = ask_alone(tick, now->hand.level, LIMITER_BY_HAND);
    } else if (now->hand.is_active && !tick->is_last) {
        ask = ask_alone(tick, now->hand.level, LIMITER_BY_HAND);
    }
    if (!tick->stage) {
        return ask;
    }
    if (tick->state->sensor_is_lost) {
        lower(tick, &ask, fmax(timer_level(tick), floor_level), LIMITER_SENSOR_LOST);
    }
    lower(tick, &ask, decide_room_level(tick), LIMITER_LIGHT_CEILING);
    return ask;
}

/* Who holds the light down from now until the next tick, in µmol m⁻² s⁻¹ at the canopy. The plan's
 * own choice and the ramps are no loss: they count only when nobody else is to blame. */
static void blame(struct tick *tick, const struct ask *ask)
{
    struct space_state *state = tick->state;
    memset(state->blame, 0, sizeof state->blame);
    state->blame_otherwise = ask->limiter;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_state *fixture = &state->fixtures[i];
        const double full = tick->sources[i].full_umol;
        if (fixture->limiter < LIMITER_DAWN) {
            state->blame[fixture->limiter] += full * fmax(0, tick->envelope - fixture->level);
        }
    }
}

/* The space's limiter is that of the fixture that loses most against what was asked. */
static void sum_up(struct tick *tick, const struct ask *ask)
{
    struct verdict *verdict = tick->verdict;
    struct space_state *state = tick->state;
    double umol = 0;
    double full = 0;
    double worst = 0;
    verdict->asked = ask->level;
    verdict->limiter = ask->limiter;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_verdict *fixture = &verdict->fixtures[i];
        const double loss = tick->sources[i].full_umol * (ask->level - fixture->level);
        umol += tick->sources[i].full_umol * fixture->level;
        full += tick->sources[i].full_umol;
        verdict->watts += fixture->watts;
        if (fixture->limiter != ask->limiter && loss > worst) {
            worst = loss;
            verdict->limiter = fixture->limiter;
        }
        if (fixture->closed && fixture->limiter == LIMITER_BY_HAND && !(ask->level > 0)) {
            verdict->limiter = LIMITER_BY_HAND; /* the only light there is */
        }
    }
    verdict->full_umol = full;
    verdict->level = full > 0 ? umol / full : 0;
    verdict->account = state->account;
    state->level = verdict->level;
    state->asked = ask->level;
    state->limiter = verdict->limiter;
    const double kwh = units_kwh(verdict->watts, tick->dt_s);
    state->energy_kwh += kwh;
    if (units_known(tick->now->price_per_kwh)) {
        state->cost += kwh * tick->now->price_per_kwh;
    }
    decide_note_energy(tick);
}

static void note_lights(struct tick *tick)
{
    struct space_state *state = tick->state;
    bool is_lit = false;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        is_lit = is_lit || tick->verdict->fixtures[i].closed;
    }
    if (is_lit && !state->is_lit) {
        decide_say(tick, EVENT_LIGHTS_ON, -1, tick->verdict->asked, UNITS_NONE);
        if (state->first_on_s == 0) {
            state->first_on_s = tick->now->wall_s;
        }
    } else if (!is_lit && state->is_lit) {
        const bool was_yesterday = tick->verdict->day_closed;
        decide_say(tick, EVENT_LIGHTS_OFF, -1,
                   was_yesterday ? tick->verdict->closed.account.delivered_mol
                                 : state->account.delivered_mol,
                   UNITS_NONE);
        if (was_yesterday) {
            decide_move_opening(tick);
        } else {
            state->last_off_s = tick->now->wall_s;
        }
    }
    state->is_lit = is_lit;
}

static double longest_settle_s(const struct space_rules *rules)
{
    double longest = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        longest = fmax(longest, rules->fixtures[i].switching.settle_s);
    }
    return longest;
}

/* Those that are moved by hand come last: they take what light the others leave. */
static void move_fixtures(struct tick *tick, const struct ask *ask)
{
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < tick->rules->fixture_count; i++) {
            if (decide_is_tried(tick, i) == (pass == 1)) {
                decide_fixture(tick, i, ask);
            }
        }
    }
}

/* A fixture that a reload took away stands open; what is behind the fixtures is much, and read only
 * where the verdict says that it is there. Of the chain the guards clear what is of a fixture. */
static void clear(struct verdict *verdict)
{
    memset(verdict, 0, offsetof(struct verdict, closed));
    verdict->chain.rules.said = 0;
    verdict->chain.plan = CHAIN_PLAN_NONE;
    verdict->chain.light_price = UNITS_NONE;
}

void decide(const struct space_rules *rules, struct space_state *state, const struct now *now,
            struct verdict *ret)
{
    struct space_rules held;
    rules = decide_start(rules, state, now, &held);
    struct tick tick = {.rules = rules, .now = now, .state = state, .verdict = ret};
    clear(ret);
    watch_time(&tick);
    decide_light(&tick);
    decide_note_ageing(&tick);
    decide_sky(&tick);
    decide_day(&tick);
    decide_account(&tick);
    decide_night(&tick);
    decide_guards(&tick);
    decide_openings(&tick);
    decide_reach(&tick);
    watch_hand(&tick);
    decide_watch_trials(&tick);
    if (tick.stage && ret->place.is_lit) {
        /* The last seconds of the window: at minimum, so that the contact opens unloaded and on
         * time. */
        tick.is_last = (double)ret->place.until_off_s <= longest_settle_s(rules) &&
                       tick.stage->window.length_s < UNITS_S_PER_DAY;
    }
    const struct ask ask = ask_space(&tick);
    decide_power(&tick, &ask);
    move_fixtures(&tick, &ask);
    decide_remember(&tick);
    blame(&tick, &ask);
    sum_up(&tick, &ask);
    decide_note_heat(&tick);
    note_lights(&tick);
    state->boot_ns = now->boot_ns;
    if (now->clock != CLOCK_UNTRUSTED) {
        state->wall_s = now->wall_s;
    }
    state->has_ticked = true;
    state->was_resumed = false;
}
