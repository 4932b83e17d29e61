/* SPDX-License-Identifier: Apache-2.0 */
#include "tariff.h"

#include "units.h"

enum { DAY_S = 86400 };

/* The last row that has begun; −1: none. */
static int series_row(const struct tariff *tariff, int64_t wall_s)
{
    int low = 0;
    int high = tariff->series_count;
    while (low < high) {
        int middle = low + (high - low) / 2;
        if (tariff->series[middle].from_s <= wall_s) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low - 1;
}

static bool row_holds(const struct tariff *tariff, int row, int64_t wall_s)
{
    return row >= 0 && wall_s < tariff->series_end_s &&
           units_known(tariff->series[row].price_per_kwh);
}

static bool rule_fits(const struct tariff_rule *rule, const struct civil_time *time)
{
    int month = time->month - 1;
    int weekday = time->weekday;
    bool is_within = time->second >= rule->from_s;
    if (rule->from_s < rule->to_s) {
        is_within = is_within && time->second < rule->to_s;
    } else if (!is_within && time->second < rule->to_s) {
        is_within = true; /* began yesterday */
        month = time->day == 1 ? (month + 11) % 12 : month;
        weekday = (weekday + 6) % 7;
    }
    return is_within && (rule->weekdays >> weekday & 1) && (rule->months >> month & 1);
}

double tariff_rule_price(const struct tariff *tariff, const struct civil_time *time)
{
    for (int i = 0; i < tariff->rule_count; i++) {
        if (rule_fits(&tariff->rules[i], time)) {
            return tariff->rules[i].price_per_kwh;
        }
    }
    return tariff->price_per_kwh;
}

double tariff_price(const struct tariff *tariff, int64_t wall_s)
{
    int row = series_row(tariff, wall_s);
    if (row_holds(tariff, row, wall_s)) {
        return tariff->series[row].price_per_kwh + tariff->series_extra_per_kwh;
    }
    if (tariff->rule_count == 0) {
        return tariff->price_per_kwh;
    }
    const struct civil_time time = civil_time(&tariff->civil, wall_s);
    return tariff_rule_price(tariff, &time);
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* The next time that the clock shows second_s, if it is not changed before. */
static int64_t next_shown(int second, int32_t second_s, int64_t wall_s)
{
    int32_t left_s = (second_s - second + DAY_S) % DAY_S;
    return wall_s + (left_s > 0 ? left_s : DAY_S);
}

int64_t tariff_next_change(const struct tariff *tariff, int64_t wall_s, int64_t until_s)
{
    int row = series_row(tariff, wall_s);
    int64_t next_s = until_s;
    if (row + 1 < tariff->series_count) {
        next_s = earlier(next_s, tariff->series[row + 1].from_s);
    } else if (row >= 0 && wall_s < tariff->series_end_s) {
        next_s = earlier(next_s, tariff->series_end_s);
    }
    if (row_holds(tariff, row, wall_s) || tariff->rule_count == 0) {
        return next_s;
    }
    next_s = earlier(next_s, civil_next_change(&tariff->civil, wall_s));
    int second = civil_time(&tariff->civil, wall_s).second;
    for (int i = 0; i < tariff->rule_count; i++) {
        next_s = earlier(next_s, next_shown(second, tariff->rules[i].from_s, wall_s));
        next_s = earlier(next_s, next_shown(second, tariff->rules[i].to_s, wall_s));
    }
    return next_s;
}

bool tariff_misses_series(const struct tariff *tariff, int64_t wall_s)
{
    return tariff->series_count > 0 && !row_holds(tariff, series_row(tariff, wall_s), wall_s);
}
