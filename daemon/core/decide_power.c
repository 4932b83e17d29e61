/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The space's share of a supply that it has in common with others: extra prices of energy for its
 * plan, and caps of its fixtures that keep their sum within the budget of now. A fixture that burns
 * cannot be dark within the tick: it is counted with its lowest level before others are lit.
 */
#include "decide_parts.h"

#include "plan_day.h"
#include "powershare.h"
#include "units.h"

#define HALVINGS 30
/* Of a budget: one that is a lowest level to the last digit allows it. Far below what the shared
 * plan keeps back of its limit. */
#define SLACK 1e-9

double decide_with_extra(const struct tick *tick, double price, int64_t wall_s)
{
    const struct allotment_slot *slot = allotment_at(&tick->now->power, wall_s);
    return slot && slot->extra_per_kwh > 0 ? powershare_whole_price(price, slot->extra_per_kwh)
                                           : price;
}

void decide_add_extra(const struct tick *tick, struct plan_slots *slots)
{
    for (int i = 0; tick->now->power.is_shared && i < slots->count; i++) {
        struct plan_slot *slot = &slots->slot[i];
        slot->price_per_kwh = decide_with_extra(tick, slot->price_per_kwh, slot->from_s);
    }
}

double decide_shared_level(const struct tick *tick)
{
    const struct allotment_slot *slot = allotment_at(&tick->now->power, tick->now->wall_s);
    if (!slot || tick->rules->sees_daylight || !units_known(slot->level)) {
        return UNITS_NONE;
    }
    return plan_level_for(tick->sources, tick->rules->fixture_count,
                          slot->level * decide_full_umol(tick));
}

static double watts_at(const struct tick *tick, int index, double level)
{
    const struct dimcurve *curve = &tick->rules->fixtures[index].curve;
    return dimcurve_watts(curve, dimcurve_drive(curve, level));
}

static bool is_closed(const struct tick *tick, int index)
{
    return tick->state->fixtures[index].switching.phase != SWITCHING_OPEN;
}

/* The highest level that it may come to in this tick without the budget; 0: dark. */
static double wish_of(const struct tick *tick, int index, const struct ask *of_space)
{
    const struct fixture_rules *rules = &tick->rules->fixtures[index];
    const struct trial *drive = &tick->now->fixtures[index].try_drive;
    const double least = dimcurve_min_level(&rules->curve);
    struct ask ask = *of_space;
    decide_try_contact(tick, index, &ask);
    double level = is_closed(tick, index) ? fmax(tick->state->fixtures[index].level, least) : 0;
    if (ask.level > 0 && tick->sources[index].cap > 0) {
        level = fmax(level, fmax(fmin(ask.level, tick->sources[index].cap), least));
        if (trial_is_on(drive, tick->now->boot_ns)) {
            level = fmax(level, dimcurve_level(&rules->curve, drive->value));
        }
    }
    return level;
}

static double sum_w(const struct tick *tick, const double *wish, double common)
{
    double sum = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const double least = dimcurve_min_level(&tick->rules->fixtures[i].curve);
        sum += wish[i] > 0 ? watts_at(tick, i, fmin(fmax(common, least), wish[i])) : 0;
    }
    return sum;
}

/* Those that burn go first, so that none goes dark for another to be lit. */
static void leave_out(struct tick *tick, double *wish, double budget_w)
{
    double left_w = budget_w;
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < tick->rules->fixture_count; i++) {
            if (!(wish[i] > 0) || is_closed(tick, i) != (pass == 0)) {
                continue;
            }
            const double least_w =
                watts_at(tick, i, dimcurve_min_level(&tick->rules->fixtures[i].curve));
            if (least_w > left_w * (1 + SLACK)) {
                tick->power_cap[i] = wish[i] = 0;
            } else {
                left_w -= least_w;
            }
        }
    }
}

void decide_power(struct tick *tick, const struct ask *ask)
{
    const struct allotment *power = &tick->now->power;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        tick->power_cap[i] = 1;
    }
    if (!power->is_shared) {
        return;
    }
    double wish[SPACE_FIXTURES_MAX] = {0};
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        wish[i] = wish_of(tick, i, ask);
    }
    if (sum_w(tick, wish, 1) <= power->budget_w) {
        return;
    }
    leave_out(tick, wish, power->budget_w);
    double low = 0;
    double high = 1;
    for (int i = 0; i < HALVINGS; i++) {
        const double middle = 0.5 * (low + high);
        if (sum_w(tick, wish, middle) > power->budget_w) {
            high = middle;
        } else {
            low = middle;
        }
    }
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        if (tick->power_cap[i] > 0) {
            tick->power_cap[i] = fmax(low, dimcurve_min_level(&tick->rules->fixtures[i].curve));
        }
    }
}
