/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_price.h"

#include "units.h"

#include <math.h>
#include <stddef.h>

static const int NARROWINGS = 48;           /* a dozen mostly does */
static const double NEED_SLACK_MOL = 1e-12; /* rounding of the sums */
static const double SHARE_LEAST = 1e-3;     /* of full_share; keeps every worth finite */
static const double ABOVE = 1.01;           /* times a worth: surely more */

void plan_limits(const struct plan_lamp *lamp, const struct plan_slot *slot, double daylight_umol,
                 double *ret_low, double *ret_high)
{
    const double least = lampcurve_min_level(lamp->curve);
    const double room = (lamp->ceiling_umol - daylight_umol) / lamp->full_umol;
    const double cap = fmin(slot->cap, 1);
    const double high = room >= cap ? cap : room; /* NaN stays NaN */
    *ret_low = *ret_high = 0;
    if (!(lamp->full_umol > 0) || !(high >= least)) {
        return;
    }
    *ret_high = high;
    const double low = (slot->floor_umol - daylight_umol) / lamp->full_umol;
    if ((slot->floor_umol > 0 && low > 0) || lamp->stays_lit) {
        *ret_low = units_clamp(low, least, high);
    }
}

/* worth_w of a price of light 1 under an energy price. */
static double worth_of_unit(const struct plan_lamp *lamp, double price_per_kwh)
{
    return 3.6 * lamp->full_umol /
           (fmax(price_per_kwh, PLAN_PRICE_LEAST) * fmax(lamp->full_share, SHARE_LEAST));
}

double plan_level_at(const struct plan_lamp *lamp, const struct plan_slot *slot,
                     double daylight_umol, const struct plan_price *price)
{
    double low;
    double high;
    plan_limits(lamp, slot, daylight_umol, &low, &high);
    const double worth_w = price->price * worth_of_unit(lamp, slot->price_per_kwh);
    const double top = lampcurve_level_at(lamp->curve, worth_w, low, high);
    if (price->share >= 1) {
        return top;
    }
    const double bottom = lampcurve_level_below(lamp->curve, worth_w, low, high);
    return bottom + (top - bottom) * fmax(price->share, 0);
}

double plan_reach_mol(const struct plan_lamp *lamp, const struct plan_slots *slots,
                      double clearness)
{
    double sum = 0;
    for (int i = 0; i < slots->count; i++) {
        const struct plan_slot *slot = &slots->slot[i];
        double low;
        double high;
        plan_limits(lamp, slot, clearness * slot->clear_umol, &low, &high);
        sum += units_mol(high * lamp->full_umol, slot->lit_s);
    }
    return sum;
}

double plan_supply_mol(const struct plan_lamp *lamp, const struct plan_slots *slots,
                       double clearness, const struct plan_price *price, double *ret_cost)
{
    double mol = 0;
    double cost = 0;
    for (int i = 0; i < slots->count; i++) {
        const struct plan_slot *slot = &slots->slot[i];
        const double level = plan_level_at(lamp, slot, clearness * slot->clear_umol, price);
        const double watts = lampcurve_watts(lamp->curve, level) - lamp->curve->off_w;
        mol += units_mol(level * lamp->full_umol, slot->lit_s);
        cost += units_kwh(watts * lamp->full_share, slot->lit_s) * slot->price_per_kwh;
    }
    if (ret_cost) {
        *ret_cost = cost;
    }
    return mol;
}

/* Slots of one energy price share the unconstrained level, and slots that share the limits too are
 * one slot: both are found once, which leaves little work for a step of the bisection. */
struct tier {
    double price_per_kwh;
    double worth; /* of a price of light 1 */
    int from, to; /* points of the chain between which the answer lies */
    int at;       /* point at the price asked for last */
};

struct batch {
    int tier;
    double low, high;
    double mol;      /* at level 1 */
    double on_price; /* price of light that switches it on; 0: its floor keeps it on */
    double start;    /* level it is switched on with */
};

struct market {
    const struct lampcurve *curve;
    double settled_mol; /* of batches that are past choosing */
    int tier_count, batch_count;
    struct tier tier[PLAN_SLOTS_MAX];
    struct batch batch[PLAN_SLOTS_MAX];
};

static int find_tier(struct market *market, const struct plan_lamp *lamp, double price_per_kwh)
{
    for (int i = market->tier_count - 1; i >= 0; i--) {
        if (market->tier[i].price_per_kwh == price_per_kwh) {
            return i;
        }
    }
    market->tier[market->tier_count] = (struct tier){
        .price_per_kwh = price_per_kwh,
        .worth = worth_of_unit(lamp, price_per_kwh),
        .to = market->curve->count - 1,
    };
    return market->tier_count++;
}

static void add_batch(struct market *market, int tier, double low, double high, double mol)
{
    for (int i = market->batch_count - 1; i >= 0; i--) {
        struct batch *old = &market->batch[i];
        if (old->tier == tier && old->low == low && old->high == high) {
            old->mol += mol;
            return;
        }
    }
    struct batch batch = {.tier = tier, .low = low, .high = high, .mol = mol, .start = low};
    if (!(low > 0)) {
        batch.on_price = lampcurve_threshold_w(market->curve, high) / market->tier[tier].worth;
        batch.start = fmin(high, market->curve->level[market->curve->best]);
    }
    market->batch[market->batch_count++] = batch;
}

static void open_market(struct market *market, const struct plan_lamp *lamp,
                        const struct plan_slots *slots, double clearness)
{
    market->curve = lamp->curve;
    market->settled_mol = 0;
    market->tier_count = market->batch_count = 0;
    for (int i = 0; i < slots->count; i++) {
        const struct plan_slot *slot = &slots->slot[i];
        double low;
        double high;
        plan_limits(lamp, slot, clearness * slot->clear_umol, &low, &high);
        if (high > 0 && slot->lit_s > 0) {
            const int tier = find_tier(market, lamp, fmax(slot->price_per_kwh, PLAN_PRICE_LEAST));
            add_batch(market, tier, low, high, units_mol(lamp->full_umol, slot->lit_s));
        }
    }
}

static double supply(struct market *market, double price)
{
    for (int i = 0; i < market->tier_count; i++) {
        struct tier *tier = &market->tier[i];
        tier->at = lampcurve_point_at(market->curve, price * tier->worth, tier->from, tier->to);
    }
    double mol = market->settled_mol;
    for (int i = 0; i < market->batch_count; i++) {
        const struct batch *batch = &market->batch[i];
        if (batch->on_price <= price * (1 + LAMPCURVE_TIE)) {
            const double level = market->curve->level[market->tier[batch->tier].at];
            mol += batch->mol * units_clamp(level, batch->start, batch->high);
        }
    }
    return mol;
}

/* Between two prices: one that gives too little and one that gives enough. */
struct bracket {
    double low, high;
    double low_mol, high_mol;
};

/* The supply is a staircase: how many of its edges lie in the bracket. */
static int count_edges(const struct market *market, const struct bracket *bracket)
{
    int count = 0;
    for (int i = 0; i < market->tier_count; i++) {
        count += market->tier[i].to - market->tier[i].from;
    }
    for (int i = 0; i < market->batch_count; i++) {
        const double on_price = market->batch[i].on_price;
        count += on_price > bracket->low && on_price <= bracket->high * (1 + LAMPCURVE_TIE);
    }
    return count;
}

/* The highest edge up to this price, which lies in the bracket. */
static double last_edge(const struct market *market, double price)
{
    const double most = price * (1 + 2 * LAMPCURVE_TIE);
    double edge = 0;
    for (int i = 0; i < market->tier_count; i++) {
        const struct tier *tier = &market->tier[i];
        const int at = lampcurve_point_at(market->curve, most * tier->worth, tier->from, tier->to);
        if (at > 0) {
            edge = fmax(edge, market->curve->slope[at - 1] / tier->worth);
        }
    }
    for (int i = 0; i < market->batch_count; i++) {
        if (market->batch[i].on_price <= most) {
            edge = fmax(edge, market->batch[i].on_price);
        }
    }
    return edge;
}

/* Takes out the batches whose level is the same all through the bracket. */
static void settle_batches(struct market *market, const struct bracket *bracket)
{
    int kept = 0;
    for (int i = 0; i < market->batch_count; i++) {
        const struct batch *batch = &market->batch[i];
        const struct tier *tier = &market->tier[batch->tier];
        if (batch->on_price > bracket->high * (1 + 4 * LAMPCURVE_TIE)) {
            continue;
        }
        const double *level = market->curve->level;
        const double least = units_clamp(level[tier->from], batch->start, batch->high);
        const double most = units_clamp(level[tier->to], batch->start, batch->high);
        if (least == most && batch->on_price <= bracket->low) {
            market->settled_mol += batch->mol * most;
        } else {
            market->batch[kept++] = *batch;
        }
    }
    market->batch_count = kept;
}

/* Bisection and the rule of false position by turns: the one is sure, the other mostly fast. */
static void narrow(struct market *market, double need_mol, bool by_half, struct bracket *bracket)
{
    double way = 0.5;
    if (!by_half) {
        way = (need_mol - bracket->low_mol) / (bracket->high_mol - bracket->low_mol);
        way = units_clamp(way, 0.02, 0.98);
    }
    const double price = bracket->low + (bracket->high - bracket->low) * way;
    const double mol = supply(market, price);
    if (mol >= need_mol) {
        bracket->high = price;
        bracket->high_mol = mol;
        for (int i = 0; i < market->tier_count; i++) {
            market->tier[i].to = market->tier[i].at;
        }
    } else {
        bracket->low = price;
        bracket->low_mol = mol;
        for (int i = 0; i < market->tier_count; i++) {
            market->tier[i].from = market->tier[i].at;
        }
    }
}

/* The lowest edge that gives enough. */
static double lowest_edge(struct market *market, double need_mol, const struct bracket *bracket)
{
    double high = bracket->high;
    for (;;) {
        const double edge = last_edge(market, high);
        const double before = edge * (1 - 4 * LAMPCURVE_TIE);
        if (!(edge > bracket->low)) {
            return high;
        }
        if (!(before > bracket->low) || supply(market, before) < need_mol) {
            return edge;
        }
        high = before;
    }
}

double plan_price_of(const struct plan_lamp *lamp, const struct plan_slots *slots, double clearness,
                     double need_mol, double missing_price)
{
    const double need = need_mol - NEED_SLACK_MOL;
    if (!(need > 0)) {
        return 0;
    }
    struct market market;
    open_market(&market, lamp, slots, clearness);
    struct bracket bracket = {.low = 0, .high = missing_price};
    bracket.high_mol = supply(&market, missing_price);
    bracket.low_mol = supply(&market, 0);
    if (bracket.high_mol < need) {
        return missing_price;
    }
    if (bracket.low_mol >= need) {
        return 0;
    }
    bracket.high = fmin(last_edge(&market, missing_price), missing_price);
    for (int i = 0; i < NARROWINGS && count_edges(&market, &bracket) > 1; i++) {
        narrow(&market, need, i % 2 == 0, &bracket);
        settle_batches(&market, &bracket);
    }
    return fmin(lowest_edge(&market, need, &bracket), missing_price);
}

struct plan_price plan_fill(const struct plan_lamp *lamp, const struct plan_slots *slots,
                            double clearness, double need_mol, double missing_price)
{
    struct plan_price fill = {
        .price = plan_price_of(lamp, slots, clearness, need_mol, missing_price), .share = 1};
    if (fill.price >= missing_price) {
        return fill;
    }
    const double top = plan_supply_mol(lamp, slots, clearness, &fill, NULL);
    fill.share = 0;
    const double bottom = plan_supply_mol(lamp, slots, clearness, &fill, NULL);
    if (top > bottom) {
        fill.share = units_clamp((need_mol - bottom) / (top - bottom), 0, 1);
    }
    return fill;
}

double plan_missing_price(const struct plan_lamp *lamp, const struct plan_slots *slots)
{
    const struct lampcurve *curve = lamp->curve;
    const int last = curve->count - 1;
    double dearest = PLAN_PRICE_LEAST;
    for (int i = 0; i < slots->count; i++) {
        dearest = fmax(dearest, slots->slot[i].price_per_kwh);
    }
    double worth_w = PLAN_MISSING_WORTH * (curve->watts[last] - curve->off_w);
    worth_w = fmax(worth_w, ABOVE * lampcurve_threshold_w(curve, curve->level[0]));
    if (last > 0) {
        worth_w = fmax(worth_w, ABOVE * curve->slope[last - 1]);
    }
    return fmax(worth_w / worth_of_unit(lamp, dearest), 1e-9);
}
