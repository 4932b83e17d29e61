/* SPDX-License-Identifier: Apache-2.0 */
#include "powerday.h"

#include "units.h"

#include <math.h>

#define TURNS_A_SPREAD 100
#define SETTLED        0.01 /* of the spread: when no price of light moves further, the next one */
#define SETTLED_LAST   0.0005 /* … of the last spread */
static const double spreads[] = {0.6, 0.3, 0.15, 0.08, 0.04, 0.02, POWERDAY_SPREAD};
enum { SPREAD_NEAR = 4, SPREAD_COUNT = sizeof spreads / sizeof spreads[0] };

static const double PRICE_RANGE = 16;  /* in ln, below what a missing mol is worth: that is free */
static const double PRICE_SAME = 2e-4; /* of the spread */

void powerday_begin(struct powerday *day, bool is_near)
{
    day->spread = is_near ? SPREAD_NEAR : -1;
    day->turns = 0;
    for (int i = 0; !is_near && i < day->slot_count; i++) {
        day->slot[i].extra_per_kwh = 0;
    }
}

struct power_user powerday_user(const struct powerday *day, int space, int slot)
{
    const struct powerday_space *its = &day->space[space];
    const struct powerday_cell *cell = &day->cell[space][slot];
    return (struct power_user){
        .curve = its->curve,
        .log_worth = powershare_log_worth(its->light_price, its->full_umol),
        .limits = cell->limits,
        .scale = day->slot[slot].dt_s > 0 ? cell->on_s / day->slot[slot].dt_s : 0,
    };
}

/* Of the whole price of every slot: it stands still while a space looks for its price of light. */
static void log_prices(const struct powerday *day, double *ret_log)
{
    for (int i = 0; i < day->slot_count; i++) {
        ret_log[i] =
            log(powershare_whole_price(day->slot[i].price_per_kwh, day->slot[i].extra_per_kwh));
    }
}

static double supply_at(const struct powerday *day, int space, const double *log_price,
                        double log_worth, double spread)
{
    const struct powerday_space *its = &day->space[space];
    double mol = 0;
    for (int i = 0; i < day->slot_count; i++) {
        const struct powerday_cell *cell = &day->cell[space][i];
        if (cell->lit_s > 0) {
            const double level =
                powercurve_level(its->curve, log_worth - log_price[i], spread, &cell->limits);
            mol += units_mol(its->full_umol * level, cell->lit_s);
        }
    }
    return mol;
}

/* The price of light at which it just meets its need, found between two prices in ln: from the
 * present one outwards where there is one. */
static double needed_price(const struct powerday *day, int space, const double *log_price,
                           double spread)
{
    const struct powerday_space *its = &day->space[space];
    const double worth = powershare_log_worth(1, its->full_umol);
    const double most = log(its->missing_price);
    const double least = most - PRICE_RANGE;
    if (!(its->need_mol > 0) ||
        supply_at(day, space, log_price, worth + least, spread) >= its->need_mol) {
        return 0;
    }
    if (supply_at(day, space, log_price, worth + most, spread) < its->need_mol) {
        return its->missing_price;
    }
    double low = least;
    double high = most;
    if (its->light_price > 0) {
        const double here = log(its->light_price);
        low = fmax(least, here - spread);
        high = fmin(most, here + 2 * spread);
        if (supply_at(day, space, log_price, worth + low, spread) >= its->need_mol) {
            high = low;
            low = least;
        } else if (supply_at(day, space, log_price, worth + high, spread) < its->need_mol) {
            low = high;
            high = most;
        }
    }
    while (high - low > PRICE_SAME * spread) {
        const double middle = 0.5 * (low + high);
        if (supply_at(day, space, log_price, worth + middle, spread) >= its->need_mol) {
            high = middle;
        } else {
            low = middle;
        }
    }
    return exp(high);
}

/* Returns how far the price moved, in ln. */
static double move_light_price(const struct powerday *day, int space, const double *log_price,
                               double spread)
{
    struct powerday_space *its = &day->space[space];
    const double before = its->light_price;
    its->light_price = needed_price(day, space, log_price, spread);
    if (!(before > 0) || !(its->light_price > 0)) {
        return its->light_price == before ? 0 : (double)INFINITY;
    }
    return fabs(log(its->light_price / before));
}

static bool find_extra(struct powerday *day, int slot, double spread)
{
    struct power_user users[POWERDAY_SPACES_MAX];
    int count = 0;
    for (int i = 0; i < day->space_count; i++) {
        if (day->cell[i][slot].lit_s > 0) {
            users[count++] = powerday_user(day, i, slot);
        }
    }
    struct powerday_slot *its = &day->slot[slot];
    its->extra_per_kwh = powershare_extra(&day->limit, its->price_per_kwh, users, count, spread);
    return its->extra_per_kwh > 0;
}

/* Prices of light, then extra prices. Returns how far the former moved. */
static double take_turn(struct powerday *day, double spread, bool *ret_is_short)
{
    double log_price[POWERDAY_SLOTS_MAX];
    double moved = 0;
    log_prices(day, log_price);
    for (int s = 0; s < day->space_count; s++) {
        moved = fmax(moved, move_light_price(day, s, log_price, spread));
    }
    *ret_is_short = false;
    for (int t = 0; t < day->slot_count; t++) {
        *ret_is_short = find_extra(day, t, spread) || *ret_is_short;
    }
    return moved;
}

bool powerday_work(struct powerday *day, int turns)
{
    for (int i = 0; i < turns && day->spread < SPREAD_COUNT; i++) {
        /* Whether all fits by itself is seen by the answers as they will be in the end. */
        const bool is_first = day->spread < 0;
        const double spread = is_first ? POWERDAY_SPREAD : spreads[day->spread];
        bool is_short = false;
        const double moved = take_turn(day, spread, &is_short);
        if (is_first) {
            day->spread = is_short ? 0 : SPREAD_COUNT;
            continue;
        }
        const bool is_last = day->spread == SPREAD_COUNT - 1;
        if (++day->turns == TURNS_A_SPREAD || moved < (is_last ? SETTLED_LAST : SETTLED) * spread) {
            day->spread++;
            day->turns = 0;
        }
    }
    return day->spread == SPREAD_COUNT;
}

double powerday_level(const struct powerday *day, int space, int slot, double extra_per_kwh)
{
    const struct powerday_space *its = &day->space[space];
    const double price = powershare_whole_price(day->slot[slot].price_per_kwh, extra_per_kwh);
    const double log_worth = powershare_log_worth(its->light_price, its->full_umol);
    return powercurve_level(its->curve, log_worth - log(price), POWERDAY_SPREAD,
                            &day->cell[space][slot].limits);
}

double powerday_supply_mol(const struct powerday *day, int space, double *ret_cost)
{
    const struct powerday_space *its = &day->space[space];
    double mol = 0;
    double cost = 0;
    for (int i = 0; i < day->slot_count; i++) {
        const struct powerday_cell *cell = &day->cell[space][i];
        const double level = powerday_level(day, space, i, day->slot[i].extra_per_kwh);
        const double watts = powercurve_watts(its->curve, level, &cell->limits);
        mol += units_mol(its->full_umol * level, cell->lit_s);
        cost += units_kwh(watts, cell->lit_s) * day->slot[i].price_per_kwh;
    }
    if (ret_cost) {
        *ret_cost = cost;
    }
    return mol;
}
