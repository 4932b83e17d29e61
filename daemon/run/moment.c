/* SPDX-License-Identifier: Apache-2.0 */
#include "moment.h"

#include "units.h"

#include <string.h>

#define FORECAST_SAME 0.01 /* of the target */

static struct moment_reading seen(const struct reading *reading, int64_t boot_ns)
{
    if (!(reading->taken_ns > 0 && units_known(reading->value))) {
        return (struct moment_reading){UNITS_NONE, READING_LOST, UNITS_NONE};
    }
    return (struct moment_reading){reading->value, reading->quality,
                                   units_seconds(boot_ns - reading->taken_ns)};
}

static double only_if(bool is_so, double value)
{
    return is_so ? value : UNITS_NONE;
}

/* With the aim's margin, and what a minute may add. */
static bool is_about(double forecast_mol, double target_mol)
{
    return fabs(forecast_mol - target_mol) <= FORECAST_SAME * target_mol;
}

/* Of a contact that waits, and of an LED driver that does. */
static double rest_left_s(const struct fixture_rules *rules, const struct fixture_state *state,
                          const struct chain_rules *said)
{
    if (chain_has_said(said, LIMITER_REST)) {
        return fmax(0, rules->switching.min_off_s - state->switching.since_change_s);
    }
    return only_if(chain_has_said(said, LIMITER_DRIVER_TRIP), state->ceiling.rest_left_s);
}

static void take_fixture(const struct fixture_rules *rules, const struct fixture_now *now,
                         const struct fixture_state *state, const struct chain_fixture *chain,
                         int64_t boot_ns, struct moment_fixture *ret)
{
    const struct chain_rules *said = &chain->rules;
    ret->level = state->level;
    ret->least = dimcurve_min_level(&rules->curve);
    ret->heat = seen(&now->heat, boot_ns);
    ret->power = seen(&now->power, boot_ns);
    ret->heat_from_c = only_if(chain_has_said(said, LIMITER_HEAT), rules->heat.from_c);
    ret->rearm_c = only_if(chain_has_said(said, LIMITER_HEAT_TRIP), rules->heat.rearm_c);
    ret->drive_cap = only_if(chain_has_said(said, LIMITER_DRIVE_CEILING), state->ceiling.drive_cap);
    ret->rest_left_s = rest_left_s(rules, state, said);
    ret->is_latched = state->heat.is_latched;
}

static double until_s(const struct lightday_place *place)
{
    if (place->is_always) {
        return UNITS_NONE;
    }
    const int64_t left_s = place->is_lit ? place->until_off_s : place->until_on_s;
    return only_if(left_s >= 0, (double)left_s);
}

static void copy_chain(const struct chain *chain, int count, struct chain *ret)
{
    ret->rules = chain->rules;
    ret->plan = chain->plan;
    ret->light_price = chain->light_price;
    memcpy(ret->fixtures, chain->fixtures, (size_t)count * sizeof *ret->fixtures);
}

void moment_take(const struct config_space *space, const struct config *config,
                 const struct now *now, const struct space_state *state,
                 const struct verdict *verdict, struct moment *ret)
{
    const struct space_rules *rules = &space->rules;
    const struct chain *chain = &verdict->chain;
    bool is_short = false; /* of power */
    copy_chain(chain, rules->fixture_count, &ret->chain);
    ret->wall_s = now->wall_s;
    ret->level = verdict->level;
    ret->planned_level = verdict->planned_level;
    ret->limiter = verdict->limiter;
    ret->floor_level = verdict->floor_level;
    ret->delivered_mol = verdict->account.delivered_mol;
    ret->target_mol = verdict->account.target_mol;
    ret->forecast_mol =
        only_if(verdict->place.is_lit && !is_about(verdict->forecast_mol, ret->target_mol),
                verdict->forecast_mol);
    ret->ppfd = seen(&now->ppfd, now->boot_ns);
    ret->daylight_umol = verdict->daylight_umol;
    ret->is_lit = verdict->place.is_lit;
    ret->by_guard = chain->plan == CHAIN_PLAN_PRICED && state->plan.by_guard;
    ret->is_floor = decide_is_floor(rules, verdict);
    ret->phase = verdict->stage.phase;
    ret->until_s = until_s(&verdict->place);
    ret->hand_left_s =
        only_if(now->hand.is_active, units_seconds(now->hand.until_ns - now->boot_ns));
    ret->fixture_count = rules->fixture_count;
    ret->left_out = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        struct moment_fixture *fixture = &ret->fixtures[i];
        memcpy(fixture->name, config->fixtures[space->fixtures[i]].name, sizeof fixture->name);
        take_fixture(&rules->fixtures[i], &now->fixtures[i], &state->fixtures[i],
                     &chain->fixtures[i], now->boot_ns, fixture);
        is_short = is_short || chain_has_said(&chain->fixtures[i].rules, LIMITER_POWER_LIMIT);
    }
    const bool has_ceiling = verdict->stage.phase == STAGE_RUNNING &&
                             isfinite(rules->stages[verdict->stage.index].ceiling_umol);
    ret->ceiling_umol = has_ceiling && verdict->limiter == LIMITER_LIGHT_CEILING
                            ? rules->stages[verdict->stage.index].ceiling_umol
                            : UNITS_NONE;
    ret->budget_w = only_if(is_short, now->power.budget_w);
}
