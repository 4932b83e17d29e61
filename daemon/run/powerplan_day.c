/* SPDX-License-Identifier: Apache-2.0 */
/* The rest of the day of all spaces, laid out in half hours, planned, and put into force. */
#include "powerplan_parts.h"

#include "plan_day.h"
#include "plan_price.h"
#include "plan_sky.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define TURNS       12 /* of one space in a second */
#define TURNS_S_MAX 60

static int64_t slot_begin(int64_t wall_s)
{
    const int64_t into = wall_s % ALLOTMENT_SLOT_S;
    return wall_s - (into < 0 ? into + ALLOTMENT_SLOT_S : into);
}

static double mean_price(const struct tariff *tariff, int64_t from_s, int64_t to_s)
{
    double sum = 0;
    for (int64_t at = from_s; at < to_s;) {
        const int64_t end = tariff_next_change(tariff, at, to_s);
        sum += tariff_price(tariff, at) * (double)(end - at);
        at = end;
    }
    return sum / (double)(to_s - from_s);
}

/* Extra prices move along with their half hours. */
static void lay_out_slots(struct powerplan *plan, int64_t wall_s)
{
    struct powerday *day = &plan->day;
    const int64_t begin_s = slot_begin(wall_s);
    const int64_t passed = (begin_s - plan->begin_s) / ALLOTMENT_SLOT_S;
    const int before = day->slot_count;
    double extra[POWERDAY_SLOTS_MAX] = {0};
    for (int i = 0; i < POWERDAY_SLOTS_MAX; i++) {
        const int64_t old = i + passed;
        extra[i] = old >= 0 && old < before ? day->slot[old].extra_per_kwh : 0;
    }
    day->slot_count = POWERDAY_SLOTS_MAX;
    for (int i = 0; i < POWERDAY_SLOTS_MAX; i++) {
        const int64_t from_s = i == 0 ? wall_s : begin_s + (int64_t)i * ALLOTMENT_SLOT_S;
        const int64_t to_s = begin_s + (int64_t)(i + 1) * ALLOTMENT_SLOT_S;
        day->slot[i] = (struct powerday_slot){
            .dt_s = (double)(to_s - from_s),
            .price_per_kwh = mean_price(&plan->config->site.tariff, from_s, to_s),
            .extra_per_kwh = extra[i],
        };
    }
    plan->begin_s = begin_s;
}

static void lay_out_space(struct powerplan *plan, int index, int64_t wall_s)
{
    const struct space_rules *rules = &plan->config->spaces[index].rules;
    const struct power_seen *seen = &plan->space[index].seen;
    struct powerday_space *its = &plan->day_space[index];
    memset(plan->cell[index], 0, sizeof plan->cell[index]);
    its->full_umol = seen->full_umol;
    its->need_mol = seen->need_mol;
    if (rules->sees_daylight && its->need_mol > 0) {
        /* It may wait as long for the sun. */
        its->need_mol += units_mol(seen->full_umol, PLAN_SKY_EVERY_S);
    }
    if (!seen->stage) {
        its->need_mol = its->light_price = 0;
        return;
    }
    struct plan_slots slots;
    const struct plan_lamp lamp = plan_day_lamp(rules, seen->stage, seen->full_umol);
    plan_day_slots(rules, seen->stage, seen->learned, seen->cap, wall_s, &slots);
    its->missing_price = plan_missing_price(&lamp, &slots);
    for (int i = 0; i < slots.count; i++) {
        struct plan_slot *slot = &slots.slot[i];
        const int64_t at = (slot->from_s - plan->begin_s) / ALLOTMENT_SLOT_S;
        if (at < 0 || at >= POWERDAY_SLOTS_MAX) {
            continue;
        }
        struct powerday_cell *cell = &plan->cell[index][at];
        slot->cap *= rules->sees_daylight ? PLAN_SKY_USABLE : PLAN_DAY_INDOOR_CAP;
        plan_limits(&lamp, slot, seen->clearness * slot->clear_umol, &cell->limits.low,
                    &cell->limits.high);
        cell->lit_s += slot->lit_s;
        cell->on_s += slot->dt_s;
    }
}

static double least_w(const struct powerplan *plan, int slot)
{
    double sum = 0;
    for (int s = 0; s < plan->day.space_count; s++) {
        const struct powerday_cell *cell = &plan->cell[s][slot];
        sum += powercurve_watts(plan->day_space[s].curve, cell->limits.low, &cell->limits) *
               cell->on_s / plan->day.slot[slot].dt_s;
    }
    return sum;
}

/* Where what the stages' floors need does not fit, they count as little as the lowest levels; where
 * not even these fit, spaces take turns: none of them has to be lit. */
static void free_lowest(struct powerplan *plan)
{
    for (int t = 0; t < plan->day.slot_count; t++) {
        for (int pass = 0; pass < 2 && least_w(plan, t) > plan->day.limit.hard_w; pass++) {
            for (int s = 0; s < plan->day.space_count; s++) {
                double *low = &plan->cell[s][t].limits.low;
                const double least = lampcurve_min_level(plan->day_space[s].curve->lamp);
                *low = pass == 0 ? fmin(*low, least) : 0;
            }
        }
    }
}

static void lay_out(struct powerplan *plan, const struct powerplan_moment *moment, bool is_near)
{
    lay_out_slots(plan, moment->wall_s);
    for (int s = 0; s < plan->day.space_count; s++) {
        lay_out_space(plan, s, moment->wall_s);
        plan->space[s].planned = plan->space[s].seen;
    }
    free_lowest(plan);
    powerday_begin(&plan->day, is_near);
    plan->is_working = true;
    plan->planned_ns = moment->boot_ns;
    plan->planned_wall_s = moment->wall_s;
}

/* Another day, target or lamp than was planned for. */
static bool has_news(const struct powerplan *plan)
{
    for (int s = 0; s < plan->day.space_count; s++) {
        const struct power_seen *now = &plan->space[s].seen;
        const struct power_seen *then = &plan->space[s].planned;
        if (now->stage != then->stage || now->light_day != then->light_day ||
            fabs(now->target_mol - then->target_mol) > 1e-9 ||
            fabs(now->cap - then->cap) > PLAN_SKY_CAP_CHANGE) {
            return true;
        }
    }
    return false;
}

static bool is_any_short(const struct powerplan *plan)
{
    for (int t = 0; t < plan->day.slot_count; t++) {
        if (plan->day.slot[t].extra_per_kwh > 0) {
            return true;
        }
    }
    return false;
}

/* Watts of its target at one level through the window, without a sun, where the window is open in
 * that half hour. */
static double even_w(const struct powerplan *plan, int index, int slot)
{
    const struct space_rules *rules = &plan->config->spaces[index].rules;
    const struct power_seen *seen = &plan->space[index].planned;
    const int64_t middle_s = plan->begin_s + slot * ALLOTMENT_SLOT_S + ALLOTMENT_SLOT_S / 2;
    if (!seen->stage || !(seen->full_umol > 0) ||
        !lightday_place(&rules->day, &seen->stage->window, middle_s).is_lit) {
        return 0;
    }
    const double day_mol = units_mol(seen->full_umol, seen->stage->window.length_s);
    const double level = fmin(seen->target_mol / day_mol, 1);
    return lampcurve_watts(&rules->lamp, fmax(level, lampcurve_min_level(&rules->lamp)));
}

/* The half hour lies behind the light day that the space is planned for. */
static bool is_next_day(const struct powerplan *plan, int index, int slot)
{
    const struct lightday_rules *rules = &plan->config->spaces[index].rules.day;
    return plan->begin_s + slot * ALLOTMENT_SLOT_S >=
           lightday_begin(rules, plan->space[index].planned.light_day + 1);
}

/* What those of whose next light day no plan knows yet will want, W. */
static void claims_w(const struct powerplan *plan, double ret_w[POWERDAY_SLOTS_MAX])
{
    for (int t = 0; t < plan->day.slot_count; t++) {
        ret_w[t] = 0;
        for (int s = 0; s < plan->day.space_count; s++) {
            ret_w[t] += is_next_day(plan, s, t) ? even_w(plan, s, t) : 0;
        }
    }
}

/* What one space can have of the limit beside them: where it does not suffice for all at one level,
 * a share by these levels. */
static double room_w(const struct powerplan *plan, int index, int slot, double others_w)
{
    const double limit_w = plan->day.limit.hard_w;
    const double all_w = others_w + even_w(plan, index, slot);
    return limit_w - others_w * (all_w > limit_w ? limit_w / all_w : 1);
}

/* What the plan gives it, and what that is worth beside the next light days of the others. */
static double reach_mol(const struct powerplan *plan, int index, const double *claim_w)
{
    const struct powerday *day = &plan->day;
    const struct power_space *space = &plan->space[index];
    double mol = 0;
    for (int t = 0; t < day->slot_count; t++) {
        const struct powerday_cell *cell = &plan->cell[index][t];
        if (!(cell->lit_s > 0) || is_next_day(plan, index, t)) {
            continue;
        }
        const double level = powerday_level(day, index, t, day->slot[t].extra_per_kwh);
        const double watts = powercurve_watts(&space->curve, level, &cell->limits);
        const double share = watts > 0 ? fmin(1, room_w(plan, index, t, claim_w[t]) / watts) : 1;
        mol += units_mol(space->planned.full_umol * level * share, cell->lit_s);
    }
    return mol;
}

/* Where power is never short every space plans for itself. */
static void put_into_force(struct powerplan *plan)
{
    const struct powerday *day = &plan->day;
    const bool is_any = is_any_short(plan);
    double claim_w[POWERDAY_SLOTS_MAX];
    claims_w(plan, claim_w);
    for (int s = 0; s < day->space_count; s++) {
        struct power_space *space = &plan->space[s];
        struct allotment *allotment = &space->allotment;
        space->light_price = plan->day_space[s].light_price;
        allotment->begin_s = plan->begin_s;
        allotment->count = day->slot_count;
        allotment->light_day = space->planned.light_day;
        allotment->reach_mol = (double)INFINITY;
        allotment->light_price = is_any ? space->light_price : 0;
        if (is_any && !(space->light_price < plan->day_space[s].missing_price)) {
            allotment->reach_mol = reach_mol(plan, s, claim_w);
        }
        for (int t = 0; t < day->slot_count; t++) {
            const struct powerday_slot *slot = &day->slot[t];
            const struct powerday_cell *cell = &plan->cell[s][t];
            const bool is_planned = is_any && cell->lit_s > 0;
            const double level = powerday_level(day, s, t, slot->extra_per_kwh);
            allotment->slot[t] = (struct allotment_slot){
                .extra_per_kwh = slot->extra_per_kwh,
                .level = is_planned ? powerday_level(day, s, t, 0) : UNITS_NONE,
                .watts = slot->extra_per_kwh > 0
                             ? powercurve_watts(&space->curve, level, &cell->limits)
                             : (double)INFINITY,
            };
        }
    }
    plan->is_working = false;
    plan->has_plan = true;
}

void powerplan_day(struct powerplan *plan, const struct powerplan_moment *moment)
{
    const double passed_s = units_seconds(moment->boot_ns - plan->planned_ns);
    const double moved_s = (double)(moment->wall_s - plan->planned_wall_s);
    const bool is_stepped = fabs(moved_s - passed_s) > PLAN_SKY_CLOCK_STEP;
    const bool is_new = plan->planned_ns == 0 || is_stepped || has_news(plan);
    if (is_new || (!plan->is_working && passed_s >= PLAN_SKY_EVERY_S)) {
        lay_out(plan, moment, !is_new && plan->has_plan);
    }
    const double turns = TURNS * fmax(1, fmin(plan->dt_s, TURNS_S_MAX)) / plan->day.space_count;
    if (plan->is_working && powerday_work(&plan->day, (int)ceil(turns))) {
        put_into_force(plan);
    }
}
