/* SPDX-License-Identifier: Apache-2.0 */
#include "stand.h"

#include "units.h"

#include <math.h>

void stand_begin(struct stand *stand, const struct settle_rules *rules, double level)
{
    *stand = (struct stand){
        .rules = *rules, .level = level, .is_free = !units_known(level), .state = STAND_SETTLES};
}

bool stand_is_level(double level, double wanted)
{
    return !units_known(wanted) || fabs(level - wanted) <= STAND_LEVEL_SHARE * wanted;
}

static void afresh(struct stand *stand, double now_s)
{
    settle_begin(&stand->settle, now_s);
    stand->last_s = now_s;
    stand->is_begun = true;
}

static enum stand_state judge(struct stand *stand, const struct stand_sight *sight)
{
    const struct settle_sample sample = {sight->taken_s, sight->umol, UNITS_NONE};
    if (!units_known(sight->umol) || !units_known(sight->level)) {
        return STAND_UNUSABLE;
    }
    if (!stand_is_level(sight->level, stand->level)) {
        stand->level = stand->is_free ? sight->level : stand->level;
        return STAND_MOVED;
    }
    if (!units_known(stand->level)) {
        stand->level = sight->level;
    }
    settle_take(&stand->settle, &stand->rules, &sample);
    stand->is_steady = settle_is_steady(&stand->settle, &stand->rules);
    const bool is_late = sight->now_s >= stand->settle.begun_s + stand->rules.most_s;
    const bool has_all = stand_samples(stand) == stand->rules.samples;
    return stand->is_steady || (is_late && has_all) ? STAND_IS_DONE : STAND_SETTLES;
}

enum stand_state stand_look(struct stand *stand, const struct stand_sight *sight)
{
    const bool is_anew = sight->now_s < stand->last_s;
    if (!stand->is_begun || is_anew) {
        afresh(stand, sight->now_s);
    }
    const enum stand_state state = judge(stand, sight);
    stand->last_s = sight->now_s;
    if (state == STAND_UNUSABLE || state == STAND_MOVED) {
        settle_begin(&stand->settle, sight->now_s);
    }
    stand->state = state;
    return state;
}

int stand_samples(const struct stand *stand)
{
    const int count = stand->settle.count;
    return count < stand->rules.samples ? count : stand->rules.samples;
}

void stand_mean_of(const struct stand *stand, struct settle_mean *ret)
{
    settle_mean_of(&stand->settle, &stand->rules, ret);
}
