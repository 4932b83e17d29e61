/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The rest of a space's light day as its plan sees it: the lamp, and slots with their prices, caps
 * and clear sky. What decides, and what shows the plan, ask here.
 */
#ifndef LAMPWARDEN_PLAN_DAY_H
#define LAMPWARDEN_PLAN_DAY_H

#include "plan_cut.h"
#include "space.h"

/* Of the lamp's caps where no sun mends what is short: warm lamps give a little less than their
 * curve says. */
#define PLAN_DAY_INDOOR_CAP 0.995

/* The tariff of a space; without one energy costs 1 for ever, as only ratios matter. Never NULL. */
const struct tariff *plan_day_tariff(const struct space_rules *rules);

/* The lamp as it was commissioned. full_umol: of all fixtures at level 1, gain included. */
struct plan_lamp plan_day_lamp(const struct space_rules *rules, const struct stage *stage,
                               double full_umol);

/* The lit rest of the light day that holds wall_s. cap_now: level that heat and faults leave now.
 * Each hour is capped at its usual heat cap, all of them lowered in proportion where less is left
 * now than is usual at this hour. */
void plan_day_slots(const struct space_rules *rules, const struct stage *stage,
                    const struct learned *learned, double cap_now, int64_t wall_s,
                    struct plan_slots *ret);

/* What a slow start takes of slots that were cut at wall_s: the lamp stands at `level` (0: off, and
 * then for another rest_s) and climbs by rise_per_s; after the dark part of a split window it
 * climbs again. Shortens lit_s, lowers caps. */
struct plan_climb {
    double level;
    double least; /* the lamp's lowest level, with which it starts */
    double rest_s;
    double rise_per_s; /* 0: too fast to matter */
};
void plan_day_climb(struct plan_slots *slots, const struct plan_climb *climb, int64_t wall_s);

#endif
