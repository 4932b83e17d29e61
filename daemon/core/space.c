/* SPDX-License-Identifier: Apache-2.0 */
#include "space.h"

#include "units.h"

#include <string.h>

static void fixture_init(struct fixture_state *state, const struct fixture_rules *rules)
{
    memset(state, 0, sizeof *state);
    heat_reset(&state->heat);
    ceiling_reset(&state->ceiling, &rules->ceiling);
    switching_reset(&state->switching);
    state->drive = rules->safe_drive;
    state->steady_drive = rules->safe_drive;
    state->limiter = LIMITER_NIGHT;
}

void space_init(struct space_state *state, const struct space_rules *rules)
{
    memset(state, 0, sizeof *state);
    state->stage_index = -1;
    state->light_gain = 1;
    correction_reset(&state->correction);
    state->limiter = LIMITER_NIGHT;
    state->blame_otherwise = LIMITER_PLAN;
    learned_init(&state->learned);
    daylog_open(&state->daylog);
    ageing_init(&state->ageing);
    state->lamp_cap = 1;
    nightguard_reset(&state->nightguard);
    for (int i = 0; i < rules->fixture_count; i++) {
        fixture_init(&state->fixtures[i], &rules->fixtures[i]);
    }
}

double space_configured_umol(const struct space_rules *rules)
{
    double umol = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        umol += rules->fixtures[i].full_umol;
    }
    return umol;
}

/* What was learned of the light was learned beside the correction of before. */
static void learn_light_afresh(struct space_state *state)
{
    state->light_gain = 1;
    memset(&state->lampstep, 0, sizeof state->lampstep);
    memset(&state->lampstep_sight, 0, sizeof state->lampstep_sight);
}

bool space_correct(struct space_state *state, enum correction_of of, double basis, int64_t wall_s)
{
    const double ratio = lampstep_ratio(&state->lampstep);
    if (!correction_accept(&state->correction, of, ratio, basis, wall_s)) {
        return false;
    }
    learn_light_afresh(state);
    return true;
}

void space_uncorrect(struct space_state *state)
{
    correction_reset(&state->correction);
    learn_light_afresh(state);
}

/* The caller opened the contact: that counts as an operation where it was closed. */
static void open_contact(struct fixture_state *state, const struct fixture_rules *rules)
{
    struct switching *switching = &state->switching;
    if (switching->phase != SWITCHING_OPEN) {
        switching->phase = SWITCHING_OPEN;
        switching->phase_s = 0;
        switching->since_change_s = 0;
        switching->operations_today++;
        switching->operations_total++;
    }
    state->level = 0;
    state->drive = rules->safe_drive;
    state->steady_drive = rules->safe_drive;
    state->steady_s = 0;
    state->dark_s = 0;
    state->stuck_s = 0;
}

void space_resume(struct space_state *state, const struct space_rules *rules)
{
    for (int i = 0; i < rules->fixture_count; i++) {
        struct fixture_state *fixture = &state->fixtures[i];
        open_contact(fixture, &rules->fixtures[i]);
        struct heat fresh;
        heat_reset(&fresh);
        fresh.max_c = fixture->heat.max_c;
        fresh.trips_today = fixture->heat.trips_today;
        fresh.is_tripped = fixture->heat.is_tripped;
        fresh.is_latched = fixture->heat.is_latched;
        fixture->heat = fresh;
    }
    memset(&state->lampstep_sight, 0, sizeof state->lampstep_sight);
    memset(&state->plan, 0, sizeof state->plan); /* made again at once */
    state->plan_sky_s = 0;
    state->sky_stray_s = 0;
    state->sky_is_astray = false;
    state->plan_wants_on = false;
    state->plan_turned_ns = 0;
    state->room_out_ns = 0;
    state->floor_ns = 0;
    state->clearness.is_broken = true; /* nobody saw the sky meanwhile */
    learned_init(&state->learned);
    daylog_open(&state->daylog);
    ageing_init(&state->ageing);
    state->lamp_cap = 1;
    state->was_resumed = true;
    state->level = 0;
    state->asked = 0;
    memset(state->history, 0, sizeof state->history);
    state->history_next = 0;
    memset(state->blame, 0, sizeof state->blame);
    space_rerule(state, rules);
}

bool space_stop(struct space_state *state, const struct space_rules *rules)
{
    const bool was_lit = state->is_lit;
    for (int i = 0; i < rules->fixture_count; i++) {
        open_contact(&state->fixtures[i], &rules->fixtures[i]);
        state->fixtures[i].lit_level = 0;
    }
    state->is_lit = false;
    state->level = 0;
    if (was_lit) {
        state->last_off_s = state->wall_s;
    }
    return was_lit;
}

void space_rewire(struct space_state *state, const struct space_rules *rules, int fixture)
{
    open_contact(&state->fixtures[fixture], &rules->fixtures[fixture]);
    state->fixtures[fixture].switching.since_change_s = 0;
}

void space_rerule(struct space_state *state, const struct space_rules *rules)
{
    state->reach_ns = 0; /* reckoned anew at once */
    for (int i = 0; i < rules->fixture_count; i++) {
        struct fixture_state *fixture = &state->fixtures[i];
        if (!(fixture->ceiling.drive_cap > 0)) {
            fixture_init(fixture, &rules->fixtures[i]); /* one that was not there before */
        }
        if (fixture->ceiling.trips_today == 0 ||
            fixture->ceiling.drive_cap > rules->fixtures[i].ceiling.drive_max) {
            fixture->ceiling.drive_cap = rules->fixtures[i].ceiling.drive_max;
        }
    }
    for (int i = rules->fixture_count; i < SPACE_FIXTURES_MAX; i++) {
        memset(&state->fixtures[i], 0, sizeof state->fixtures[i]);
    }
}
