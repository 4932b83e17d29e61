/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_bound.h"

#include "plan_price.h"
#include "units.h"

#include <math.h>

static const int BISECTIONS = 42; /* to twelve digits */
static const double REACH_SLACK_MOL = 1e-9;

/* One slot with its limits worked out. */
struct offer {
    const struct lampcurve *curve;
    double low, high;
    double mol;  /* at level 1 */
    double cost; /* of a watt through the slot; may be ≤ 0 */
};

struct offers {
    int count;
    struct offer offer[PLAN_SLOTS_MAX];
};

struct sums {
    double mol, cost;
};

static struct offer offer_of(const struct plan_lamp *lamp, const struct plan_slot *slot)
{
    struct offer offer = {
        .curve = lamp->curve,
        .mol = units_mol(lamp->full_umol, slot->lit_s),
        .cost = units_kwh(lamp->full_share, slot->lit_s) * slot->price_per_kwh,
    };
    plan_limits(lamp, slot, slot->clear_umol, &offer.low, &offer.high);
    return offer;
}

static double cost_at(const struct offer *offer, double level)
{
    return offer->cost * (lampcurve_watts(offer->curve, level) - offer->curve->off_w);
}

static double loss_at(const struct offer *offer, double level, double price)
{
    return cost_at(offer, level) - price * offer->mol * level;
}

/* The level of least cost less worth. */
static double level_of(const struct offer *offer, double price)
{
    if (offer->cost > 0) {
        return lampcurve_level_at(offer->curve, fmax(0, price * offer->mol / offer->cost),
                                  offer->low, offer->high);
    }
    /* A convex curve at a price ≤ 0 is concave: the least lies at an end. */
    double level = offer->high;
    const double lowest = fmin(fmax(offer->low, lampcurve_min_level(offer->curve)), offer->high);
    if (loss_at(offer, lowest, price) < loss_at(offer, level, price)) {
        level = lowest;
    }
    if (!(offer->low > 0) && loss_at(offer, level, price) > 0) {
        level = 0;
    }
    return level;
}

static void collect(struct offers *ret, const struct plan_lamp *lamp,
                    const struct plan_slots *slots)
{
    ret->count = slots->count;
    for (int i = 0; i < slots->count; i++) {
        ret->offer[i] = offer_of(lamp, &slots->slot[i]);
    }
}

static struct sums sums_at(const struct offers *offers, double price)
{
    struct sums sums = {0, 0};
    for (int i = 0; i < offers->count; i++) {
        const struct offer *offer = &offers->offer[i];
        const double level = level_of(offer, price);
        sums.mol += offer->mol * level;
        sums.cost += cost_at(offer, level);
    }
    return sums;
}

/* The steepest line between any two of the curve's points and off, up to a level. */
static double steepest_w(const struct lampcurve *curve, double high)
{
    const double photon_w = lampcurve_threshold_w(curve, high);
    return curve->count > 1 ? fmax(photon_w, curve->slope[curve->count - 2]) : photon_w;
}

/* A price of light ≤ 0 at which no slot gives more than its floor, whatever is paid for energy. */
static double price_of_none(const struct offers *offers)
{
    double least = 0;
    for (int i = 0; i < offers->count; i++) {
        const struct offer *offer = &offers->offer[i];
        if (offer->mol > 0 && offer->cost < 0) {
            const double dearest_w = steepest_w(offer->curve, lampcurve_min_level(offer->curve));
            least = fmin(least, dearest_w * offer->cost / offer->mol);
        }
    }
    return least * (1 + 1e-9);
}

/* A price of light at which every slot gives all it can. */
static double price_of_all(const struct offers *offers)
{
    double most = 0;
    for (int i = 0; i < offers->count; i++) {
        const struct offer *offer = &offers->offer[i];
        if (!(offer->high > 0) || !(offer->mol > 0)) {
            continue;
        }
        /* Under a price below 0 only watts that fall with the level speak against light. */
        const double worth_w = offer->cost > 0 ? steepest_w(offer->curve, offer->high)
                                               : fmin(0, offer->curve->slope[0]);
        most = fmax(most, worth_w * offer->cost / offer->mol);
    }
    return most * (1 + 1e-9);
}

struct plan_bound plan_bound(const struct plan_lamp *lamp, const struct plan_slots *slots,
                             double need_mol)
{
    struct plan_bound bound = {.reach_mol = plan_reach_mol(lamp, slots, 1)};
    bound.is_feasible = need_mol <= bound.reach_mol + REACH_SLACK_MOL;
    const double need = fmin(need_mol, bound.reach_mol);
    struct offers offers;
    collect(&offers, lamp, slots);
    double low = price_of_none(&offers);
    struct sums sums = sums_at(&offers, low);
    if (sums.mol >= need) {
        bound.cost = sums.cost;
        return bound;
    }
    double high = price_of_all(&offers);
    for (int i = 0; i < BISECTIONS; i++) {
        const double middle = 0.5 * (low + high);
        if (sums_at(&offers, middle).mol >= need) {
            high = middle;
        } else {
            low = middle;
        }
    }
    /* The supply jumps at the best price: what it gives too much is taken back at that price. */
    sums = sums_at(&offers, high);
    bound.price = high;
    bound.cost = sums.cost + high * (need - sums.mol);
    return bound;
}

/* Every slot that allows light at one level; level 0: the floors alone. */
static struct sums even_sums(const struct offers *offers, double level)
{
    struct sums sums = {0, 0};
    for (int i = 0; i < offers->count; i++) {
        const struct offer *offer = &offers->offer[i];
        const double here = fmin(fmax(level, offer->low), offer->high);
        sums.mol += offer->mol * here;
        sums.cost += cost_at(offer, here);
    }
    return sums;
}

double plan_even_cost(const struct plan_lamp *lamp, const struct plan_slots *slots, double need_mol)
{
    double low = lampcurve_min_level(lamp->curve);
    double high = 1;
    struct offers offers;
    collect(&offers, lamp, slots);
    const struct sums lowest = even_sums(&offers, low);
    if (need_mol <= lowest.mol) {
        const struct sums floors = even_sums(&offers, 0);
        const double room = lowest.mol - floors.mol;
        const double part = room > 0 ? units_clamp((need_mol - floors.mol) / room, 0, 1) : 0;
        return floors.cost + (lowest.cost - floors.cost) * part;
    }
    for (int i = 0; i < BISECTIONS; i++) {
        const double middle = 0.5 * (low + high);
        if (even_sums(&offers, middle).mol >= need_mol) {
            high = middle;
        } else {
            low = middle;
        }
    }
    return even_sums(&offers, high).cost;
}
