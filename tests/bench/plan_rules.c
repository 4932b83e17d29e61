/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_rules.h"

#include <math.h>

#define MINUTE_MOL     60e-6
#define HOUR_MIN       60
#define THRESHOLD_UMOL 200.0
#define FILL_UMOL      300.0
#define CLEARNESS      0.5 /* before the first light of a day */

static void begin(void *self, const struct plan_day *day)
{
    (void)day;
    *(struct plan_rule_memory *)self = (struct plan_rule_memory){0};
}

static double still_needed(const struct plan_day *day, const struct plan_moment *now)
{
    return day->plan_case->target_mol - now->got_mol;
}

static double ask_timer(void *self, const struct plan_day *day, const struct plan_moment *now)
{
    (void)self;
    double lit_min = 0;
    double lit_until = 0;
    for (int m = 0; m < PLAN_DAY_MIN; m++) {
        lit_min += day->envelope[m];
        lit_until += m < now->minute ? day->envelope[m] : 0;
    }
    const double least = day->plan_case->lamp.min_level;
    const double need = fmax(day->plan_case->target_mol - day->month_mol, 0);
    const double level = need / (lit_min * day->plan_case->lamp.full_umol * MINUTE_MOL);
    if (level < least) { /* at the lowest level, and not all day */
        return lit_until < lit_min * level / least ? least : 0;
    }
    return fmin(level, day->envelope[now->minute]);
}

static double ask_threshold(void *self, const struct plan_day *day, const struct plan_moment *now)
{
    (void)self;
    const bool is_dim = day->daylight[now->minute] < THRESHOLD_UMOL;
    return is_dim && still_needed(day, now) > 0 ? 1 : 0;
}

static double ask_fill(void *self, const struct plan_day *day, const struct plan_moment *now)
{
    (void)self;
    const double level = (FILL_UMOL - day->daylight[now->minute]) / day->plan_case->lamp.full_umol;
    return still_needed(day, now) > 0 ? fmin(fmax(level, 0), 1) : 0;
}

/* The hours that are left, by whether they cost as much as the dearest of the day. */
struct hours {
    double usual, peak;
};

static struct hours hours_left(const struct plan_day *day, int from)
{
    double dearest = 0;
    double cheapest = (double)INFINITY;
    for (int m = 0; m < PLAN_DAY_MIN; m++) {
        dearest = fmax(dearest, day->price[m]);
        cheapest = fmin(cheapest, day->price[m]);
    }
    struct hours hours = {0, 0};
    for (int m = from; m < PLAN_DAY_MIN; m++) {
        const bool is_peak = day->price[m] > 0.5 * (dearest + cheapest);
        *(is_peak ? &hours.peak : &hours.usual) += day->envelope[m] / HOUR_MIN;
    }
    return hours;
}

static bool hour_is_lit(const struct plan_rule_memory *memory, const struct plan_day *day,
                        const struct plan_moment *now)
{
    double clear_mol = 0;
    for (int m = now->minute; m < PLAN_DAY_MIN; m++) {
        clear_mol += day->clear[m] * MINUTE_MOL;
    }
    const double clearness =
        memory->clear_mol > 0 ? fmin(memory->daylight_mol / memory->clear_mol, 1) : CLEARNESS;
    const double need = still_needed(day, now) - clearness * clear_mol;
    const double need_hours = need / (day->plan_case->lamp.full_umol * HOUR_MIN * MINUTE_MOL);
    const struct hours later = hours_left(
        day, now->minute + HOUR_MIN < PLAN_DAY_MIN ? now->minute + HOUR_MIN : PLAN_DAY_MIN);
    const struct hours here = hours_left(day, now->minute);
    const bool is_peak = here.peak - later.peak > here.usual - later.usual;
    return need_hours > 0 && (!is_peak || need_hours > later.usual);
}

static double ask_hourly(void *self, const struct plan_day *day, const struct plan_moment *now)
{
    struct plan_rule_memory *memory = self;
    if (now->minute % HOUR_MIN == 0) {
        memory->is_on = hour_is_lit(memory, day, now);
    }
    memory->daylight_mol += day->daylight[now->minute] * MINUTE_MOL;
    memory->clear_mol += day->clear[now->minute] * MINUTE_MOL;
    return memory->is_on && still_needed(day, now) > 0 ? 1 : 0;
}

struct plan_rule plan_rule_make(enum plan_rule_kind kind, struct plan_rule_memory *memory)
{
    static const struct plan_rule rules[PLAN_RULES] = {
        [PLAN_RULE_TIMER] = {"timer", begin, ask_timer, NULL, NULL},
        [PLAN_RULE_THRESHOLD] = {"threshold", begin, ask_threshold, NULL, NULL},
        [PLAN_RULE_FILL] = {"fill", begin, ask_fill, NULL, NULL},
        [PLAN_RULE_HOURLY] = {"hourly", begin, ask_hourly, NULL, NULL},
    };
    struct plan_rule rule = rules[kind];
    rule.self = memory;
    return rule;
}
