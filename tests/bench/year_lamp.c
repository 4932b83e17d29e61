/* SPDX-License-Identifier: Apache-2.0 */
#include "year_lamp.h"

#include <math.h>
#include <stddef.h>

#define MINUTE_S   60.0
#define J_PER_KWH  3.6e6
#define UMOL       1e-6
#define BISECTIONS 60

double year_lamp_w(const struct year_lamp *lamp, double level)
{
    if (!(level > 0)) {
        return 0;
    }
    return lamp->full_umol / lamp->efficacy_umol_j *
           (lamp->fixed + (lamp->linear + lamp->square * level) * level);
}

double year_lamp_minute_cost(const struct year_lamp *lamp, double level, double price_kwh)
{
    return price_kwh * year_lamp_w(lamp, level) * MINUTE_S / J_PER_KWH;
}

static double clamp(double x, double low, double high)
{
    return fmin(fmax(x, low), high);
}

/* A negative price makes the cost concave: only the ends of the range can be best. */
static double level_when_paid(const struct year_lamp *lamp, double value_s, double price_s,
                              double low, double cap)
{
    const double least = low > 0 ? fmax(low, lamp->min_level) : 0;
    const double at_cap = price_s * year_lamp_w(lamp, cap) - value_s * lamp->full_umol * cap;
    const double at_least = price_s * year_lamp_w(lamp, least) - value_s * lamp->full_umol * least;
    return at_cap <= at_least ? cap : fmin(least, cap);
}

double year_lamp_level(const struct year_lamp *lamp, double value_mol, double price_kwh, double low,
                       double cap)
{
    if (cap < lamp->min_level) {
        return 0;
    }
    if (price_kwh <= 0) {
        return level_when_paid(lamp, value_mol * UMOL, price_kwh / J_PER_KWH, low, cap);
    }
    /* in units of the price of a mol at slope 1 */
    const double value = value_mol * UMOL * lamp->efficacy_umol_j * J_PER_KWH / price_kwh;
    const double thrifty = lamp->square > 0 ? sqrt(lamp->fixed / lamp->square) : cap;
    const double first = clamp(thrifty, lamp->min_level, cap);
    double level = value >= lamp->linear ? cap : 0;
    if (lamp->square > 0) {
        level = (value - lamp->linear) / (2 * lamp->square);
    }
    if (low > 0) {
        return clamp(level, fmin(cap, fmax(low, lamp->min_level)), cap);
    }
    if (value < lamp->fixed / first + lamp->linear + lamp->square * first) {
        return 0;
    }
    return clamp(level, first, cap);
}

struct sums {
    double cost, mol;
};

static struct sums at_value(const struct year_lamp *lamp, int minutes, const double *price,
                            const double *low, const double *cap, double value)
{
    struct sums sums = {0, 0};
    for (int i = 0; i < minutes; i++) {
        const double level = year_lamp_level(lamp, value, price[i], low ? low[i] : 0, cap[i]);
        sums.cost += year_lamp_minute_cost(lamp, level, price[i]);
        sums.mol += level * lamp->full_umol * MINUTE_S * UMOL;
    }
    return sums;
}

struct year_bound year_lamp_bound(const struct year_lamp *lamp, int minutes, const double *price,
                                  const double *low, const double *cap, double need_mol)
{
    double dearest = 0;
    double cheapest = 0;
    for (int i = 0; i < minutes; i++) {
        dearest = fmax(dearest, price[i]);
        cheapest = fmin(cheapest, price[i]);
    }
    /* No slope of the cost is outside of these. */
    const double steepest = (lamp->fixed / lamp->min_level + lamp->linear + 2 * lamp->square) /
                            (lamp->efficacy_umol_j * J_PER_KWH * UMOL);
    double high = 1.01 * dearest * steepest + 1e-6;
    double under = 1.01 * cheapest * steepest - 1e-6;
    const struct sums all = at_value(lamp, minutes, price, low, cap, high);
    struct year_bound bound = {all.cost, all.mol, high, need_mol <= all.mol};
    if (!bound.is_feasible) {
        return bound;
    }
    struct sums sums = at_value(lamp, minutes, price, low, cap, under);
    if (sums.mol >= need_mol) { /* the floor's light suffices, or there is no need */
        bound.cost = sums.cost;
        bound.value = 0;
        return bound;
    }
    for (int i = 0; i < BISECTIONS; i++) {
        const double middle = 0.5 * (under + high);
        sums = at_value(lamp, minutes, price, low, cap, middle);
        if (sums.mol >= need_mol) {
            high = middle;
        } else {
            under = middle;
        }
    }
    sums = at_value(lamp, minutes, price, low, cap, high);
    bound.cost = sums.cost + high * (need_mol - sums.mol); /* the supply jumps at this value */
    bound.value = high;
    return bound;
}
