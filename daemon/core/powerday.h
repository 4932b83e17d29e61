/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The rest of the day of all spaces that share one supply: the price of light of each space and the
 * extra price of energy in each half hour at which every need is met and every sum of watts fits.
 *
 * Both kinds of price are the multipliers of one convex problem, the least cost of all spaces
 * together. Solved by turns: each space finds its price of light at the present energy prices, then
 * each half hour its extra price at the present prices of light; each turn maximises the dual
 * problem over its half of the prices. Lamps that answer prices in jumps would outbid each other by
 * tiny steps for ever, so the turns begin with a wide spread of every answer (powercurve.h), which
 * is narrowed when they have settled (ε-scaling, D. P. Bertsekas, Annals of Operations Research 14,
 * 1988, 105–123). The caller says how many turns he has time for.
 */
#ifndef LAMPWARDEN_POWERDAY_H
#define LAMPWARDEN_POWERDAY_H

#include "powershare.h"

#include <stdbool.h>
#include <stdint.h>

#define POWERDAY_SLOTS_MAX  49 /* half hours, the first and the last partial */
#define POWERDAY_SPACES_MAX 128
#define POWERDAY_SPREAD     0.01 /* of prices, when all is done */

struct powerday_slot {
    double dt_s;
    double price_per_kwh;
    double extra_per_kwh; /* found */
};

/* A space in a slot. */
struct powerday_cell {
    double lit_s; /* seconds of full light */
    double on_s;  /* seconds in which the lamp may burn, lit_s … dt_s */
    struct powercurve_limits limits;
};

struct powerday_space {
    const struct powercurve *curve;
    double full_umol;
    double need_mol; /* still to deliver by the lamp; may be ≤ 0 */
    double missing_price;
    double light_price; /* currency per mol m⁻²; found */
};

struct powerday {
    struct power_limit limit;
    int slot_count, space_count;
    struct powerday_slot slot[POWERDAY_SLOTS_MAX];
    struct powerday_space *space;                     /* the caller's, as are the cells */
    struct powerday_cell (*cell)[POWERDAY_SLOTS_MAX]; /* by space */
    int spread, turns; /* how far the work is: the caller does not look */
};

/* For new needs or cells. is_near: the prices are those of a day much like it, which saves most of
 * the turns; else they are forgotten. */
void powerday_begin(struct powerday *day, bool is_near);

/* Up to so many turns; true: done, and prices stand. Where no extra price is needed one turn does.
 */
bool powerday_work(struct powerday *day, int turns);

/* The space in that slot as powershare sees it; its scale is the part of the slot that it burns. */
struct power_user powerday_user(const struct powerday *day, int space, int slot);

/* Its level in that slot when energy costs so much on top of the tariff. */
double powerday_level(const struct powerday *day, int space, int slot, double extra_per_kwh);

/* What it gives by these prices, mol, and what that costs without the extra (may be NULL). */
double powerday_supply_mol(const struct powerday *day, int space, double *ret_cost);

#endif
