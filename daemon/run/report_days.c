/* SPDX-License-Identifier: Apache-2.0 */
/* Gathering days, and what some of them come to. */
#include "report_days.h"

#include "civil.h"
#include "err.h"
#include "parse.h"
#include "report.h"
#include "report_nights.h"
#include "report_parts.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* The days as they come. */
struct gathering {
    struct report_days *report;
    int room;
    bool only_closed; /* and none of them is an answer, too */
};

static int keep(const struct journal_day *day, void *context)
{
    struct gathering *its = context;
    struct report_days *report = its->report;
    if (its->only_closed && !day->is_closed) {
        return 0;
    }
    if (report->count == its->room) {
        const int room = its->room ? 2 * its->room : 32;
        struct journal_day *days = realloc(report->days, (size_t)room * sizeof *days);
        if (!days) {
            return -ENOMEM;
        }
        report->days = days;
        its->room = room;
    }
    report->days[report->count++] = *day;
    return 0;
}

static int gather(struct journal_reader *reader, const struct journal_range *range,
                  bool only_closed, struct report_days **ret, struct err *err)
{
    struct report_days *report = calloc(1, sizeof *report);
    if (!report) {
        return err_fail(err, ENOMEM, "no memory for the report");
    }
    struct gathering its = {.report = report, .only_closed = only_closed};
    (void)snprintf(report->space, sizeof report->space, "%s", range->space);
    int result = journal_read_days(reader, range, keep, &its, err);
    if (result == -ENOMEM) {
        (void)err_fail(err, ENOMEM, "no memory for the report");
    }
    if (result != 0 || (report->count == 0 && !only_closed)) {
        report_days_destroy(report);
        return result;
    }
    *ret = report;
    return 1;
}

static int none_stored(struct journal_reader *reader, const char *space, int64_t first,
                       int64_t last, struct err *err)
{
    int64_t stored_first = 0;
    int64_t stored_last = 0;
    char dates[4][16];
    int result = journal_read_day_range(reader, space, &stored_first, &stored_last, err);
    if (result != 0) {
        return result;
    }
    parse_format_date(first, dates[0], sizeof dates[0]);
    parse_format_date(last, dates[1], sizeof dates[1]);
    parse_format_date(stored_first, dates[2], sizeof dates[2]);
    parse_format_date(stored_last, dates[3], sizeof dates[3]);
    return err_fail(err, ENOENT,
                    "no light day of space %s is stored from %s to %s (days stored: %s to %s)",
                    space, dates[0], dates[1], dates[2], dates[3]);
}

int report_days_create(struct journal_reader *reader, const char *space, int64_t first,
                       int64_t last, struct report_days **ret, struct err *err)
{
    const struct journal_range range = {space, first, last + 1};
    const int result = gather(reader, &range, false, ret, err);
    if (result != 0) {
        return result < 0 ? result : 0;
    }
    return none_stored(reader, space, first, last, err);
}

static int keep_last_closed(const struct journal_day *day, void *context)
{
    if (day->is_closed) {
        *(int64_t *)context = day->summary.light_day;
    }
    return 0;
}

int report_days_newest(struct journal_reader *reader, const char *space, int dates,
                       bool only_closed, struct report_days **ret, struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    int result = journal_read_day_range(reader, space, &first, &last, err);
    if (result == 0 && only_closed) {
        const struct journal_range range = {space, last - dates, last + 1};
        last = range.from; /* none of so many: the answer is none */
        result = journal_read_days(reader, &range, keep_last_closed, &last, err);
    }
    if (result != 0) {
        return result;
    }
    const struct journal_range range = {space, last - dates + 1, last + 1};
    result = gather(reader, &range, only_closed, ret, err);
    return result < 0 ? result : 0;
}

void report_days_destroy(struct report_days *report)
{
    if (report) {
        free(report->days);
        free(report);
    }
}

/* Days since the Monday of the week. Day 0 was a Thursday. */
static int weekday(int64_t day)
{
    return (int)(((day + 3) % 7 + 7) % 7);
}

/* A week belongs to the year that holds its Thursday (ISO 8601). */
void report_week(int64_t light_day, char *buffer, unsigned size)
{
    const struct civil utc = {0};
    const int64_t thursday = light_day - weekday(light_day) + 3;
    const int32_t year = civil_time(&utc, thursday * UNITS_S_PER_DAY).year;
    const int week = (int)((thursday - civil_day(year, 1, 1)) / 7) + 1;
    (void)snprintf(buffer, size, "%04d-W%02d", (int)year % 10000, week);
}

int report_days_week_end(const struct report_days *report, int first)
{
    const int64_t day = report->days[first].summary.light_day;
    const int64_t monday = day - weekday(day) + 7;
    int end = first + 1;
    while (end < report->count && report->days[end].summary.light_day < monday) {
        end++;
    }
    return end;
}

int report_days_stage_end(const struct report_days *report, int first)
{
    int end = first + 1;
    while (end < report->count && strcmp(report->days[end].stage, report->days[first].stage) == 0) {
        end++;
    }
    return end;
}

bool report_is_met(const struct journal_day *day)
{
    return account_missing_mol(&day->summary.account) < ACCOUNT_SHORT_MOL;
}

enum limiter report_why(const struct journal_day *day)
{
    const double *missing_mol = day->summary.account.missing_mol;
    unsigned most = LIMITER_COUNT;
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (missing_mol[i] > 0 && (most == LIMITER_COUNT || missing_mol[i] > missing_mol[most])) {
            most = i;
        }
    }
    return report_is_met(day) ? LIMITER_COUNT : (enum limiter)most;
}

const char *report_night_word(const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    const struct integral *integral = &summary->integral;
    const double all_s = integral->measured_s + integral->bridged_s + integral->lost_s;
    if (summary->night_breaks > 0) {
        return "broken";
    }
    if (summary->night_possible_umol_m2 >= NIGHT_POSSIBLE_UMOL_M2) {
        return "possible";
    }
    if (!day->stage[0]) {
        return "none";
    }
    if (!(integral->measured_s >= NIGHT_SEEN_SHARE * all_s) || !(all_s > 0)) {
        return "unseen";
    }
    return integral->daylight_mol >= NIGHT_SKY_MOL ? "unlit" : "dark";
}

static void add_bound(struct report_sum *sum, const struct day_summary *summary)
{
    if (units_known(summary->lamp_cost) && units_known(summary->bound_cost)) {
        sum->bound_days++;
        sum->bound_lamp_cost += summary->lamp_cost;
        sum->bound_cost += summary->bound_cost;
    }
}

static void add(struct report_sum *sum, const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    const bool has_target = summary->account.target_mol > 0;
    const char *night = report_night_word(day);
    if (sum->days++ == 0) {
        sum->first = summary->light_day;
        sum->currency = day->currency;
    }
    sum->last = summary->light_day;
    sum->with_target += has_target;
    sum->met += has_target && report_is_met(day);
    sum->target_mol += report_finite(summary->account.target_mol);
    sum->delivered_mol += report_finite(summary->account.delivered_mol);
    sum->lamp_mol += report_finite(summary->integral.lamp_mol);
    sum->daylight_mol += report_finite(summary->integral.daylight_mol);
    sum->missing_mol += report_finite(account_missing_mol(&summary->account));
    sum->energy_kwh += report_finite(summary->energy_kwh);
    sum->cost += report_finite(summary->cost);
    if (report_is_met(day)) {
        add_bound(sum, summary); /* light that is missing is no saving */
    }
    if (sum->currency && strcmp(sum->currency, day->currency) != 0) {
        sum->currency = NULL;
    }
    sum->heat_trips += summary->heat_trips;
    sum->driver_trips += summary->driver_trips;
    sum->nights_broken += strcmp(night, "broken") == 0;
    sum->nights_possible += strcmp(night, "possible") == 0;
    sum->nights_unseen += strcmp(night, "unseen") == 0;
}

struct report_sum report_days_sum(const struct report_days *report, int first, int end)
{
    struct report_sum sum = {.first = 0, .last = -1, .currency = NULL};
    for (int i = first; i < end; i++) {
        if (report->days[i].is_closed && report->days[i].stage[0]) {
            add(&sum, &report->days[i]);
        }
    }
    return sum;
}
