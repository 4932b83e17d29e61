/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_day.h"

#include <math.h>

static const struct tariff any_price = {.price_per_kwh = 1};

const struct tariff *plan_day_tariff(const struct space_rules *rules)
{
    return rules->tariff ? rules->tariff : &any_price;
}

struct plan_lamp plan_day_lamp(const struct space_rules *rules, const struct stage *stage,
                               double full_umol)
{
    return (struct plan_lamp){
        .curve = &rules->lamp,
        .full_umol = full_umol,
        .full_share = 1,
        .ceiling_umol = stage->ceiling_umol,
        .stays_lit = !rules->sees_daylight,
    };
}

static double usual_cap(const struct space_rules *rules, const struct learned *learned,
                        int64_t wall_s)
{
    return (double)learned->heat_cap[lightday_second(&rules->day, wall_s) / 3600];
}

void plan_day_slots(const struct space_rules *rules, const struct stage *stage,
                    const struct learned *learned, double cap_now, int64_t wall_s,
                    struct plan_slots *ret)
{
    const double usual_now = usual_cap(rules, learned, wall_s);
    const double share = cap_now < usual_now ? cap_now / usual_now : 1;
    plan_cut(&rules->day, stage, plan_day_tariff(rules), wall_s, ret);
    for (int i = 0; i < ret->count; i++) {
        struct plan_slot *slot = &ret->slot[i];
        slot->cap = share * usual_cap(rules, learned, slot->from_s);
        slot->floor_umol = stage->floor_umol;
        if (rules->sees_daylight) {
            const int64_t middle_s = slot->from_s + (int64_t)(slot->dt_s / 2);
            slot->clear_umol = sun_clear_umol(&rules->sun, middle_s);
        }
    }
}

/* Mean level of a climb from `from` to at most `cap`, over so many seconds. */
static double mean_climb(double from, double cap, double rise_per_s, double seconds)
{
    const double end = from + rise_per_s * seconds;
    if (!(end > cap)) {
        return (from + end) / 2;
    }
    return from < cap ? cap - (cap - from) * (cap - from) / (2 * rise_per_s * seconds) : cap;
}

void plan_day_climb(struct plan_slots *slots, const struct plan_climb *climb, int64_t wall_s)
{
    double begin_s = (double)wall_s + climb->rest_s;
    double begin_level = fmax(climb->level, climb->least);
    double end_s = (double)wall_s;
    for (int i = 0; i < slots->count; i++) {
        struct plan_slot *slot = &slots->slot[i];
        const double from_s = (double)slot->from_s;
        if (from_s > end_s + 1) { /* after a night it starts anew */
            begin_s = fmax(begin_s, from_s);
            begin_level = climb->least;
        }
        end_s = from_s + slot->dt_s;
        const double dark_s = fmin(fmax(begin_s - from_s, 0), slot->dt_s);
        slot->lit_s *= 1 - dark_s / slot->dt_s;
        if (!(climb->rise_per_s > 0) || !(dark_s < slot->dt_s)) {
            continue;
        }
        const double level = begin_level + climb->rise_per_s * fmax(from_s - begin_s, 0);
        if (level < slot->cap) {
            slot->cap = mean_climb(level, slot->cap, climb->rise_per_s, slot->dt_s - dark_s);
        }
    }
}
