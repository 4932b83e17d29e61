/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What heat leaves of the lamps, hour by hour of the light day: what the plan of the next days may
 * count on.
 */
#include "decide_parts.h"

#include "units.h"

/* A heat sensor that says nothing yet, or no more, is no heat. */
static bool is_blind(const struct heat_rules *rules, const struct heat *heat)
{
    return rules->is_watched && (!units_known(heat->filtered_c) || heat->blind_s >= rules->lost_s);
}

double decide_heat_cap(const struct tick *tick)
{
    double full = 0;
    double left = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct heat *heat = &tick->state->fixtures[i].heat;
        const double umol = tick->sources[i].full_umol;
        if (is_blind(&tick->rules->fixtures[i].heat, heat)) {
            continue;
        }
        full += umol;
        left += heat->is_tripped ? 0 : umol * heat->cap;
    }
    return full > 0 ? left / full : UNITS_NONE;
}

void decide_note_heat(struct tick *tick)
{
    struct learned_hours *hours = &tick->state->heat_hours;
    const double cap = decide_heat_cap(tick);
    if (!tick->knows_time || !(tick->verdict->asked > 0) || !units_known(cap)) {
        return;
    }
    const int hour = lightday_second(&tick->rules->day, tick->now->wall_s) / 3600;
    hours->asked_s[hour] += tick->dt_s;
    hours->cap_s[hour] += cap * tick->dt_s;
    hours->highest_level[hour] = fmax(hours->highest_level[hour], tick->verdict->level);
}
