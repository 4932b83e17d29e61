/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The sky over a space: daylight is booked beside what a clear sky would have given.
 */
#include "decide_parts.h"

#include "units.h"

#define SKY_OPEN_S 600
#define SKY_S      60 /* the clear sky is looked at so often */
/* Dusk under an open sky is below 10 µmol m⁻² s⁻¹ from sunset on (400 lx, from memory). */
#define STRAY_UMOL 30
#define STRAY_S    600

/* A lamp that is dark leaves the sun alone with the sensor. Where it shines at an hour at which it
 * should be down, longitude or clock are wrong, and so is all that the clear sky promises. The
 * equinox that stands in for a place nobody gave is no promise. */
static void watch_for_stray_sun(struct tick *tick)
{
    struct space_state *state = tick->state;
    const double umol = tick->verdict->daylight_umol;
    if (tick->rules->sun.has_place && tick->verdict->light_is_measured && !state->is_lit &&
        !(state->plan_sky_umol > 0) && umol >= STRAY_UMOL) {
        state->sky_stray_s += tick->dt_s;
    }
    state->sky_is_astray = state->sky_is_astray || state->sky_stray_s >= STRAY_S;
}

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
        state->sun_is_down = sun_is_down(&tick->rules->sun, tick->now->wall_s);
    }
    const bool is_known = tick->verdict->light_is_measured || !(state->plan_sky_umol > 0);
    clearness_step(&state->clearness, &state->learned,
                   is_known ? tick->verdict->daylight_umol : UNITS_NONE, state->plan_sky_umol,
                   tick->dt_s, is_known);
    watch_for_stray_sun(tick);
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
    tick->state->sky_is_astray = tick->state->sky_stray_s >= STRAY_S; /* yesterday */
    tick->state->sky_stray_s = 0;
    if (past_mol > 0) {
        clearness_step(today, &tick->state->learned, UNITS_NONE, past_mol * 1e6 / past_s, past_s,
                       false);
    }
}
