/* SPDX-License-Identifier: Apache-2.0 */
#include "sim_chain.h"

#include <math.h>
#include <stdio.h>

/* The level that belongs to its pace; by itself, not with the eyes of decide. */
static bool is_at_pace(enum chain_pace pace, double level, double before, double aim, double least)
{
    switch (pace) {
    case CHAIN_THERE:
        return fabs(level - aim) <= CHAIN_SAME;
    case CHAIN_RISES:
        return level < aim && level >= fmax(before, least) - CHAIN_SAME;
    case CHAIN_FALLS:
        return level > aim && level <= before + CHAIN_SAME;
    case CHAIN_LOWEST:
        return fabs(level - least) <= CHAIN_SAME;
    case CHAIN_WAITS:
        return level <= 0 && aim > 0;
    case CHAIN_PACE_COUNT:
        break;
    }
    return false;
}

/* A lamp that may have light has its lowest level at least, unless somebody moves it by hand. */
static bool is_sound(const struct verdict *verdict, int i, double before, double least)
{
    const struct chain_fixture *chain = &verdict->chain.fixtures[i];
    const struct fixture_verdict *fixture = &verdict->fixtures[i];
    enum limiter limiter = LIMITER_COUNT;
    const double may_have = chain_may_have(chain, &limiter);
    const double aim = may_have > 0 ? fmax(may_have, least) : 0;
    const bool is_there = is_at_pace(chain->pace, fixture->level, before, aim, least) ||
                          (chain->asked_by == LIMITER_BY_HAND &&
                           is_at_pace(chain->pace, fixture->level, before, may_have, least));
    /* Of an output that is moved by hand drives are compared, and a curve may be flat there. */
    const bool is_flat = chain->asked_by == LIMITER_BY_HAND &&
                         fixture->limiter == LIMITER_DRIVE_CEILING &&
                         fabs(fixture->level - may_have) <= CHAIN_SAME;
    return (limiter == fixture->limiter || is_flat) && is_there;
}

const char *sim_chain_flaw(const struct space_rules *rules, const struct space_state *state,
                           const struct verdict *verdict, const double *before, char *buffer,
                           size_t size)
{
    enum limiter limiter = LIMITER_COUNT;
    const double asked = chain_least(&verdict->chain.rules, &limiter);
    bool is_named = limiter == verdict->limiter;
    if (!(fabs(asked - verdict->asked) <= 1e-12) || limiter != state->blame_otherwise) {
        (void)snprintf(buffer, size, "asked %.6f by %s, the chain says %.6f by %s", verdict->asked,
                       limiter_name(state->blame_otherwise), asked, limiter_name(limiter));
        return buffer;
    }
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct chain_fixture *chain = &verdict->chain.fixtures[i];
        const double may_have = chain_may_have(chain, &limiter);
        is_named = is_named || limiter == verdict->limiter;
        if (!is_sound(verdict, i, before[i], dimcurve_min_level(&rules->fixtures[i].curve))) {
            (void)snprintf(buffer, size,
                           "fixture %d: %.6f (before %.6f) by %s, the chain says %.6f"
                           " by %s, pace %d",
                           i, verdict->fixtures[i].level, before[i],
                           limiter_name(verdict->fixtures[i].limiter), may_have,
                           limiter_name(limiter), (int)chain->pace);
            return buffer;
        }
    }
    if (!is_named) {
        (void)snprintf(buffer, size, "%s is nobody's limiter", limiter_name(verdict->limiter));
        return buffer;
    }
    return NULL;
}
