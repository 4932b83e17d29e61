/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A light day as a page for screen and paper: what the day came to in sentences, the mol account as
 * bars, the course of the day, the night, figures, hours, events.
 */
#include "day_parts.h"

#include "err.h"
#include "parse.h"
#include "report_days.h"
#include "units.h"
#include "words.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* Each space begins a sheet, whose first side holds what the day came to, its account and its
 * course. */
const char day_style[] =
    "section+section{margin-top:4rem}"
    ".day{font-size:1.15rem;margin:0 0 1rem}"
    "td:first-child{white-space:nowrap}"
    "td.n+td:not(.n),th.n+th:not(.n){padding-left:1.3rem}"
    "@media(min-width:46rem){section dl{grid-template-columns:max-content 1fr max-content 1fr}"
    "dd{padding-right:1.5rem}}"
    "@media print{section+section{break-before:page;margin-top:0}"
    "h1{font-size:19pt}h2{margin:.9rem 0 .3rem}figure{margin:.4rem 0}"
    "p{margin:.1rem 0;max-width:none;line-height:1.3}.day{margin-bottom:.5rem}"
    "td,th,dt,dd{padding-top:.08rem;padding-bottom:.08rem}"
    "table,dl,figcaption,.note{font-size:8.5pt}"
    "figure:not(.account) svg{max-height:113mm}.account svg{max-height:52mm}"
    "section dl{grid-template-columns:max-content 1fr max-content 1fr}dd{padding-right:1.5rem}}"
    "@page{@bottom-right{content:counter(page) ' of ' counter(pages);font:8pt sans-serif;"
    "color:#444}}";

static int keep_minute(const struct journal_minute *minute, void *context)
{
    struct day_sheet *sheet = context;
    struct day_minutes *minutes = sheet->minutes;
    if (minute->light_day == sheet->report->day.summary.light_day && minutes->count < DAY_MINUTES) {
        minutes->minutes[minutes->count++] = *minute;
    }
    return 0;
}

int day_sheet_make(struct journal_reader *reader, const char *space, int64_t light_day,
                   struct day_sheet *ret, struct err *err)
{
    struct day_sheet sheet = {.limits = {UNITS_NONE, UNITS_NONE}};
    sheet.minutes = calloc(1, sizeof *sheet.minutes);
    if (!sheet.minutes) {
        return err_fail(err, ENOMEM, "no memory for the report");
    }
    int rc = report_create(reader, space, light_day, &sheet.report, err);
    if (rc == 0) {
        const int64_t begin_s = sheet.report->day.begin_s;
        const struct journal_range range = {space, begin_s, begin_s + UNITS_S_PER_DAY};
        rc = journal_read_minutes(reader, &range, keep_minute, &sheet, err);
    }
    if (rc != 0) {
        day_sheet_free(&sheet);
        return rc;
    }
    *ret = sheet;
    return 0;
}

void day_sheet_free(struct day_sheet *sheet)
{
    report_destroy(sheet->report);
    free(sheet->minutes);
    *sheet = (struct day_sheet){0};
}

/* The sentences of the text report, a paragraph a line. */
static void put_sentences(struct html *html, const struct report *report)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return; /* the page goes on without them */
    }
    report_sentences(report, true, out);
    if (fclose(out) == 0) {
        char *rest = text;
        for (const char *line = strsep(&rest, "\n"); line; line = strsep(&rest, "\n")) {
            if (line[0]) {
                html_element(html, "p", "%s", line);
            }
        }
    }
    free(text);
}

/* What the chart shows, for who cannot see it. */
static void put_chart_words(const struct day_sheet *sheet, char *buffer, size_t size)
{
    const struct report *report = sheet->report;
    double most = 0;
    for (int i = 0; i < sheet->minutes->count; i++) {
        const struct journal_minute *minute = &sheet->minutes->minutes[i];
        const double umol = minute->lamp_umol + minute->daylight_umol;
        most = umol > most && umol < 1e6 ? umol : most;
    }
    (void)snprintf(
        buffer, size,
        "Course of the light day: PPFD up to %.0f µmol m⁻² s⁻¹, who ruled the level, the "
        "level in %%%s%s. The table of hours below holds the same in figures.",
        most, units_known(report->day.summary.heatsink_max_c) ? ", temperatures" : "",
        report->price_low < report->price_high ? ", the price of energy" : "");
}

static void put_course(struct html *html, const struct day_sheet *sheet)
{
    bool is_seen[LIMITER_COUNT] = {false};
    char what[320];
    char caption[900] = "Who ruled the level:";
    for (int i = 0; i < sheet->minutes->count; i++) {
        const enum limiter limiter = sheet->minutes->minutes[i].limiter;
        if ((unsigned)limiter < LIMITER_COUNT) {
            is_seen[limiter] = true;
        }
    }
    const char *before = " ";
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (is_seen[i]) {
            const size_t used = strlen(caption);
            (void)snprintf(caption + used, sizeof caption - used, "%s%c %s", before,
                           report_letter((enum limiter)i), words_limiter((enum limiter)i));
            before = ", ";
        }
    }
    html_element(html, "h2", "The course of the day");
    if (sheet->minutes->count == 0) {
        html_element(html, "p", "No minutes of this day are stored%s.",
                     sheet->report->day.is_closed ? " any more" : " yet");
        return;
    }
    put_chart_words(sheet, what, sizeof what);
    const size_t used = strlen(caption);
    (void)snprintf(caption + used, sizeof caption - used, ". Grey ground: night.%s",
                   units_known(sheet->limits.from_c)
                       ? " Limits of the heatsinks by the present configuration."
                       : "");
    (void)html_figure(html, what, caption, day_chart, sheet); /* the page says why not */
}

static void put_night(struct html *html, const struct report *report)
{
    const struct report_nights *nights = report->nights;
    html_element(html, "h2", "Night hours");
    if (nights->count == 0) {
        html_element(html, "p", "No night hours of this light day are recorded.");
    }
    for (int i = 0; i < nights->count; i++) {
        const struct night *night = &nights->nights[i];
        char text[800];
        night_text(night, nights->utc_offset_s, text, sizeof text);
        html_element(html, "p", "%s", text);
        for (int b = 0; b < night->break_count; b++) {
            night_break_text(&night->breaks[b], nights->utc_offset_s, text, sizeof text);
            html_element(html, "p", "\u2013 %s", text);
        }
        if (night->breaks_left_out > 0) {
            html_element(html, "p", "\u2026 and %d more", night->breaks_left_out);
        }
    }
}

static void put_costs(struct html *html, const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    html_fact(html, "Energy", "%.2f kWh", summary->energy_kwh);
    html_fact(html, "Cost of all energy", "%.2f %s", summary->cost, day->currency);
    if (units_known(summary->lamp_cost)) {
        html_fact(html, "Lamp light alone", "%.2f %s", summary->lamp_cost, day->currency);
    }
    if (units_known(summary->bound_cost)) {
        html_fact(html, "Least for the target, in hindsight", "%.2f %s", summary->bound_cost,
                  day->currency);
    }
    if (units_known(summary->even_cost)) {
        html_fact(html, "The same light at one level", "%.2f %s", summary->even_cost,
                  day->currency);
    }
}

static void put_figures(struct html *html, const struct report *report)
{
    const struct journal_day *day = &report->day;
    const struct day_summary *summary = &day->summary;
    char length[24];
    html_element(html, "h2", "Figures");
    html_facts(html);
    html_fact(html, "Target", "%.2f mol m⁻²", report_finite(summary->account.target_mol));
    html_fact(html, "Delivered", "%.2f mol m⁻²", report_finite(summary->account.delivered_mol));
    put_costs(html, day);
    html_fact(html, "Switch operations", "%" PRIu32, summary->switch_operations);
    if (units_known(summary->heatsink_max_c)) {
        html_fact(html, "Hottest heatsink", "%.1f °C", summary->heatsink_max_c);
    }
    html_fact(html, "Heat trips, LED driver trips", "%" PRIu32 ", %" PRIu32, summary->heat_trips,
              summary->driver_trips);
    parse_format_duration(summary->integral.measured_s, length, sizeof length);
    html_fact(html, "Light measured for", "%s", length);
    if (summary->integral.bridged_s >= 60) {
        parse_format_duration(summary->integral.bridged_s, length, sizeof length);
        html_fact(html, "Light estimated for", "%s", length);
    }
    if (summary->integral.lost_s >= 60) {
        parse_format_duration(summary->integral.lost_s, length, sizeof length);
        html_fact(html, "Nothing known of", "%s", length);
    }
    html_fact(html, "Night in a word", "%s", report_night_word(day));
    html_fact(html, "Light in the night", "%.0f µmol m⁻²",
              report_finite(summary->night_dose_umol_m2));
    if (summary->night_possible_umol_m2 > 0) {
        html_fact(html, "Possible beside it", "%.0f µmol m⁻²",
                  report_finite(summary->night_possible_umol_m2));
    }
    html_facts_end(html);
}

static void put_number(char *buffer, size_t size, int digits, double value)
{
    if (units_known(value)) {
        (void)snprintf(buffer, size, "%.*f", digits, value);
    } else {
        (void)snprintf(buffer, size, "–");
    }
}

/* Hours from `first` to before `next`: what the text report has on one line. */
static void put_hour(struct html *html, const struct report *report, int first, int next)
{
    const struct report_span *span = &report->hours[first];
    char cells[7][64];
    char to[12];
    const char *row[7];
    double heatsink_c = UNITS_NONE;
    double kwh = 0;
    for (int i = first; i < next; i++) {
        heatsink_c = fmax(heatsink_c, report->hours[i].heatsink_max_c); /* the known one */
        kwh += report->hours[i].watt_minutes / 60000;
    }
    report_clock(report, report_edge_s(report, first), cells[0], 12);
    report_clock(report, report_edge_s(report, next), to, sizeof to);
    const size_t used = strlen(cells[0]);
    (void)snprintf(cells[0] + used, sizeof cells[0] - used, "–%s",
                   strcmp(to, "00:00") == 0 ? "24:00" : to);
    put_number(cells[1], sizeof cells[1], 0, report_span_umol(span));
    put_number(cells[2], sizeof cells[2], 2, report_hour_mol(report, first));
    put_number(cells[3], sizeof cells[3], 0, 100 * report_span_level(span));
    report_ruler(span, cells[4], sizeof cells[4]);
    put_number(cells[5], sizeof cells[5], 1, heatsink_c);
    put_number(cells[6], sizeof cells[6], 3, kwh);
    for (int i = 0; i < 7; i++) {
        row[i] = span->minutes > 0 || i == 0 ? cells[i] : i == 4 ? "no record" : "";
    }
    html_row(html, 7, row);
}

static void put_hours(struct html *html, const struct report *report)
{
    static const char *const heads[7] = {"Hour",      ">PPFD, µmol m⁻² s⁻¹", ">mol m⁻²",
                                         ">level, %", "ruled longest by",    ">heatsink, °C",
                                         ">kWh"};
    int first = 0;
    int end = REPORT_HOURS;
    while (first < end && report->hours[first].minutes == 0) {
        first++;
    }
    while (end > first && report->hours[end - 1].minutes == 0) {
        end--;
    }
    if (first == end) {
        return;
    }
    html_element(html, "h2", "Hours");
    html_table(html, NULL, 7, heads);
    while (first < end) {
        const int next = report_hour_end(report, first, end);
        put_hour(html, report, first, next);
        first = next;
    }
    html_table_end(html);
}

static void put_events(struct html *html, const struct report *report)
{
    static const char *const heads[3] = {"Time", "", "What happened"};
    static const char *const classes[] = {
        [JOURNAL_INFO] = "", [JOURNAL_NOTICE] = "notice", [JOURNAL_ALARM] = "ALARM"};
    html_element(html, "h2", "Events");
    if (report->event_count == 0) {
        html_element(html, "p", "None is stored.");
        return;
    }
    html_table(html, NULL, 3, heads);
    for (int i = 0; i < report->event_count; i++) {
        const struct journal_event *event = &report->events[i];
        char time[32];
        parse_format_datetime(event->wall_s, report->day.utc_offset_s, time, sizeof time);
        time[10] = ' '; /* 2026-11-02T06:00:00+01:00 */
        time[19] = '\0';
        const bool is_next = report_is_next_day(report, event->wall_s);
        const char *const row[3] = {is_next ? time : time + 11, classes[event->class], event->text};
        html_row(html, 3, row);
        char words[64];
        const int more = report_more_by_hand(report, i, words, sizeof words);
        if (more > 0) {
            const char *const rest[3] = {"", "", words};
            html_row(html, 3, rest);
            i += more;
        }
    }
    html_table_end(html);
    if (report->events_left_out > 0) {
        html_element(html, "p", "and %d more", report->events_left_out);
    }
}

void day_section(struct html *html, const struct day_sheet *sheet)
{
    const struct report *report = sheet->report;
    char title[80];
    report_title(report, title, sizeof title);
    html_markup(html, "<section>\n");
    html_element(html, "h1", "%s", report->day.space);
    char begin[32];
    parse_format_datetime(report->day.begin_s, report->day.utc_offset_s, begin, sizeof begin);
    html_element(html, "p class=\"day\"", "%c%s, times at UTC%s", title[0] - 'a' + 'A', title + 1,
                 begin + strlen("2026-11-02T06:00:00"));
    put_sentences(html, report);
    html_element(html, "h2", "Mol account");
    day_account(html, report);
    put_course(html, sheet);
    put_night(html, report);
    put_figures(html, report);
    put_hours(html, report);
    put_events(html, report);
    html_markup(html, "</section>\n");
}
