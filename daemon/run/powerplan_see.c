/* SPDX-License-Identifier: Apache-2.0 */
/* What a space draws, would draw and still needs, as its last decision shows it. */
#include "powerplan_parts.h"

#include "units.h"

#include <math.h>

#define FACTOR_S   30.0 /* time constant of what is learned from the meters */
#define FACTOR_MAX 2.0
#define STEADY_S   10.0 /* a meter may be late */
/* Lamps that a wrong reading has put out cannot show that it was wrong: dark, they forget it. */
#define FORGET_S 7200.0

static double watts_at(const struct fixture_rules *rules, double level)
{
    return dimcurve_watts(&rules->curve, dimcurve_drive(&rules->curve, level));
}

/* What may flow although it was told to be dark. */
static double unsure_w(const struct fixture_rules *rules, const struct fixture_now *now,
                       const struct fixture_state *state)
{
    if (state->is_stuck) {
        return dimcurve_watts(&rules->curve, rules->safe_drive);
    }
    const bool may_be_lit = now->opening_unconfirmed || now->output_fault;
    return may_be_lit && state->lit_level > 0 ? watts_at(rules, state->lit_level) : 0;
}

static bool is_tried(const struct fixture_now *now, int64_t boot_ns)
{
    return trial_is_on(&now->try_drive, boot_ns) || trial_is_on(&now->try_contact, boot_ns);
}

struct sum { /* of a space, by the curves */
    double metered_w, metered_curve_w;
    double cap_umol;
};

static void see_fixture(struct power_seen *seen, const struct space_rules *rules, int index,
                        const struct powerplan_sight *sight, struct sum *sum)
{
    const struct fixture_rules *its = &rules->fixtures[index];
    const struct fixture_now *now = &sight->now->fixtures[index];
    const struct fixture_state *state = &sight->state->fixtures[index];
    const struct fixture_verdict *verdict = &sight->verdict->fixtures[index];
    const double least = dimcurve_min_level(&its->curve);
    const bool has_trial = is_tried(now, sight->now->boot_ns);
    sum->cap_umol += its->full_umol * verdict->cap;
    if (state->switching.phase != SWITCHING_OPEN) {
        const double watts = dimcurve_watts(&its->curve, state->drive);
        seen->is_lit = true;
        seen->watts += watts;
        seen->floor_w += watts_at(its, least);
        if (its->has_power && !its->power_is_shared && reading_is_good(&now->power) &&
            state->steady_s > STEADY_S) {
            sum->metered_w += now->power.value;
            sum->metered_curve_w += watts;
        }
    } else {
        const double watts = unsure_w(its, now, state);
        seen->watts += watts;
        seen->floor_w += watts;
    }
    if (verdict->cap > 0 && (sight->verdict->asked > 0 || has_trial)) {
        double level = fmax(fmin(sight->verdict->asked, verdict->cap), least);
        if (trial_is_on(&now->try_drive, sight->now->boot_ns)) {
            level = fmax(level, dimcurve_level(&its->curve, now->try_drive.value));
        }
        seen->low_w += watts_at(its, least);
        seen->least_w +=
            watts_at(its, fmin(level, fmax(fmin(seen->least_level, verdict->cap), least)));
        seen->want_w += watts_at(its, level);
        seen->is_by_hand = seen->is_by_hand || has_trial;
    }
}

static void learn_factor(struct power_space *space, bool is_lit, const struct sum *sum, double dt_s)
{
    if (!is_lit) {
        space->factor += (1 - space->factor) * units_clamp(dt_s / FORGET_S, 0, 1);
        return;
    }
    if (!(sum->metered_curve_w > 0)) {
        return;
    }
    const double seen = units_clamp(sum->metered_w / sum->metered_curve_w, 1, FACTOR_MAX);
    space->factor += (seen - space->factor) * units_clamp(dt_s / FACTOR_S, 0, 1);
}

/* What its plan needs to know. Under a sky the space itself waits for the sun; the supply is
 * planned for a dark one, so that what it may come to need is not given away before. */
static void see_day(struct power_seen *seen, const struct space_rules *rules,
                    const struct powerplan_sight *sight)
{
    const struct space_state *state = sight->state;
    const struct verdict *verdict = sight->verdict;
    const double sky_mol = state->clearness.clear_day_mol - state->clearness.clear_mol;
    /* After a reload the verdict is one under the old rules. */
    const bool is_running =
        verdict->stage.phase == STAGE_RUNNING && verdict->stage.index < rules->stage_count;
    seen->stage = is_running ? &rules->stages[verdict->stage.index] : NULL;
    seen->light_day = state->light_day;
    seen->target_mol = verdict->stage.target_mol;
    seen->need_mol = verdict->need_mol;
    seen->learned = &state->learned;
    seen->light_price = UNITS_NONE;
    if (rules->sees_daylight && state->plan.planned_ns != 0) {
        seen->light_price = state->plan.price.price;
        seen->need_mol -= state->plan.dark_sky_mol;
        seen->clearness = sky_mol > 0 ? units_clamp(state->plan.dark_sky_mol / sky_mol, 0, 1) : 0;
    }
}

/* A space that cannot have enough pays more than any price it is asked for, and the extra prices of
 * the supply are among these: without a bound each would raise the other for ever. */
static void bound_price(struct power_seen *seen, double missing_price)
{
    if (units_known(seen->light_price) && missing_price > 0) {
        seen->light_price = fmin(seen->light_price, missing_price);
    }
}

void powerplan_see(struct powerplan *plan, int index, const struct powerplan_sight *sight)
{
    if (!plan) {
        return;
    }
    const struct space_rules *rules = &plan->config->spaces[index].rules;
    struct power_space *space = &plan->space[index];
    struct power_seen seen = {.is_by_hand = sight->now->hand.is_active,
                              .want_level = fmin(sight->verdict->asked, 1)};
    seen.least_level = fmin(sight->verdict->floor_level, seen.want_level);
    struct sum sum = {0, 0, 0};
    const double full = space_configured_umol(rules);
    for (int i = 0; i < rules->fixture_count; i++) {
        see_fixture(&seen, rules, i, sight, &sum);
    }
    see_day(&seen, rules, sight);
    bound_price(&seen, plan->day_space[index].missing_price);
    learn_factor(space, seen.is_lit, &sum, plan->dt_s);
    seen.cap = sum.cap_umol / full;
    seen.full_umol = full * sight->state->correction.lamp * sight->state->light_gain;
    seen.watts *= space->factor;
    seen.floor_w *= space->factor;
    seen.low_w *= space->factor;
    seen.least_w *= space->factor;
    seen.want_w = fmax(seen.want_w * space->factor, seen.floor_w);
    const bool was_lit = space->seen.is_lit;
    seen.lit_since_ns = was_lit ? space->seen.lit_since_ns : sight->now->boot_ns;
    space->seen = seen;
}
