/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The sky over a space: daylight is booked beside what a clear sky would have given.
 */
#include "decide_parts.h"

#include "units.h"

#define SKY_OPEN_S 600
#define SKY_S      60 /* the clear sky is looked at so often */

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
