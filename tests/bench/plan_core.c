/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_core.h"

#include <math.h>

#define MINUTE_S   60.0
#define MINUTE_MOL 60e-6
#define REPLAN_MIN 5
#define SLOT_MIN   30
#define HYSTERESIS 0.97 /* of the price at which the lamp goes on */

static struct plan_lamp lamp_of(const struct plan_core *core, const struct plan_case *plan_case)
{
    return (struct plan_lamp){.curve = &core->curve,
                              .full_umol = plan_case->lamp.full_umol,
                              .full_share = 1,
                              .ceiling_umol = plan_case->ceiling_umol};
}

static void begin(void *self, const struct plan_day *day)
{
    struct plan_core *core = self;
    double clear_mol = 0;
    for (int m = 0; m < PLAN_DAY_MIN; m++) {
        clear_mol += day->clear[m] * MINUTE_MOL;
    }
    clearness_open(&core->today, clear_mol);
    core->planned_minute = -1;
}

static double usable_cap(const struct plan_day *day, int minute)
{
    const double cap = day->envelope[minute];
    return cap < day->plan_case->lamp.min_level ? 0 : cap;
}

static void cut(const struct plan_day *day, int from, struct plan_slots *ret)
{
    ret->count = 0;
    for (int m = from; m < PLAN_DAY_MIN;) {
        struct plan_slot slot = {.price_per_kwh = day->price[m], .cap = 1};
        const int end = (m / SLOT_MIN + 1) * SLOT_MIN;
        double clear = 0;
        for (; m < end && day->price[m] == slot.price_per_kwh; m++) {
            slot.dt_s += MINUTE_S;
            slot.lit_s += MINUTE_S * usable_cap(day, m);
            clear += day->clear[m] * MINUTE_S;
        }
        slot.clear_umol = clear / slot.dt_s;
        slot.floor_umol = slot.lit_s > 0 ? day->plan_case->floor_umol : 0;
        if (slot.lit_s > 0 && ret->count < PLAN_SLOTS_MAX) {
            ret->slot[ret->count++] = slot;
        }
    }
}

static void make_plan(struct plan_core *core, const struct plan_day *day,
                      const struct plan_moment *now)
{
    const struct plan_lamp lamp = lamp_of(core, day->plan_case);
    struct plan_slots slots;
    struct scenarios scenarios;
    cut(day, now->minute, &slots);
    clearness_scenarios(&core->today, &core->learned, &scenarios);
    const struct plan_sky sky = {
        .lamp = &lamp,
        .slots = &slots,
        .scenarios = &scenarios,
        .clear_mol = core->today.clear_day_mol - core->today.clear_mol,
        .reach_mol = (double)INFINITY,
        .need_mol = day->plan_case->target_mol - now->got_mol,
        .target_mol = day->plan_case->target_mol,
    };
    core->answer = plan_sky_price(&sky);
    core->planned_minute = now->minute;
    core->plans++;
}

static double reach_after_rest(const struct plan_day *day, int minute)
{
    double mol = 0;
    for (int m = minute + day->plan_case->min_off_min; m < PLAN_DAY_MIN; m++) {
        mol += usable_cap(day, m) * day->plan_case->lamp.full_umol * MINUTE_MOL;
    }
    return mol;
}

/* The price's level, a little longer on than off, and on where a new start would come too late. */
static double priced_level(const struct plan_core *core, const struct plan_day *day,
                           const struct plan_moment *now, double need_mol)
{
    const struct plan_case *plan_case = day->plan_case;
    const struct plan_lamp lamp = lamp_of(core, plan_case);
    const struct plan_slot here = {.dt_s = MINUTE_S,
                                   .lit_s = MINUTE_S,
                                   .price_per_kwh = day->price[now->minute],
                                   .cap = now->cap};
    const struct plan_price price = {core->answer.price * (1 + 1e-6), 1};
    const double level = plan_level_at(&lamp, &here, 0, &price);
    if (level > 0 || !(now->level > 0)) {
        return level;
    }
    const struct plan_price nearly = {price.price / HYSTERESIS, 1};
    const double longer = plan_level_at(&lamp, &here, 0, &nearly);
    const bool holds =
        plan_sky_holds(&lamp, need_mol, core->answer.pessimistic_mol,
                       reach_after_rest(day, now->minute), plan_case->slew / MINUTE_S);
    const struct plan_price any = {(double)INFINITY, 1};
    return longer > 0 || !holds
               ? longer
               : fmin(plan_level_at(&lamp, &here, 0, &any), core->curve.level[core->curve.best]);
}

/* The lamp of these years dims before it opens, unlike the daemon's, which opens at its lowest
 * level at once: the light that it still gives on its way. */
static double landing_mol(const struct plan_case *plan_case, double level, int left_min)
{
    const double fall = plan_case->slew;
    const double steps = fmin(floor((level - plan_case->lamp.min_level) / fall + 1e-9), left_min);
    return steps > 0 ? plan_case->lamp.full_umol * MINUTE_MOL *
                           (steps * level - fall * steps * (steps + 1) / 2)
                     : 0;
}

static double ask(void *self, const struct plan_day *day, const struct plan_moment *now)
{
    struct plan_core *core = self;
    const struct plan_case *plan_case = day->plan_case;
    if (core->planned_minute < 0 || now->minute - core->planned_minute >= REPLAN_MIN) {
        make_plan(core, day, now);
    }
    const double need_mol = plan_case->target_mol - now->got_mol;
    double level = need_mol > 0 ? priced_level(core, day, now, need_mol) : 0;
    if (level > 0 && now->level > 0 &&
        need_mol <= landing_mol(plan_case, now->level, PLAN_DAY_MIN - now->minute)) {
        level = 0;
    }
    clearness_step(&core->today, &core->learned, day->daylight[now->minute],
                   day->clear[now->minute], MINUTE_S, true);
    return level;
}

static void end(void *self, const struct plan_day *day, double got_mol)
{
    struct plan_core *core = self;
    (void)day;
    (void)got_mol;
    clearness_close(&core->today, &core->learned);
}

struct plan_rule plan_core_rule(const struct plan_case *plan_case, struct plan_core *core)
{
    *core = (struct plan_core){.planned_minute = -1};
    learned_init(&core->learned);
    double level[LAMPCURVE_POINTS_MAX];
    double watts[LAMPCURVE_POINTS_MAX];
    const double least = plan_case->lamp.min_level;
    for (int i = 0; i < LAMPCURVE_POINTS_MAX; i++) {
        level[i] = least + (1 - least) * i / (LAMPCURVE_POINTS_MAX - 1);
        watts[i] = year_lamp_w(&plan_case->lamp, level[i]);
    }
    level[LAMPCURVE_POINTS_MAX - 1] = 1;
    lampcurve_of(&core->curve, level, watts, LAMPCURVE_POINTS_MAX, 0);
    return (struct plan_rule){"core", begin, ask, end, core};
}
