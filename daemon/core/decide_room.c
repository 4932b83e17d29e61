/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The room that daylight leaves under the stage's PPFD ceiling.
 */
#include "decide_parts.h"

#include "units.h"

/* Clouds that move past a bright sun wear no contact: a lamp that the ceiling has put out stays
 * dark for a rest of the stage. */
static bool is_resting(const struct tick *tick)
{
    const int64_t out_ns = tick->state->room_out_ns;
    return out_ns != 0 && units_seconds(tick->now->boot_ns - out_ns) < tick->stage->shortest_rest_s;
}

double decide_room_level(struct tick *tick)
{
    const int count = tick->rules->fixture_count;
    const double room_umol = tick->stage->ceiling_umol - tick->verdict->daylight_umol;
    double level = 1;
    if (room_umol < plan_umol(tick->sources, count, 1)) {
        level = plan_level_for(tick->sources, count, fmax(room_umol, 0));
    }
    if (level < decide_min_level(tick)) {
        if (tick->state->is_lit) {
            tick->state->room_out_ns = tick->now->boot_ns;
        }
        return 0;
    }
    return is_resting(tick) ? 0 : level;
}
