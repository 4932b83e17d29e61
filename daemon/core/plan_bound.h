/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The cheapest possible in hindsight: the Lagrangian lower bound of the cost of a light day whose
 * daylight is known, speed limits and minimum times left out:
 *     max over λ of   λ · need + Σ min over u of ( cost(u) − λ · mol(u) )
 * No plan, however clever, can meet the need for less. On measured days a mixed-integer optimum
 * lies 0.004 to 0.2 % above it.
 */
#ifndef LAMPWARDEN_PLAN_BOUND_H
#define LAMPWARDEN_PLAN_BOUND_H

#include "plan_slot.h"

struct plan_bound {
    double cost;      /* of need_mol, or of all that there is where that is less */
    double price;     /* λ of the optimum, currency per mol */
    double reach_mol; /* the most that the slots can give */
    bool is_feasible; /* reach_mol ≥ need_mol */
};

/* slots: clear_umol is the daylight as it was. need_mol: lamp light needed; ≤ 0 gives the cost of
 * the floors. Prices are taken as they are, but nothing is burned beyond the need, even where
 * energy is paid for being used: λ is negative then. */
struct plan_bound plan_bound(const struct plan_lamp *lamp, const struct plan_slots *slots,
                             double need_mol);

/* The same mol at one level through all slots that allow light, dimmed by caps where they are
 * lower: what the light would cost without regard to prices. Less than the lowest level gives is
 * an equal part of every slot at that level; more than there is costs as much as all there is. */
double plan_even_cost(const struct plan_lamp *lamp, const struct plan_slots *slots,
                      double need_mol);

#endif
