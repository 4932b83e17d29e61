/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One output of a fixture moved by hand for a moment: what of it may be carried out now. A trial is
 * a wish like any other: night, heat, LED driver, minimum times and the stage's PPFD ceiling rule
 * over it. When it ends the level goes on from where it stands, at the usual speed.
 */
#include "decide_parts.h"

#include "units.h"

/* A contact has opened by then: before, the dimming line behind it stays where it is safe. */
#define OPEN_FIRST_S 1.0
/* The same in the dark that nobody asked to break: a contact that did not open shows itself first,
 * at the safe drive (decide_guard.c needs 15 s). */
#define OPEN_SURE_S 20.0

static bool is_on(const struct tick *tick, const struct trial *trial)
{
    return trial_is_on(trial, tick->now->boot_ns);
}

static void watch(struct tick *tick, int index, const struct trial *trial, bool is_contact,
                  int64_t *told_ns)
{
    const int64_t until_ns = is_on(tick, trial) ? trial->until_ns : 0;
    if (until_ns == *told_ns) {
        return;
    }
    *told_ns = until_ns;
    if (until_ns != 0) {
        decide_say(tick, is_contact ? EVENT_TRY_CONTACT : EVENT_TRY_DRIVE, index, trial->value,
                   units_seconds(until_ns - tick->now->boot_ns));
    } else {
        decide_say(tick, EVENT_TRY_ENDS, index, is_contact, UNITS_NONE);
    }
}

void decide_watch_trials(struct tick *tick)
{
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_now *now = &tick->now->fixtures[i];
        struct fixture_state *state = &tick->state->fixtures[i];
        watch(tick, i, &now->try_drive, false, &state->told_drive_ns);
        watch(tick, i, &now->try_contact, true, &state->told_contact_ns);
    }
}

bool decide_is_tried(const struct tick *tick, int index)
{
    const struct fixture_now *now = &tick->now->fixtures[index];
    return is_on(tick, &now->try_drive) || is_on(tick, &now->try_contact);
}

static bool may_light(const struct tick *tick, const struct trial *trial)
{
    if (!tick->knows_time) {
        return false; /* nobody can tell whether it is night */
    }
    return trial->breaks_night || (tick->stage && tick->verdict->place.is_lit && !tick->is_last);
}

void decide_try_contact(const struct tick *tick, int index, struct ask *ask)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct fixture_now *now = &tick->now->fixtures[index];
    const struct trial *trial = &now->try_contact;
    bool closed = trial->value > 0.5;
    if (!rules->has_switch) { /* the dimming line is all there is: any drive asks for light */
        trial = &now->try_drive;
        closed = trial->value > rules->safe_drive;
    }
    if (!is_on(tick, trial)) {
        return;
    }
    if (!closed && ask->level > 0) {
        *ask = (struct ask){0, LIMITER_BY_HAND};
    } else if (closed && !(ask->level > 0) && may_light(tick, trial)) {
        *ask = (struct ask){dimcurve_min_level(&rules->curve), LIMITER_BY_HAND};
    }
}

double decide_try_room(const struct tick *tick, int index)
{
    if (!tick->stage || !decide_is_tried(tick, index)) {
        return 1;
    }
    double room_umol = tick->stage->ceiling_umol - tick->verdict->daylight_umol;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        if (i != index) {
            room_umol -= tick->sources[i].full_umol * tick->state->fixtures[i].level;
        }
    }
    const double level = room_umol / tick->sources[index].full_umol;
    if (level >= 1) {
        return 1;
    }
    return level < dimcurve_min_level(&tick->rules->fixtures[index].curve) ? 0 : level;
}

bool decide_try_lit(const struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct trial *trial = &tick->now->fixtures[index].try_drive;
    struct fixture_state *state = &tick->state->fixtures[index];
    struct chain_fixture *chain = &tick->verdict->chain.fixtures[index];
    if (!is_on(tick, trial) || !may_light(tick, trial) ||
        tick->now->fixtures[index].closing_unconfirmed) { /* it closes at minimum */
        return false;
    }
    enum limiter held_by = LIMITER_COUNT;
    const double cap = chain_least(&chain->rules, &held_by);
    state->drive = trial->value;
    state->limiter = LIMITER_BY_HAND;
    chain->asked = dimcurve_level(&rules->curve, trial->value);
    chain->asked_by = LIMITER_BY_HAND;
    if (state->drive > state->ceiling.drive_cap) {
        state->drive = state->ceiling.drive_cap;
        state->limiter = LIMITER_DRIVE_CEILING;
    }
    if (dimcurve_level(&rules->curve, state->drive) > cap) {
        state->drive = fmin(state->drive, dimcurve_drive(&rules->curve, cap));
        state->limiter = held_by;
    }
    state->level = dimcurve_level(&rules->curve, state->drive);
    return true;
}

double decide_try_open(const struct tick *tick, int index)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct fixture_now *now = &tick->now->fixtures[index];
    const struct fixture_state *state = &tick->state->fixtures[index];
    const double first_s = may_light(tick, &now->try_drive) ? OPEN_FIRST_S : OPEN_SURE_S;
    const bool is_open = rules->has_switch && state->dark_s >= first_s && !state->is_stuck &&
                         !now->output_fault && !now->opening_unconfirmed;
    return is_on(tick, &now->try_drive) && is_open ? now->try_drive.value : rules->safe_drive;
}
