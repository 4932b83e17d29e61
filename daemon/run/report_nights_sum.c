/* SPDX-License-Identifier: Apache-2.0 */
/* What nights came to: by the guard's own counters where the minutes have them, else by the sums of
 * their light days; and nights of which those sums alone are left. */
#include "report_nights_parts.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>

#define LIGHT_DAYS_MAX 2 /* that a night can reach into, beside the one in which it begins */

static int compare_nights(const void *a, const void *b)
{
    const struct night *left = a;
    const struct night *right = b;
    return (left->from_s > right->from_s) - (left->from_s < right->from_s);
}

int report_nights_summaries(struct report_nights *report, const struct night_days *days,
                            int64_t first)
{
    const int64_t oldest = report->count > 0 ? report->nights[0].light_day : INT64_MAX;
    const int known = report->count;
    for (int i = 0; i + 1 < days->count; i++) {
        const struct night_day *day = &days->days[i];
        const struct night_day *next = &days->days[i + 1];
        const bool is_told = day->has_stage && day->lights_off_s > 0 &&
                             next->lights_on_s > day->lights_off_s &&
                             next->lights_on_s - day->lights_off_s < UNITS_S_PER_DAY;
        if (day->light_day < first || day->light_day >= oldest || !is_told) {
            continue;
        }
        const struct night night = {.light_day = day->light_day,
                                    .last_day = next->light_day,
                                    .from_s = day->lights_off_s,
                                    .to_s = next->lights_on_s,
                                    .open_from_s = day->lights_off_s,
                                    .open_to_s = next->lights_on_s,
                                    .is_from_seen = true,
                                    .is_to_seen = true,
                                    .is_summary = true};
        if (!report_nights_add(report, &night)) {
            return -ENOMEM;
        }
    }
    if (report->count > known) { /* the older ones to the front */
        qsort(report->nights, (size_t)report->count, sizeof *report->nights, compare_nights);
    }
    return 0;
}

/* Whether another night has a part of that light day too: then its sums are not one night's. */
static bool is_shared(const struct report_nights *report, int index, int64_t light_day)
{
    const bool before = index > 0 && report->nights[index - 1].last_day >= light_day;
    const bool behind =
        index + 1 < report->count && report->nights[index + 1].light_day <= light_day;
    return before || behind;
}

/* What the sum of a light day says of one of its nights: nothing, where another has a part of it.
 */
static double share(double sum, bool is_shared_day)
{
    return is_shared_day && sum > 0 ? UNITS_NONE : sum;
}

/* By the sums of its light days, as far as they are this night's alone. */
static void sum_by_days(const struct report_nights *report, const struct night_days *days,
                        int index)
{
    struct night *night = &report->nights[index];
    for (int64_t d = night->light_day; d <= night->last_day; d++) {
        const struct night_day *day = night_days_find(days, d);
        const bool is_shared_day = is_shared(report, index, d);
        if (!day) {
            night->dose_umol_m2 = night->longest_s = night->possible_umol_m2 = UNITS_NONE;
            continue;
        }
        const double longest_s = share(day->longest_s, is_shared_day);
        night->under_sky = night->under_sky || day->daylight_mol >= NIGHT_SKY_MOL;
        night->most_umol_m2 += day->dose_umol_m2;
        night->dose_umol_m2 += share(day->dose_umol_m2, is_shared_day);
        night->possible_umol_m2 += share(day->possible_umol_m2, is_shared_day);
        night->longest_s = units_known(longest_s) && units_known(night->longest_s)
                               ? fmax(night->longest_s, longest_s)
                               : UNITS_NONE;
    }
}

void report_nights_sum(const struct report_nights *report, const struct night_days *days, int index)
{
    struct night *night = &report->nights[index];
    if (night->last_day - night->light_day > LIGHT_DAYS_MAX) { /* the record is damaged */
        night->dose_umol_m2 = night->longest_s = night->possible_umol_m2 = UNITS_NONE;
        return;
    }
    sum_by_days(report, days, index);
    if (night->guarded_s > 0 && night->guarded_s >= night->recorded_s) { /* it knows best */
        night->dose_umol_m2 = night->most_umol_m2 = night->guard_dose_umol_m2;
        night->longest_s = night->guard_longest_s;
        night->possible_umol_m2 = night->guard_possible_umol_m2;
    }
}

void report_nights_keep(struct report_nights *report, int64_t first, int64_t last)
{
    int count = 0;
    for (int i = 0; i < report->count; i++) {
        if (report->nights[i].light_day >= first && report->nights[i].light_day <= last) {
            report->nights[count++] = report->nights[i];
        }
    }
    report->count = count;
}
