/* SPDX-License-Identifier: Apache-2.0 */
/* The inside of the plan for one supply, shared by the powerplan*.c files alone. */
#ifndef LAMPWARDEN_POWERPLAN_PARTS_H
#define LAMPWARDEN_POWERPLAN_PARTS_H

#include "powerday.h"
#include "powerplan.h"

_Static_assert(POWERDAY_SLOTS_MAX <= ALLOTMENT_SLOTS_MAX, "an allotment holds a planned day");
_Static_assert((int)CONFIG_SPACES_MAX <= POWERDAY_SPACES_MAX, "a day is planned for all spaces");

/* What was seen of a space at its last decision. */
struct power_seen {
    /* now; watts with the factor of the meters */
    double watts;       /* commanded */
    double floor_w;     /* that it cannot do without in this tick: contacts that are closed */
    double low_w;       /* of what asks for light, at its lowest, by the curves themselves */
    double least_w;     /* … with as much of it as the stage's floor needs; ≥ low_w */
    double least_level; /* that this floor needs, ≤ want_level; 0: none */
    double want_w;      /* that it would draw without a budget, at want_level */
    double want_level;  /* 0: none */
    bool is_by_hand;
    bool is_lit;
    int64_t lit_since_ns;
    /* for its plan */
    const struct stage *stage; /* NULL: none runs */
    int64_t light_day;
    double target_mol;
    double need_mol; /* of the lamp, under a dark sky */
    double cap;      /* level that heat and faults leave */
    double full_umol;
    double clearness; /* of the dark sky, for the rest of the day; 0 without a sky */
    const struct learned *learned;
    double light_price; /* its own, under a sky; NaN: none */
};

struct power_space {
    struct power_seen seen;
    struct power_seen planned; /* what the plan was made for */
    double factor;             /* watts over those of the curves, ≥ 1 */
    double light_price;        /* in force; NaN: none yet */
    double budget_w;           /* by the curves */
    struct powercurve curve;
    struct allotment allotment;
};

struct powerplan {
    const struct config *config;
    struct powerday day;
    struct power_space *space;
    struct powerday_space *day_space;
    struct powerday_cell (*cell)[POWERDAY_SLOTS_MAX];
    struct power_user *user;
    int *order;
    bool is_working; /* the day is being planned */
    bool has_plan;
    int64_t begin_s; /* of the first slot of the day */
    int64_t planned_ns, planned_wall_s;
    int64_t boot_ns; /* of the last tick, and the time to the one before */
    double dt_s;
    double extra_per_kwh;
    double floor_share; /* of what the stages' floors need beyond the lowest levels; < 1: cut */
    bool is_short;
};

/* powerplan_day.c: plans again when it is time, and puts what it found into force. */
void powerplan_day(struct powerplan *plan, const struct powerplan_moment *moment);

/* powerplan_see.c has powerplan_see. */

#endif
