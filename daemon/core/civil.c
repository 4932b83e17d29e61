/* SPDX-License-Identifier: Apache-2.0 */
/* Dates by the method of Howard Hinnant, "chrono-compatible low-level date algorithms" (2013):
 * years begin in March, so that the leap day is their last, and 400 of them are an era. */
#include "civil.h"

enum { DAY_S = 86400, ERA_DAYS = 146097, ERA_TO_1970_DAYS = 719468 };

static int64_t floor_div(int64_t value, int64_t by)
{
    return value / by - (value % by < 0);
}

/* How many changes have come by then. */
static int changes_until(const struct civil *civil, int64_t wall_s)
{
    int low = 0;
    int high = civil->count;
    while (low < high) {
        int middle = low + (high - low) / 2;
        if (civil->changes[middle].from_s <= wall_s) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

int32_t civil_offset(const struct civil *civil, int64_t wall_s)
{
    int come = changes_until(civil, wall_s);
    return come > 0 ? civil->changes[come - 1].offset_s : civil->offset_s;
}

int64_t civil_next_change(const struct civil *civil, int64_t wall_s)
{
    int come = changes_until(civil, wall_s);
    return come < civil->count ? civil->changes[come].from_s : INT64_MAX;
}

struct civil_time civil_time(const struct civil *civil, int64_t wall_s)
{
    int64_t shown_s = wall_s + civil_offset(civil, wall_s);
    int64_t day = floor_div(shown_s, DAY_S);
    int64_t shifted = day + ERA_TO_1970_DAYS;
    int64_t era = floor_div(shifted, ERA_DAYS);
    int64_t of_era = shifted - era * ERA_DAYS;
    int64_t year = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    int64_t of_year = of_era - (365 * year + year / 4 - year / 100);
    int64_t month = (5 * of_year + 2) / 153; /* 0 March … 11 February */
    return (struct civil_time){
        .month = (int)(month < 10 ? month + 3 : month - 9),
        .day = (int)(of_year - (153 * month + 2) / 5 + 1),
        .weekday = (int)(day + 3 - 7 * floor_div(day + 3, 7)), /* 1970-01-01 was a Thursday */
        .second = (int)(shown_s - day * DAY_S),
        .year = (int32_t)(year + era * 400 + (month >= 10)),
    };
}

int64_t civil_day_start(const struct civil *civil, int64_t wall_s)
{
    int32_t offset_s = civil_offset(civil, wall_s);
    int64_t midnight_s = floor_div(wall_s + offset_s, DAY_S) * DAY_S;
    return midnight_s - civil_offset(civil, midnight_s - offset_s);
}

int64_t civil_day(int32_t year, int month, int day)
{
    int64_t shifted = (int64_t)year - (month <= 2);
    int64_t era = floor_div(shifted, 400);
    int64_t of_era = shifted - era * 400;
    int64_t of_year = (153 * (month > 2 ? month - 3 : month + 9) + 2) / 5 + day - 1;
    return era * ERA_DAYS + of_era * 365 + of_era / 4 - of_era / 100 + of_year - ERA_TO_1970_DAYS;
}
