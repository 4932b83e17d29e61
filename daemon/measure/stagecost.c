/* SPDX-License-Identifier: Apache-2.0 */
#include "stagecost.h"

#include "efficacy.h"
#include "plan.h"
#include "plan_bound.h"
#include "plan_day.h"
#include "units.h"

#define MET 1e-9 /* of the need */

static void cut(const struct space_rules *rules, const struct stage *stage, int64_t day,
                struct plan_slots *ret)
{
    struct learned learned;
    learned_init(&learned);
    plan_day_slots(rules, stage, &learned, efficacy_cap(rules), lightday_begin(&rules->day, day),
                   ret);
    for (int i = 0; i < ret->count; i++) {
        ret->slot[i].clear_umol = 0;
    }
}

static double even_level(const struct plan_lamp *lamp, const struct plan_slots *slots, double cap,
                         double need_mol)
{
    const double least = lampcurve_min_level(lamp->curve);
    const struct plan_source source = {lamp->full_umol, cap, least};
    struct plan_problem problem = {
        .need_mol = need_mol,
        .ceiling_umol = lamp->ceiling_umol,
        .sources = &source,
        .source_count = 1,
    };
    for (int i = 0; i < slots->count; i++) {
        problem.lit_s += slots->slot[i].lit_s;
    }
    return fmax(fmin(plan_level(&problem).level, cap), least);
}

static struct stagecost_way even_way(const struct plan_lamp *lamp, struct plan_slots slots,
                                     double need_mol, double level)
{
    struct stagecost_way way = {
        .cost = plan_even_cost(lamp, &slots, need_mol),
        .peak_w = lampcurve_watts(lamp->curve, level),
    };
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i].price_per_kwh = 1;
    }
    way.kwh = plan_even_cost(lamp, &slots, need_mol);
    return way;
}

static struct stagecost_way planned_way(const struct plan_lamp *lamp,
                                        const struct plan_slots *slots, double need_mol)
{
    struct stagecost_way way = {0};
    const struct plan_price price =
        plan_fill(lamp, slots, 0, need_mol, plan_missing_price(lamp, slots));
    (void)plan_supply_mol(lamp, slots, 0, &price, &way.cost);
    for (int i = 0; i < slots->count; i++) {
        const struct plan_slot *slot = &slots->slot[i];
        const double watts = lampcurve_watts(lamp->curve, plan_level_at(lamp, slot, 0, &price));
        way.kwh += units_kwh(watts - lamp->curve->off_w, slot->lit_s);
        way.peak_w = fmax(way.peak_w, watts);
    }
    return way;
}

static void add(struct stagecost_way *sum, const struct stagecost_way *way, double times)
{
    sum->kwh += way->kwh * times;
    sum->cost += way->cost * times;
    sum->peak_w = fmax(sum->peak_w, way->peak_w);
}

static void add_day(struct stagecost *sum, const struct space_rules *rules,
                    const struct stage *stage, int64_t day, double times)
{
    struct plan_slots slots;
    cut(rules, stage, day, &slots);
    const struct plan_lamp lamp = plan_day_lamp(rules, stage, space_configured_umol(rules));
    sum->reach_mol = fmin(sum->reach_mol, plan_reach_mol(&lamp, &slots, 0));
    sum->level = even_level(&lamp, &slots, efficacy_cap(rules), sum->need_mol);
    const struct stagecost_way even = even_way(&lamp, slots, sum->need_mol, sum->level);
    const struct stagecost_way planned = planned_way(&lamp, &slots, sum->need_mol);
    add(&sum->even, &even, times);
    add(&sum->planned, &planned, times);
}

struct stagecost stagecost_of(const struct space_rules *rules, const struct stage *stage,
                              int64_t day, int days)
{
    struct stagecost sum = {
        .days = days,
        .need_mol = stage->target_mol * (1 + rules->aim_margin),
        .reach_mol = (double)INFINITY,
    };
    if (tariff_is_flat(plan_day_tariff(rules))) {
        add_day(&sum, rules, stage, day, days);
    } else {
        for (int i = 0; i < days; i++) {
            add_day(&sum, rules, stage, day + i, 1);
        }
    }
    sum.is_met = sum.reach_mol >= sum.need_mol * (1 - MET);
    return sum;
}
