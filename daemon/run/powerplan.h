/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The supply that all spaces share: before every tick it says what each of them may draw, and every
 * five minutes it plans the rest of the day of all of them together (core/powerday.h), a few turns
 * a tick so that no tick takes long. Allocates at its creation only. The daemon's tick and the
 * rehearsal use it alike.
 *
 * Watts are those of the dimming curves at what was commanded: they are known before a lamp is lit,
 * and at the same moment for all. Where the meter of a lamp reads above its curve, the excess is
 * learned as a factor of the space; where it reads below, nothing is handed out, as a meter can be
 * late or wrong. A lamp that nobody can confirm as dark counts as lit.
 */
#ifndef LAMPWARDEN_POWERPLAN_H
#define LAMPWARDEN_POWERPLAN_H

#include "config.h"
#include "decide.h"

struct err;
struct powerplan;

struct powerplan_moment {
    int64_t boot_ns, wall_s;
    bool knows_time;
    double price_per_kwh; /* of energy, now */
};

/* What a space decided, of one and the same tick. */
struct powerplan_sight {
    const struct now *now;
    const struct space_state *state;
    const struct verdict *verdict;
};

/* For those who only look. */
struct powerplan_view {
    bool is_shared;
    double watts;              /* commanded, of all spaces */
    double limit_w, soft_w;    /* INFINITY: none */
    double soft_price_per_kwh; /* above soft_w, on top; 0: none */
    bool is_binding;           /* somebody has less than he asks for */
    double extra_per_kwh; /* what another kWh would be worth on top of its price; NaN: by hand */
    bool is_short;        /* the lowest levels alone are too much */
    bool is_soft;         /* what binds is the price above soft_w, not limit_w */
    bool cuts_floor;      /* the lowest levels fit, but not what the stages' floors need */
};

/* *ret is NULL where the configuration has no limit; all functions below take that. The
 * configuration is lent. */
int powerplan_create(const struct config *config, struct powerplan **ret, struct err *err);
void powerplan_destroy(struct powerplan *plan);

/* Every space after it decided, also one that was carried over a reload. */
void powerplan_see(struct powerplan *plan, int space, const struct powerplan_sight *sight);
/* Before the first space of a tick decides. */
void powerplan_share(struct powerplan *plan, const struct powerplan_moment *moment);
/* For its next decision. */
void powerplan_fill(const struct powerplan *plan, int space, struct allotment *ret);

void powerplan_look(const struct powerplan *plan, struct powerplan_view *ret);

#endif
