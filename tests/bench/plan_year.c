/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_year.h"

#include <math.h>
#include <string.h>
#include <time.h>

#define MINUTE_MOL   60e-6 /* mol of 1 µmol m⁻² s⁻¹ in a minute */
#define MISSED_SHARE 0.98
#define YEAR_DAYS    365
#define INDOOR_DAY   19723 /* 2024-01-01 */

struct plan_case plan_case_usual(void)
{
    return (struct plan_case){
        .lamp = {300, 2.5, 0.02, 0.83, 0.15, 0.1},
        .target_mol = 17,
        .ceiling_umol = 1000,
        .transmission = 0.6,
        .clear_scale = 1,
        .window_begin_min = 4 * 60,
        .window_end_min = 22 * 60,
        .ramp_min = 15,
        .begin_min = 6 * 60,
        .min_on_min = 10,
        .min_off_min = 10,
        .slew = 0.1,
        .tariff = PLAN_TARIFF_TOU,
    };
}

const char *plan_tariff_name(enum plan_tariff tariff)
{
    static const char *const names[PLAN_TARIFFS] = {"tou", "flat", "spot"};
    return (unsigned)tariff < PLAN_TARIFFS ? names[tariff] : "unknown";
}

static double tou_price(int hour)
{
    if (hour >= 22 || hour < 6) {
        return 0.10;
    }
    return hour >= 16 && hour < 20 ? 0.28 : 0.16;
}

/* splitmix64: the same number for the same hour on every machine. */
static double uniform_of(uint64_t x)
{
    x += 0x9e3779b97f4a7c15u;
    x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
    x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
    return (double)((x ^ (x >> 31)) >> 11) * 0x1p-53;
}

/* Invented: a morning and an evening peak, days and hours that differ, and about one sunny noon
 * hour in thirty that costs less than nothing. A fixed fee for the grid is in it. */
static double spot_price(int64_t day, int hour)
{
    static const double shape[24] = {0.09, 0.08, 0.08, 0.08, 0.08, 0.10, 0.14, 0.18,
                                     0.19, 0.16, 0.13, 0.11, 0.10, 0.10, 0.11, 0.13,
                                     0.17, 0.22, 0.24, 0.21, 0.17, 0.14, 0.12, 0.10};
    const double of_day = uniform_of((uint64_t)day);
    const double of_hour = uniform_of((uint64_t)(day * 24 + hour) + 1000003u);
    double price = shape[hour] * (0.55 + 0.9 * of_day) + 0.04 * (of_hour - 0.5);
    if (of_day < 0.15 && hour >= 11 && hour < 16) {
        price -= 0.10; /* wind and sun together */
    }
    return round(price * 1e4) / 1e4;
}

double plan_tariff_price(enum plan_tariff tariff, int64_t local_min)
{
    const int64_t day = local_min / PLAN_DAY_MIN;
    const int hour = (int)(local_min % PLAN_DAY_MIN / 60);
    switch (tariff) {
    case PLAN_TARIFF_TOU:
        return tou_price(hour);
    case PLAN_TARIFF_SPOT:
        return spot_price(day, hour);
    case PLAN_TARIFF_FLAT:
    case PLAN_TARIFFS:
        break;
    }
    return 0.16;
}

static int month_of(int64_t local_min)
{
    const time_t seconds = (time_t)(local_min * 60);
    struct tm civil;
    return gmtime_r(&seconds, &civil) ? civil.tm_mon + 1 : 1;
}

static double envelope_at(const struct plan_case *plan_case, int local_minute)
{
    const double since = local_minute + 0.5 - plan_case->window_begin_min;
    const double until = plan_case->window_end_min - local_minute - 0.5;
    if (since < 0 || until < 0) {
        return 0;
    }
    return plan_case->ramp_min > 0 ? fmin(fmin(since, until) / plan_case->ramp_min, 1) : 1;
}

struct year {
    const struct plan_site *site;
    const struct plan_case *plan_case;
    int64_t first_min; /* local, of the first light day */
    int days;
    double month_mol[13];
    double daylight[PLAN_DAY_MIN]; /* the whole of the day at hand, unlike the rule's */
    double level;
    int since_min;
};

static double daylight_at(const struct year *year, int64_t index)
{
    return year->site ? year->plan_case->transmission * PLAN_UMOL_PER_J * year->site->ghi[index]
                      : 0;
}

static int64_t index_of(const struct year *year, int day)
{
    return (int64_t)day * PLAN_DAY_MIN + year->plan_case->begin_min;
}

static void mean_months(struct year *year)
{
    int days[13] = {0};
    for (int day = 0; day < year->days && year->site; day++) {
        const int month = month_of(year->first_min + (int64_t)day * PLAN_DAY_MIN);
        days[month]++;
        for (int m = 0; m < PLAN_DAY_MIN; m++) {
            year->month_mol[month] += daylight_at(year, index_of(year, day) + m) * MINUTE_MOL;
        }
    }
    for (int month = 1; month <= 12; month++) {
        year->month_mol[month] /= fmax(days[month], 1);
    }
}

/* Returns whether the day counts. */
static bool lay_day(struct year *year, int number, struct plan_day *day)
{
    const struct plan_case *plan_case = year->plan_case;
    const int64_t local = year->first_min + (int64_t)number * PLAN_DAY_MIN;
    const int64_t index = index_of(year, number);
    bool counts = number > 0;
    day->plan_case = plan_case;
    day->month = month_of(local);
    day->month_mol = year->month_mol[day->month];
    for (int m = 0; m < PLAN_DAY_MIN; m++) {
        year->daylight[m] = daylight_at(year, index + m);
        day->daylight[m] = (double)NAN;
        day->clear[m] = year->site ? plan_case->clear_scale * plan_case->transmission *
                                         PLAN_UMOL_PER_J * year->site->clear[index + m]
                                   : 0;
        day->price[m] = plan_tariff_price(plan_case->tariff, local + m);
        day->envelope[m] = envelope_at(plan_case, (int)((local + m) % PLAN_DAY_MIN));
        counts = counts && !(year->site && year->site->is_bad[index + m]);
    }
    return counts;
}

struct limits {
    double low[PLAN_DAY_MIN], cap[PLAN_DAY_MIN];
    double natural_mol;
};

static void lay_limits(const struct year *year, const struct plan_day *day, struct limits *limits)
{
    const struct plan_case *plan_case = year->plan_case;
    const double full = plan_case->lamp.full_umol;
    limits->natural_mol = 0;
    for (int m = 0; m < PLAN_DAY_MIN; m++) {
        const double natural = year->daylight[m];
        const double cap = fmin(day->envelope[m], (plan_case->ceiling_umol - natural) / full);
        limits->cap[m] = cap < plan_case->lamp.min_level ? 0 : cap;
        const double low = fmax((plan_case->floor_umol - natural) / full, 0);
        limits->low[m] = limits->cap[m] > 0 && plan_case->floor_umol > 0 ? low : 0;
        limits->natural_mol += natural * MINUTE_MOL;
    }
}

/* What the lamp does with a wish; counts a start. */
static void move_lamp(struct year *year, double want, double cap, double *starts)
{
    const struct plan_case *plan_case = year->plan_case;
    const double least = plan_case->lamp.min_level;
    const bool was_on = year->level > 0;
    const bool may_turn =
        year->since_min >= (was_on ? plan_case->min_on_min : plan_case->min_off_min);
    double level = fmin(want, cap);
    if (level < least) {
        level = cap >= least && was_on && !may_turn ? least : 0;
    } else if (!was_on && !may_turn) {
        level = 0;
    }
    const bool is_on = level > 0;
    if (is_on && !was_on) {
        level = least;
        *starts += 1;
    } else if (is_on) {
        level = fmin(fmin(level, year->level + plan_case->slew), cap);
        level = fmax(level, fmin(year->level - plan_case->slew, cap));
    } else if (was_on && cap >= least && year->level > least + 1e-9) {
        level = fmin(fmax(year->level - plan_case->slew, least), cap); /* dims before it opens */
    }
    year->since_min = (level > 0) == was_on ? year->since_min + 1 : 1;
    year->level = level;
}

struct outcome {
    double cost, lamp_mol, got_mol, starts;
};

static struct outcome run_day(struct year *year, struct plan_day *day, const struct limits *limits,
                              const struct plan_rule *rule)
{
    const struct year_lamp *lamp = &year->plan_case->lamp;
    struct outcome outcome = {0, 0, 0, 0};
    rule->begin(rule->self, day);
    for (int m = 0; m < PLAN_DAY_MIN; m++) {
        day->daylight[m] = year->daylight[m];
        const struct plan_moment now = {
            m, outcome.got_mol, year->level, limits->low[m], limits->cap[m], year->since_min};
        const double least = now.low > 0 ? fmax(now.low, lamp->min_level) : 0;
        const double want = fmax(rule->ask(rule->self, day, &now), least);
        move_lamp(year, want, now.cap, &outcome.starts);
        const double mol = year->level * lamp->full_umol * MINUTE_MOL;
        outcome.cost += year_lamp_minute_cost(lamp, year->level, day->price[m]);
        outcome.lamp_mol += mol;
        outcome.got_mol += mol + day->daylight[m] * MINUTE_MOL;
    }
    if (rule->end) {
        rule->end(rule->self, day, outcome.got_mol);
    }
    return outcome;
}

static struct plan_day_bound bound_day(const struct year *year, const struct plan_day *day,
                                       const struct limits *limits, bool counts)
{
    const double need = year->plan_case->target_mol - limits->natural_mol;
    const bool has_floor = year->plan_case->floor_umol > 0;
    struct plan_day_bound hindsight = {counts, need > 0,
                                       year_lamp_bound(&year->plan_case->lamp, PLAN_DAY_MIN,
                                                       day->price, has_floor ? limits->low : NULL,
                                                       limits->cap, need)};
    if (!hindsight.needs && !has_floor) {
        hindsight.bound.cost = 0;
    }
    return hindsight;
}

static void count_day(const struct plan_day_bound *hindsight, const struct outcome *outcome,
                      double target_mol, struct plan_result *result)
{
    result->days++;
    result->cost += outcome->cost;
    result->lamp_mol += outcome->lamp_mol;
    result->starts += outcome->starts;
    result->bound += hindsight->bound.cost;
    result->needing += hindsight->needs;
    result->infeasible += hindsight->needs && !hindsight->bound.is_feasible;
    result->surplus_mol += fmin(fmax(outcome->got_mol - target_mol, 0), outcome->lamp_mol);
    if (hindsight->needs && hindsight->bound.is_feasible) {
        result->missed += outcome->got_mol < MISSED_SHARE * target_mol;
        result->short_mol += fmax(target_mol - outcome->got_mol, 0);
    }
}

static struct year open_year(const struct plan_site *site, const struct plan_case *plan_case)
{
    struct year year = {.site = site, .plan_case = plan_case, .since_min = PLAN_DAY_MIN};
    year.days = site ? site->days - (plan_case->begin_min > 0) : YEAR_DAYS;
    year.first_min =
        (site ? site->first_day : INDOOR_DAY) * (int64_t)PLAN_DAY_MIN + plan_case->begin_min;
    mean_months(&year);
    return year;
}

int plan_year_bounds(const struct plan_site *site, const struct plan_case *plan_case,
                     struct plan_day_bound *ret, int most)
{
    struct year year = open_year(site, plan_case);
    const int days = year.days < most ? year.days : most;
    for (int number = 0; number < days; number++) {
        struct plan_day day;
        struct limits limits;
        const bool counts = lay_day(&year, number, &day);
        lay_limits(&year, &day, &limits);
        ret[number] = bound_day(&year, &day, &limits, counts);
    }
    return days;
}

struct plan_result plan_year_run(const struct plan_site *site, const struct plan_case *plan_case,
                                 const struct plan_rule *rule)
{
    struct year year = open_year(site, plan_case);
    struct plan_result result = {0};
    for (int number = 0; number < year.days; number++) {
        struct plan_day day;
        struct limits limits;
        const bool counts = lay_day(&year, number, &day);
        lay_limits(&year, &day, &limits);
        const struct outcome outcome = run_day(&year, &day, &limits, rule);
        if (counts) {
            const struct plan_day_bound hindsight = bound_day(&year, &day, &limits, counts);
            count_day(&hindsight, &outcome, plan_case->target_mol, &result);
        }
    }
    result.starts /= fmax(result.days, 1);
    return result;
}
