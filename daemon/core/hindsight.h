/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the lamp light of a finished light day could have cost, now that its sun, its prices and its
 * faults are known: the cheapest possible (plan_bound.h), and the same light at one level.
 *
 * The lamp is the one that burned: the commissioned one, its light and its watts changed by what
 * the day's own readings make of the curves. Costs are those of the lamp alone, above what is drawn
 * while it is off.
 */
#ifndef LAMPWARDEN_HINDSIGHT_H
#define LAMPWARDEN_HINDSIGHT_H

#include "daylog.h"
#include "plan_slot.h"
#include "space.h"

struct hindsight_day {
    const struct space_rules *rules;
    const struct stage *stage;
    int64_t begin_s;
    const struct daylog *log;
};

/* NaN in it: the lamp was none that the curves know. */
struct plan_lamp hindsight_lamp(const struct hindsight_day *day);

/* The lit parts of the day's quarter hours, with price, cap and daylight
 * (as clear_umol) of the log. A quarter hour that nobody saw has its price by the tariff. */
void hindsight_slots(const struct hindsight_day *day, struct plan_slots *ret);

/* Share of the lamp's most light, at levels up to `most`, that the stage's ceiling left beside the
 * daylight that came, passing faults left out; 1 where no ceiling is. What nobody saw is dark. */
double hindsight_room(const struct hindsight_day *day, double full_umol, double most);

struct hindsight {
    double bound_cost; /* no lamp light of need_mol (≤ 0: none), or of all there is, costs less */
    double even_cost;  /* lamp_mol at one level through the window */
};

/* NaN, both, where more than an hour of the day was not seen, or the lamp was none that the curves
 * know. */
struct hindsight hindsight(const struct hindsight_day *day, double need_mol, double lamp_mol);

/* What there is to say of the cost of a day's lamp light beside the least that was possible. */
enum hindsight_word {
    HINDSIGHT_NOTHING, /* not known, or next to no cost in both */
    HINDSIGHT_SHORT,   /* light is missing: that is no saving, so no ratio */
    HINDSIGHT_COSTS,   /* both, but no ratio: one of them is next to nothing or negative */
    HINDSIGHT_RATIO,   /* both, and lamp_cost / bound_cost */
};
enum hindsight_word hindsight_word(double lamp_cost, double bound_cost, double missing_mol);

#endif
