/* SPDX-License-Identifier: Apache-2.0 */
/* Why the lamp does what it is expected to do. */
#include "outlook_parts.h"

#include "plan_day.h"
#include "units.h"

#define CHEAP_PART  0.25 /* of the way from the lowest to the highest price of the day */
#define DEAR_PART   0.6
#define CHEAPER     0.98 /* of the present price: worth waiting for */
#define LOWEST_MORE 0.01 /* of the lamp: still its lowest level */
#define FLOOR_MORE  1e-6 /* of the lamp, above the plan: only the stage's floor asks for more */

static const char *const names[OUTLOOK_WHY_COUNT] = {
    [OUTLOOK_BY_LIMITER] = "limiter",
    [OUTLOOK_EVEN] = "one-level",
    [OUTLOOK_BLIND] = "sky-unseen",
    [OUTLOOK_SUPPLY] = "supply-short",
    [OUTLOOK_FLOOR] = "floor",
    [OUTLOOK_CHEAP] = "cheap-hour",
    [OUTLOOK_USUAL] = "usual-price",
    [OUTLOOK_DEAR] = "dear-hour",
    [OUTLOOK_LOWEST] = "lowest-level",
    [OUTLOOK_WAITS] = "waits-for-price",
    [OUTLOOK_SUN_DUE] = "waits-for-sun",
    [OUTLOOK_SUN_ENOUGH] = "daylight-suffices",
    [OUTLOOK_FILLS] = "fills-up-daylight",
    [OUTLOOK_NEEDED] = "needed",
};

const char *outlook_why_name(enum outlook_why why)
{
    return (unsigned)why < OUTLOOK_WHY_COUNT ? names[why] : "unknown";
}

double outlook_price(const struct walk *walk, int64_t wall_s)
{
    return walk->paid ? tariff_price(walk->paid, wall_s) : walk->now.price_per_kwh;
}

void outlook_look_at_prices(struct walk *walk, const struct stage *stage, int64_t begin_s)
{
    const struct tariff *paid = walk->paid ? walk->paid : plan_day_tariff(walk->rules);
    struct day_prices *prices = &walk->prices;
    plan_cut(&walk->rules->day, stage, paid, begin_s, &prices->slots);
    prices->is_flat = true;
    for (int i = 1; i < prices->slots.count; i++) {
        const double step =
            prices->slots.slot[i].price_per_kwh - prices->slots.slot[0].price_per_kwh;
        prices->is_flat = prices->is_flat && !(fabs(step) > 0);
    }
    const int64_t end_s = begin_s + UNITS_S_PER_DAY;
    prices->low = prices->high = tariff_price(paid, begin_s);
    for (int64_t at_s = begin_s; at_s < end_s; at_s = tariff_next_change(paid, at_s, end_s)) {
        prices->low = fmin(prices->low, tariff_price(paid, at_s));
        prices->high = fmax(prices->high, tariff_price(paid, at_s));
    }
}

static bool gets_cheaper(const struct walk *walk, double price)
{
    const struct plan_slots *slots = &walk->prices.slots;
    for (int i = 0; i < slots->count && !walk->prices.is_flat; i++) {
        if (slots->slot[i].from_s > walk->now.wall_s &&
            slots->slot[i].price_per_kwh < price - (1 - CHEAPER) * fabs(price)) {
            return true;
        }
    }
    return false;
}

static enum outlook_why why_by_price(const struct walk *walk, double price)
{
    const double part = (price - walk->prices.low) / (walk->prices.high - walk->prices.low);
    return part <= CHEAP_PART ? OUTLOOK_CHEAP : part >= DEAR_PART ? OUTLOOK_DEAR : OUTLOOK_USUAL;
}

static enum outlook_why why_under_the_sky(const struct walk *walk, double price)
{
    const struct plan_state *plan = &walk->state.plan;
    if (!walk->rules->has_ppfd || walk->state.sensor_is_lost) {
        return OUTLOOK_BLIND;
    }
    if (walk->verdict.planned_level > 0) {
        if (plan->by_guard) {
            return OUTLOOK_NEEDED;
        }
        return walk->prices.is_flat ? OUTLOOK_FILLS : why_by_price(walk, price);
    }
    if (!(plan->price.price > 0)) {
        return OUTLOOK_SUN_ENOUGH;
    }
    return gets_cheaper(walk, price) ? OUTLOOK_WAITS : OUTLOOK_SUN_DUE;
}

/* Where the plan wants nothing, no ceiling is to blame. */
static bool is_by_plan(const struct verdict *verdict)
{
    return verdict->limiter == LIMITER_PLAN ||
           (verdict->limiter == LIMITER_LIGHT_CEILING && !(verdict->planned_level > 0));
}

static bool is_supply_short(const struct walk *walk)
{
    const struct allotment_slot *slot = allotment_at(&walk->now.power, walk->now.wall_s);
    return slot && slot->extra_per_kwh > 0;
}

enum outlook_why outlook_why_now(const struct walk *walk)
{
    const double price = outlook_price(walk, walk->now.wall_s);
    if (!is_by_plan(&walk->verdict)) {
        return OUTLOOK_BY_LIMITER;
    }
    if (walk->verdict.asked > walk->verdict.planned_level + FLOOR_MORE ||
        decide_is_floor(walk->rules, &walk->verdict)) {
        return OUTLOOK_FLOOR;
    }
    if (is_supply_short(walk)) {
        return OUTLOOK_SUPPLY;
    }
    if (walk->rules->sees_daylight) {
        return why_under_the_sky(walk, price);
    }
    if (walk->prices.is_flat) {
        return OUTLOOK_EVEN;
    }
    const enum outlook_why why = why_by_price(walk, price);
    const bool is_lowest =
        walk->verdict.asked <= lampcurve_min_level(&walk->rules->lamp) + LOWEST_MORE;
    return why != OUTLOOK_CHEAP && is_lowest ? OUTLOOK_LOWEST : why;
}
