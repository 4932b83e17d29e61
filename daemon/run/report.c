/* SPDX-License-Identifier: Apache-2.0 */
/* Gathering: from the journal's rows to spans of hours and columns. */
#include "report.h"

#include "err.h"
#include "parse.h"
#include "report_parts.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define HOUR_S   3600
#define AGE_DAYS 7 /* what was seen longer ago is not told of a day */

static int keep_day(const struct journal_day *day, void *context)
{
    *(struct journal_day *)context = *day;
    return 1; /* one is enough */
}

int report_no_day(struct journal_reader *reader, const char *space, int64_t light_day,
                  struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    int result = journal_read_day_range(reader, space, &first, &last, err);
    if (result != 0) {
        return result;
    }
    char date[16];
    char from[16];
    char to[16];
    parse_format_date(light_day, date, sizeof date);
    parse_format_date(first, from, sizeof from);
    parse_format_date(last, to, sizeof to);
    return err_fail(err, ENOENT, "no light day %s%s%s is stored (days stored: %s to %s)", date,
                    space ? " of space " : "", space ? space : "", from, to);
}

static int find_day(struct journal_reader *reader, const char *space, int64_t light_day,
                    struct journal_day *ret, struct err *err)
{
    const struct journal_range range = {space, light_day, light_day + 1};
    int found = journal_read_days(reader, &range, keep_day, ret, err);
    if (found < 0) {
        return found;
    }
    return found > 0 ? 0 : report_no_day(reader, space, light_day, err);
}

static void span_init(struct report_span *span)
{
    *span = (struct report_span){.heatsink_max_c = UNITS_NONE, .delivered_mol = UNITS_NONE};
}

static void span_add(struct report_span *span, const struct journal_minute *minute)
{
    double umol = units_known(minute->ppfd_umol) ? minute->ppfd_umol
                                                 : minute->lamp_umol + minute->daylight_umol;
    span->minutes++;
    if (units_known(umol)) {
        span->umol_sum += umol;
        span->umol_minutes++;
    }
    span->level_sum += units_known(minute->level) ? minute->level : 0;
    span->watt_minutes += units_known(minute->watts) ? minute->watts : 0;
    span->heatsink_max_c = fmax(span->heatsink_max_c, minute->heatsink_c); /* the known one */
    if (units_known(minute->delivered_mol)) {
        span->delivered_mol = minute->delivered_mol;
    }
    if ((unsigned)minute->limiter < LIMITER_COUNT) {
        span->limiter_minutes[minute->limiter]++;
    }
}

static int add_minute(const struct journal_minute *minute, void *context)
{
    struct report *report = context;
    int64_t hour = (minute->wall_s - report->first_hour_s) / HOUR_S;
    int64_t column = (minute->wall_s - report->day.begin_s) / REPORT_COLUMN_S;
    if (minute->light_day != report->day.summary.light_day) {
        return 0;
    }
    if (hour >= 0 && hour < REPORT_HOURS) {
        span_add(&report->hours[hour], minute);
    }
    if (column >= 0 && column < REPORT_COLUMNS) {
        span_add(&report->columns[column], minute);
    }
    report->price_low = fmin(report->price_low, minute->price_per_kwh); /* the known one */
    report->price_high = fmax(report->price_high, minute->price_per_kwh);
    return 0;
}

static int add_event(const struct journal_event *event, void *context)
{
    struct report *report = context;
    if (report->event_count == REPORT_EVENTS_MAX) {
        report->events_left_out++;
        return 0;
    }
    report->events[report->event_count++] = *event;
    return 0;
}

static int compare_events(const void *a, const void *b)
{
    const struct journal_event *left = a;
    const struct journal_event *right = b;
    return (left->wall_s > right->wall_s) - (left->wall_s < right->wall_s);
}

static struct journal_range day_range(const struct report *report)
{
    int64_t begin_s = report->day.begin_s;
    return (struct journal_range){report->day.space, begin_s, begin_s + UNITS_S_PER_DAY};
}

/* The space's own events and those of the whole daemon. */
static int gather_events(struct report *report, struct journal_reader *reader, struct err *err)
{
    struct journal_range range = day_range(report);
    report->events = calloc(REPORT_EVENTS_MAX, sizeof *report->events);
    if (!report->events) {
        return err_fail(err, ENOMEM, "no memory for the report");
    }
    int result = journal_read_events(reader, &range, add_event, report, err);
    if (result == 0 && report->day.space[0] != '\0') {
        range.space = "";
        result = journal_read_events(reader, &range, add_event, report, err);
    }
    qsort(report->events, (size_t)report->event_count, sizeof *report->events, compare_events);
    return result;
}

/* The newest record, rewound to that day; one that is damaged is the daemon's to tell of. */
static void gather_age(struct report *report, struct journal_reader *reader)
{
    struct ageing ageing;
    if (ageings_restore(reader, report->day.space, &ageing, NULL) < 0) {
        return;
    }
    ageing_rewind(&ageing, report->day.summary.light_day);
    const struct ageing_rules rules = ageing_own_rules(&ageing);
    if (report->day.summary.light_day - ageing_view(&ageing, &rules).last_day <= AGE_DAYS) {
        ageings_words(&rules, &ageing, report->age, sizeof report->age);
    }
}

static int gather(struct report *report, struct journal_reader *reader, struct err *err)
{
    int64_t begin_s = report->day.begin_s;
    int64_t second = (begin_s + report->day.utc_offset_s) % HOUR_S;
    report->first_hour_s = begin_s - (second < 0 ? second + HOUR_S : second);
    report->price_low = report->price_high = UNITS_NONE;
    for (int i = 0; i < REPORT_HOURS; i++) {
        span_init(&report->hours[i]);
    }
    for (int i = 0; i < REPORT_COLUMNS; i++) {
        span_init(&report->columns[i]);
    }
    gather_age(report, reader);
    const struct journal_range range = day_range(report);
    int result = journal_read_minutes(reader, &range, add_minute, report, err);
    if (result == 0) {
        result = gather_events(report, reader, err);
    }
    return result == 0 ? report_nights_within(reader, &report->day, &report->nights, err) : result;
}

int report_create(struct journal_reader *reader, const char *space, int64_t light_day,
                  struct report **ret, struct err *err)
{
    struct report *report = calloc(1, sizeof *report);
    if (!report) {
        return err_fail(err, ENOMEM, "no memory for the report");
    }
    int result = find_day(reader, space, light_day, &report->day, err);
    if (result == 0) {
        result = gather(report, reader, err);
    }
    if (result != 0) {
        report_destroy(report);
        return result;
    }
    *ret = report;
    return 0;
}

void report_destroy(struct report *report)
{
    if (report) {
        free(report->events);
        report_nights_destroy(report->nights);
        free(report);
    }
}

double report_finite(double mol)
{
    return mol > -1e6 && mol < 1e6 ? mol : 0;
}

double report_span_umol(const struct report_span *span)
{
    return span->umol_minutes > 0 ? span->umol_sum / span->umol_minutes : UNITS_NONE;
}

double report_span_level(const struct report_span *span)
{
    return span->minutes > 0 ? span->level_sum / span->minutes : UNITS_NONE;
}

enum limiter report_span_limiter(const struct report_span *span)
{
    unsigned longest = LIMITER_COUNT;
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (span->limiter_minutes[i] > 0 &&
            (longest == LIMITER_COUNT ||
             span->limiter_minutes[i] > span->limiter_minutes[longest])) {
            longest = i;
        }
    }
    return (enum limiter)longest;
}

double report_hour_mol(const struct report *report, int hour)
{
    double before = 0; /* the day begins with nothing */
    for (int i = 0; i < hour; i++) {
        before =
            units_known(report->hours[i].delivered_mol) ? report->hours[i].delivered_mol : before;
    }
    return report->hours[hour].delivered_mol - before; /* NaN stays NaN */
}

void report_round(const double *parts, int count, int64_t *ret_hundredths)
{
    double sum = 0;
    int64_t rounded = 0;
    for (int i = 0; i < count; i++) {
        sum += report_finite(parts[i]);
        ret_hundredths[i] = (int64_t)floor(report_finite(parts[i]) * 100);
        rounded += ret_hundredths[i];
    }
    /* The largest remainders are rounded up, as many as the sum asks for: fewer than there are
     * parts. */
    int64_t left = llround(sum * 100) - rounded;
    for (; left > 0; left--) {
        int largest = 0;
        double remainder = -1;
        for (int i = 0; i < count; i++) {
            double own = report_finite(parts[i]) * 100 - (double)ret_hundredths[i];
            if (own > remainder) {
                remainder = own;
                largest = i;
            }
        }
        ret_hundredths[largest]++;
    }
}
