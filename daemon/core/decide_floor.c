/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The stage's least PPFD inside the window. What daylight lacks of it the lamp fills, whatever
 * light costs and also when the target is met; ceiling, heat and every guard stay above it.
 */
#include "decide_parts.h"

#include "plan.h"
#include "units.h"

#define FLOOR_MORE 0.01 /* of the lamp: a level so little above the floor is the floor's */

/* A sky that trembles about the floor wears no contact: a lamp that was lit for it burns on for a
 * run of the stage, at its lowest level. */
double decide_floor_level(struct tick *tick)
{
    const struct stage *stage = tick->stage;
    struct space_state *state = tick->state;
    const bool has_floor = stage->floor_umol > 0 && tick->verdict->place.is_lit && !tick->is_last;
    const double lack_umol = has_floor ? stage->floor_umol - tick->verdict->daylight_umol : 0;
    const double least = decide_min_level(tick);
    if (lack_umol > 0) {
        if (state->floor_ns == 0) {
            state->floor_ns = tick->now->boot_ns;
        }
        const double level = plan_level_for(tick->sources, tick->rules->fixture_count, lack_umol);
        return fmax(fmin(level, tick->envelope), least);
    }
    const double since_s = units_seconds(tick->now->boot_ns - state->floor_ns);
    if (has_floor && state->is_lit && state->floor_ns != 0 && since_s < stage->shortest_run_s) {
        return least;
    }
    state->floor_ns = 0;
    return 0;
}

void decide_keep_floor(struct tick *tick, double floor_level, struct ask *ask)
{
    struct chain_rules *rules = &tick->verdict->chain.rules;
    if (!(floor_level > ask->level)) {
        return;
    }
    const bool is_ramp = floor_level >= tick->envelope && tick->envelope < 1;
    *ask = (struct ask){floor_level, LIMITER_PLAN};
    rules->said = 0;
    chain_say(rules, LIMITER_PLAN, floor_level);
    if (is_ramp) {
        ask->limiter = tick->is_dusk ? LIMITER_DUSK : LIMITER_DAWN;
        chain_say(rules, LIMITER_PLAN, fmax(tick->verdict->planned_level, floor_level));
        chain_say(rules, ask->limiter, floor_level);
    }
}

bool decide_is_floor(const struct space_rules *rules, const struct verdict *verdict)
{
    if (verdict->limiter != LIMITER_PLAN || verdict->stage.phase != STAGE_RUNNING ||
        !verdict->place.is_lit || !(verdict->asked > 0) || !(verdict->full_umol > 0)) {
        return false;
    }
    const double floor_umol = rules->stages[verdict->stage.index].floor_umol;
    const double lack_umol = floor_umol - verdict->daylight_umol;
    const double level = fmax(lack_umol / verdict->full_umol, lampcurve_min_level(&rules->lamp));
    return floor_umol > 0 && lack_umol > 0 && verdict->asked <= level + FLOOR_MORE;
}
