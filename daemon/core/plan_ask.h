/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The price of light under a sky that nobody knows: the expected shadow price. For each case that
 * may come, the price at which the lamp would just meet the need; the mean of these prices buys a
 * mol now exactly when buying it later, only if it is still needed, would cost more in the mean.
 * Where the pessimistic sky would need more than the lamp can still give, the price is that of a
 * missing mol: everything now. (The value of stored water of hydropower, turned round.)
 */
#ifndef LAMPWARDEN_PLAN_ASK_H
#define LAMPWARDEN_PLAN_ASK_H

#include "clearness.h"
#include "plan_price.h"

struct plan_question {
    struct plan_lamp lamp;
    const struct plan_slots *slots; /* the lit rest of the light day, with the clear sky */
    const struct scenarios *sky;    /* NULL or count 0: no daylight, and the price is exact */
    double clear_mol; /* clear-sky daylight until the light day ends, dark parts too */
    double need_mol;  /* lamp and daylight together; ≤ 0: price 0 */
};

struct plan_reply {
    struct plan_price price;
    double daylight_mol; /* expected from the sky */
    double reach_mol;    /* the most that the lamp can give beside it */
    bool by_guard;       /* the pessimistic sky ruled */
    bool is_full;        /* need is above both together */
};

struct plan_reply plan_ask(const struct plan_question *question);

#endif
