/* SPDX-License-Identifier: Apache-2.0 */
#include "daylight.h"

#include "err.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>

#define HOLD_STEPS   4
#define HOLD_LEAST_S 3600
#define HOLD_DARK_S  86400 /* files leave nights out */

static const struct timeseries_form form = {
    .name = "ppfd_umol", .low = 0, .high = 4000, .bytes_max = 64U << 20};

/* At least half of the steps are no longer. A single row has none: 0. */
static int64_t usual_step_s(const struct timeseries *rows)
{
    int64_t low = 0;
    int64_t high = rows->wall_s[rows->count - 1] - rows->wall_s[0];
    while (low < high) {
        const int64_t middle = low + (high - low) / 2;
        size_t shorter = 0;
        for (size_t i = 1; i < rows->count; i++) {
            shorter += rows->wall_s[i] - rows->wall_s[i - 1] <= middle;
        }
        if (2 * shorter >= rows->count - 1) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    return low;
}

int daylight_load(const char *path, struct daylight *ret, struct err *err)
{
    struct timeseries rows;
    const int rc = timeseries_load(path, &form, &rows, err);
    if (rc < 0) {
        return rc;
    }
    if (rows.count == 0) {
        timeseries_free(&rows);
        return err_fail(err, EINVAL, "%s: no rows of daylight", path);
    }
    const int64_t hold_s = HOLD_STEPS * usual_step_s(&rows);
    *ret = (struct daylight){.rows = rows, .hold_s = hold_s > HOLD_LEAST_S ? hold_s : HOLD_LEAST_S};
    return 0;
}

void daylight_free(struct daylight *daylight)
{
    timeseries_free(&daylight->rows);
    daylight->at = 0;
}

/* Without regard to the next row. */
static int64_t holds_to_s(const struct daylight *daylight, size_t row)
{
    const bool is_dark = daylight->rows.value[row] <= 0 && daylight->hold_s < HOLD_DARK_S;
    return daylight->rows.wall_s[row] + (is_dark ? HOLD_DARK_S : daylight->hold_s);
}

double daylight_umol(struct daylight *daylight, int64_t wall_s)
{
    const struct timeseries *rows = &daylight->rows;
    if (rows->count == 0 || wall_s < rows->wall_s[0]) {
        return UNITS_NONE;
    }
    if (wall_s < rows->wall_s[daylight->at]) {
        daylight->at = 0;
    }
    while (daylight->at + 1 < rows->count && rows->wall_s[daylight->at + 1] <= wall_s) {
        daylight->at++;
    }
    return wall_s < holds_to_s(daylight, daylight->at) ? rows->value[daylight->at] : UNITS_NONE;
}

/* Rows are gone through once, whatever they hold. */
bool daylight_gap(const struct daylight *daylight, int64_t from_s, int64_t to_s,
                  struct daylight_gap *ret)
{
    const struct timeseries *rows = &daylight->rows;
    struct daylight_gap gap = {.from_s = from_s, .after_s = INT64_MIN};
    for (size_t row = 0; row <= rows->count && gap.from_s < to_s; row++) {
        gap.before_s = row < rows->count ? rows->wall_s[row] : INT64_MAX;
        if (gap.from_s < gap.before_s) {
            gap.to_s = gap.before_s < to_s ? gap.before_s : to_s;
            *ret = gap;
            return true;
        }
        if (row < rows->count) {
            const int64_t end_s = holds_to_s(daylight, row);
            gap.after_s = rows->wall_s[row];
            gap.from_s = end_s > from_s ? end_s : from_s;
        }
    }
    return false;
}

void daylight_words_gap(const char *path, const struct daylight_gap *gap,
                        const struct lightday_rules *rules, char *buffer, size_t size)
{
    char after[32];
    char before[32];
    char dark[32];
    char day[16];
    const bool has_begun = gap->after_s != INT64_MIN;
    const bool goes_on = gap->before_s != INT64_MAX;
    parse_format_datetime(has_begun ? gap->after_s : 0, rules->utc_offset_s, after, sizeof after);
    parse_format_datetime(goes_on ? gap->before_s : 0, rules->utc_offset_s, before, sizeof before);
    parse_format_datetime(gap->from_s, rules->utc_offset_s, dark, sizeof dark);
    parse_format_date(lightday_of(rules, gap->from_s), day, sizeof day);
    if (!goes_on) {
        (void)snprintf(buffer, size,
                       "%s ends at %s: it is dark outside from %s on, first in light day %s", path,
                       after, dark, day);
    } else if (!has_begun) {
        (void)snprintf(buffer, size,
                       "%s begins at %s: it is dark outside until then, first in light day %s",
                       path, before, day);
    } else {
        (void)snprintf(buffer, size,
                       "%s has no row between %s and %s: it is dark outside from %s until then, "
                       "first in light day %s",
                       path, after, before, dark, day);
    }
}
