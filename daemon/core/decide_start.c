/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The light day's start is another one than before: another tariff, or the operator's word. The
 * open light day goes on by its own start until both starts name the same light day; from then on
 * the new one holds, and with it the light day's new end. So every light day has a name of its own,
 * and no light falls between two of them or into both; the one in which it happens is as much
 * shorter or longer as the start has moved.
 */
#include "decide_parts.h"

/* The end of the open light day moves: with it the light that its lamps could give, the plan, and
 * the clear sky that its daylight is compared with. */
static void move_end(const struct space_rules *before, const struct space_rules *after,
                     struct space_state *state, int64_t wall_s)
{
    state->plan.planned_ns = 0;
    state->clearness.is_broken = true;
    daylog_open(&state->daylog); /* it goes by the beginning, and that is another one now */
    if (state->stage_index < 0 || state->stage_index >= after->stage_count) {
        return;
    }
    const struct stage *stage = &after->stages[state->stage_index];
    const int64_t begin_s = lightday_begin(&before->day, state->light_day);
    const double whole_s = decide_lit_s(before, stage, begin_s);
    const double more_s = decide_lit_s(after, stage, wall_s) - decide_lit_s(before, stage, wall_s);
    if (whole_s > 0) {
        state->reach_static_mol *= fmax(0, 1 + more_s / whole_s);
    }
}

const struct space_rules *decide_start(const struct space_rules *rules, struct space_state *state,
                                       const struct now *now, struct space_rules *ret_held)
{
    if (!state->is_begun || state->day_start_s == rules->day.start_s) {
        state->day_start_s = rules->day.start_s;
        return rules;
    }
    *ret_held = *rules;
    ret_held->day.start_s = state->day_start_s;
    const int64_t day = lightday_of(&ret_held->day, now->wall_s);
    const bool knows_time =
        now->clock != CLOCK_UNTRUSTED || rules->clock_policy == CLOCK_POLICY_CARRY_ON;
    if (!knows_time || day != lightday_of(&rules->day, now->wall_s)) {
        return ret_held;
    }
    if (day == state->light_day) {
        move_end(ret_held, rules, state, now->wall_s);
    }
    state->day_start_s = rules->day.start_s;
    return rules;
}
