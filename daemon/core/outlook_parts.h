/* SPDX-License-Identifier: Apache-2.0 */
/* The insides of an outlook, shared by the outlook*.c files alone. */
#ifndef LAMPWARDEN_OUTLOOK_PARTS_H
#define LAMPWARDEN_OUTLOOK_PARTS_H

#include "outlook.h"
#include "plan_slot.h"

/* Prices of the day that is shown. */
struct day_prices {
    struct plan_slots slots; /* of the window */
    bool is_flat;            /* there */
    double low, high;        /* of the whole light day */
};

/* A state on its way through the day. */
struct walk {
    const struct space_rules *rules; /* decide by their tariff … */
    const struct tariff *paid;       /* … and pay by this one. NULL: the price of now, for ever */
    struct space_state state;
    struct now now;
    struct verdict verdict;
    struct reading ppfd; /* as it was at the beginning */
    struct day_prices prices;
    double heat_share[SPACE_FIXTURES_MAX]; /* of the usual heat cap, 0 … 1 */
    int sky; /* −1: the mean one; else of OUTLOOK_SKIES equally likely ones, the darkest 0 */
    double clearness;     /* NaN: no sun */
    double daylight_umol; /* of the present step */
    /* the row being filled: weighted seconds of each limiter, and of each reason of the plan */
    double ruled_s[LIMITER_COUNT + OUTLOOK_WHY_COUNT];
    struct outlook *outlook;
};

/* Of energy at a moment, as it is paid. */
double outlook_price(const struct walk *walk, int64_t wall_s);

/* Fills walk->prices for a stage in the light day that begins then. */
void outlook_look_at_prices(struct walk *walk, const struct stage *stage, int64_t begin_s);

/* Of the present verdict. */
enum outlook_why outlook_why_now(const struct walk *walk);

#endif
