/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Contacts that were told to open while nobody answers. What is commanded is dark; what the lamp
 * does is not known. It is told, and in a night the light that it may give is summed up apart from
 * the light that is known to have fallen.
 */
#include "decide_parts.h"

#include "units.h"

#define GRACE_S 5.0 /* an answer takes a tick or two */
#define TOLD_S  10.0

/* A reading of a space without a sun shows whether it is dark: then the guarded night counts it. */
static bool is_blind(const struct tick *tick)
{
    return tick->rules->sees_daylight || !tick->verdict->light_is_measured;
}

static void stay_unsure(struct tick *tick, int index)
{
    struct fixture_state *state = &tick->state->fixtures[index];
    state->unsure_s = state->dark_s;
    if (tick->stage && !tick->verdict->place.is_lit && is_blind(tick)) {
        const double dose = tick->sources[index].full_umol * state->lit_level * tick->dt_s;
        state->unsure_dose += dose;
        tick->state->night_possible += dose;
    }
    if (!state->unsure_said && state->unsure_s >= TOLD_S) {
        state->unsure_said = true;
        decide_say(tick, EVENT_OPENING_UNCONFIRMED, index, state->lit_level, state->unsure_s);
    }
}

static void be_sure(struct tick *tick, int index)
{
    struct fixture_state *state = &tick->state->fixtures[index];
    if (state->unsure_said) {
        decide_say(tick, EVENT_OPENING_CONFIRMED, index, state->unsure_s, state->unsure_dose);
    }
    state->unsure_said = false;
    state->unsure_s = state->unsure_dose = 0;
}

void decide_openings(struct tick *tick)
{
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        struct fixture_state *state = &tick->state->fixtures[i];
        const bool is_open = state->dark_s > 0 && !tick->now->fixtures[i].opening_unconfirmed;
        if (is_open) {
            state->lit_level = 0;
        }
        if (is_open || !(state->dark_s > 0)) { /* or closed again: then it had answered */
            be_sure(tick, i);
        } else if (state->dark_s >= GRACE_S && state->lit_level > 0) {
            stay_unsure(tick, i);
        }
    }
}
