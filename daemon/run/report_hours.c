/* SPDX-License-Identifier: Apache-2.0 */
/* The hours of a light day as a table of 80 columns, and its events. */
#include "parse.h"
#include "report.h"
#include "report_parts.h"
#include "units.h"
#include "words.h"

#include <string.h>

#define HOUR_S     3600
#define DARK_LEVEL 0.0005

enum { RULER_WIDTH = 31, FOLD_FROM = 6 };

/* Where the text goes. */
struct page {
    const struct report *report;
    bool is_utf8;
    FILE *out;
};

#define say(page, ...) report_print((page)->out, (page)->is_utf8, __VA_ARGS__)

static bool is_dark(const struct report *report, int hour)
{
    const struct report_span *span = &report->hours[hour];
    return span->minutes > 0 && report_span_level(span) < DARK_LEVEL &&
           report_hour_mol(report, hour) < 0.005;
}

/* Where hour i begins and the one before it ends; the light day may cut the first and the last. */
int64_t report_edge_s(const struct report *report, int hour)
{
    const int64_t at_s = report->first_hour_s + (int64_t)hour * HOUR_S;
    const int64_t begin_s = report->day.begin_s;
    const int64_t end_s = begin_s + UNITS_S_PER_DAY;
    return at_s < begin_s ? begin_s : at_s > end_s ? end_s : at_s;
}

/* Neighbouring hours that say the same: dark under one limiter, or without a record. Midnight
 * parts them. */
static bool is_like(const struct report *report, int a, int b)
{
    const struct report_span *left = &report->hours[a];
    const struct report_span *right = &report->hours[b];
    if (report_is_next_day(report, report_edge_s(report, a)) !=
        report_is_next_day(report, report_edge_s(report, b))) {
        return false;
    }
    if (left->minutes == 0 || right->minutes == 0) {
        return left->minutes == right->minutes;
    }
    return is_dark(report, a) && is_dark(report, b) &&
           report_span_limiter(left) == report_span_limiter(right);
}

int report_hour_end(const struct report *report, int first, int end)
{
    int next = first + 1;
    while (next < end && is_like(report, first, next)) {
        next++;
    }
    return next;
}

/* Who ruled longest. An hour that is half night and half lit is no broken night: there it is who
 * ruled the light, and for how long if there is room. */
void report_ruler(const struct report_span *span, char *buffer, size_t size)
{
    const enum limiter longest = report_span_limiter(span);
    struct report_span lit = *span;
    lit.limiter_minutes[LIMITER_NIGHT] = 0;
    const enum limiter other = report_span_limiter(&lit);
    if (longest != LIMITER_NIGHT || other == LIMITER_COUNT ||
        !(report_span_level(span) >= DARK_LEVEL)) {
        (void)snprintf(buffer, size, "%s", words_limiter(longest));
        return;
    }
    const int length = snprintf(buffer, size, "%s, lit %d min", words_limiter(other),
                                span->minutes - span->limiter_minutes[LIMITER_NIGHT]);
    if (length > RULER_WIDTH) {
        (void)snprintf(buffer, size, "%s", words_limiter(other));
    }
}

static void say_span(const struct page *page, int first, int last)
{
    const struct report *report = page->report;
    const struct report_span *span = &report->hours[first];
    double heatsink_c = UNITS_NONE;
    double watt_minutes = 0;
    double umol = 0;
    for (int i = first; i <= last; i++) {
        heatsink_c = fmax(heatsink_c, report->hours[i].heatsink_max_c); /* the known one */
        watt_minutes += report->hours[i].watt_minutes;
        umol += report_span_umol(&report->hours[i]) / (last + 1 - first); /* one NaN: none */
    }
    const double mol = report_hour_mol(report, first);
    char ruler[64];
    report_ruler(span, ruler, sizeof ruler);
    if (units_known(umol)) {
        say(page, " %5.0f", umol);
    } else {
        say(page, "     -");
    }
    say(page, " %6.2f %4.0f %%  %-*s", units_known(mol) ? fmax(mol, 0) : 0,
        report_span_level(span) * 100, RULER_WIDTH, ruler);
    if (units_known(heatsink_c)) {
        say(page, " %6.1f", heatsink_c);
    } else {
        say(page, "      -");
    }
    say(page, " %6.3f\n", watt_minutes / 60000);
}

static void say_hour(const struct page *page, int first, int last)
{
    const struct report *report = page->report;
    char from[12];
    char to[12];
    report_clock(report, report_edge_s(report, first), from, sizeof from);
    report_clock(report, report_edge_s(report, last + 1), to, sizeof to);
    say(page, "  %s-%s", from, strcmp(to, "00:00") == 0 ? "24:00" : to);
    if (report->hours[first].minutes == 0) {
        say(page, "  no record\n");
    } else {
        say_span(page, first, last);
    }
}

void report_hours(const struct report *report, bool is_utf8, FILE *out)
{
    const struct page page = {.report = report, .is_utf8 = is_utf8, .out = out};
    int begin = 0;
    int end = REPORT_HOURS;
    while (begin < end && report->hours[begin].minutes == 0) {
        begin++;
    }
    while (end > begin && report->hours[end - 1].minutes == 0) {
        end--;
    }
    if (begin == end) {
        say(&page, "\nNo minutes of this day are stored%s.\n",
            report->day.is_closed ? " any more" : " yet");
        return;
    }
    say(&page, "\n  Hour         PPFD    mol  level  ruled longest by                max °C    "
               "kWh\n");
    bool is_next_day = false;
    for (int first = begin; first < end;) {
        const int next = report_hour_end(report, first, end);
        if (!is_next_day && report_is_next_day(report, report_edge_s(report, first))) {
            is_next_day = true;
            say(&page, "  next day\n");
        }
        say_hour(&page, first, next - 1);
        first = next;
    }
}

static bool is_by_hand(const struct journal_event *event)
{
    return strncmp(event->kind, "try-", strlen("try-")) == 0;
}

int report_more_by_hand(const struct report *report, int i, char *words, size_t size)
{
    int last = i;
    while (last < report->event_count && is_by_hand(&report->events[last])) {
        last++;
    }
    const int more = last - i - 1;
    if (more < FOLD_FROM) {
        return 0;
    }
    char time[32];
    parse_format_datetime(report->events[last - 1].wall_s, report->day.utc_offset_s, time,
                          sizeof time);
    (void)snprintf(words, size, "%d more by hand until %.8s", more, time + strlen("2026-11-02T"));
    return more;
}

void report_events(const struct report *report, bool is_utf8, FILE *out)
{
    const struct page page = {.report = report, .is_utf8 = is_utf8, .out = out};
    bool is_next_day = false;
    if (report->event_count == 0) {
        return;
    }
    say(&page, "\nEvents (! alarm, * notice)\n");
    for (int i = 0; i < report->event_count; i++) {
        const struct journal_event *event = &report->events[i];
        if (!is_next_day && report_is_next_day(report, event->wall_s)) {
            is_next_day = true;
            say(&page, "  next day\n");
        }
        report_event_text(event, report->day.utc_offset_s, false, is_utf8, out);
        char words[64];
        const int more = report_more_by_hand(report, i, words, sizeof words);
        if (more > 0) {
            say(&page, "           … and %s\n", words);
            i += more;
        }
    }
    if (report->events_left_out > 0) {
        say(&page, "  … and %d more\n", report->events_left_out);
    }
}
