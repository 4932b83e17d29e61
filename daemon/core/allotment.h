/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a space has of a supply that it shares with others: a budget for this moment, and for the
 * half hours to come what the plan of all spaces together expects.
 */
#ifndef LAMPWARDEN_ALLOTMENT_H
#define LAMPWARDEN_ALLOTMENT_H

#include <stdbool.h>
#include <stdint.h>

#define ALLOTMENT_SLOT_S    1800
#define ALLOTMENT_SLOTS_MAX 49

struct allotment_slot {
    double extra_per_kwh; /* what energy costs on top of the tariff while power is short, ≥ 0 */
    double level; /* that the space wants before ramps and budget, 0 … 1; NaN: it plans for
                     itself */
    double watts; /* what it has of the supply; INFINITY: as much as it likes */
};

struct allotment {
    bool is_shared;     /* false: nothing is shared, the rest does not matter */
    double budget_w;    /* what its fixtures may draw now, by their dimming curves */
    int64_t begin_s;    /* wall clock, of the first half hour */
    int count;          /* 0: there is no such plan yet */
    int64_t light_day;  /* that it is of */
    double reach_mol;   /* that the lamp can have for the rest of the light day; INFINITY: all it
                           needs */
    double light_price; /* at which the plan buys what it needs under a dark sky, currency per mol
                           m⁻²; 0: power is never short */
    struct allotment_slot slot[ALLOTMENT_SLOTS_MAX];
};

/* NULL: nothing is shared, or the plan says nothing of that moment. */
const struct allotment_slot *allotment_at(const struct allotment *allotment, int64_t wall_s);

/* What the lamp can have for the rest of the light day, mol; INFINITY where no plan says less. */
double allotment_reach_mol(const struct allotment *allotment);

/* What a mol is worth to the plan of all spaces where power is short and the sky dark; 0: no plan
 * says so. */
double allotment_light_price(const struct allotment *allotment);

/* What the plan leaves at a moment; INFINITY where it says nothing. */
double allotment_planned_w(const struct allotment *allotment, int64_t wall_s);

#endif
