/* SPDX-License-Identifier: Apache-2.0 */
/* The days as a table of 80 columns: a line a day, sums and means a week, then the stages. */
#include "parse.h"
#include "report_days.h"
#include "report_parts.h"
#include "units.h"
#include "words.h"

#include <inttypes.h>
#include <string.h>

/* One word each; what it means is said below the table. */
static const char *const short_words[LIMITER_COUNT] = {
    [LIMITER_NOT_RUNNING] = "stopped",
    [LIMITER_NIGHT] = "night",
    [LIMITER_CLOCK_UNTRUSTED] = "time",
    [LIMITER_OUTPUT_FAULT] = "output",
    [LIMITER_HEAT_TRIP] = "trip",
    [LIMITER_DRIVER_TRIP] = "driver",
    [LIMITER_REST] = "rest",
    [LIMITER_HEAT] = "heat",
    [LIMITER_DRIVE_CEILING] = "drive",
    [LIMITER_POWER_LIMIT] = "power",
    [LIMITER_LIGHT_CEILING] = "ppfd",
    [LIMITER_SENSOR_LOST] = "sensor",
    [LIMITER_BY_HAND] = "hand",
    [LIMITER_DAWN] = "dawn",
    [LIMITER_DUSK] = "dusk",
    [LIMITER_FULL_LIGHT] = "lamps",
    [LIMITER_TARGET_MET] = "unseen",
    [LIMITER_PLAN] = "unseen",
};

/* Where the text goes. */
struct page {
    const struct report_days *report;
    bool is_utf8;
    FILE *out;
};

#define say(page, ...) report_print((page)->out, (page)->is_utf8, __VA_ARGS__)

static const char *weekday(int64_t day)
{
    static const char *const names[] = {"Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"};
    return names[(day % 7 + 7) % 7]; /* day 0 was a Thursday */
}

/* What was paid for light over the least it could have cost; "-" where it says nothing. */
static void put_ratio(double lamp_cost, double bound_cost, char *buffer, size_t size)
{
    if (bound_cost > 0.005 && lamp_cost > 0) {
        (void)snprintf(buffer, size, "%.2f", lamp_cost / bound_cost);
    } else {
        (void)snprintf(buffer, size, "-");
    }
}

/* The columns that days and sums share. */
struct line {
    const char *head;
    double target_mol, delivered_mol, daylight_mol;
    const char *word;
    double energy_kwh, cost;
    const char *ratio, *trips, *night;
};

static void say_line(const struct page *page, const struct line *line)
{
    say(page, "%-10s %7.2f %7.2f %7.2f  %-13s %7.2f %7.2f", line->head, line->target_mol,
        line->delivered_mol, line->daylight_mol, line->word, line->energy_kwh, line->cost);
    if (line->night[0]) {
        say(page, " %5s %2s %s", line->ratio, line->trips, line->night);
    }
    say(page, "\n");
}

static void put_word(const struct journal_day *day, char *buffer, size_t size)
{
    const enum limiter why = report_why(day);
    if (!day->is_closed) {
        (void)snprintf(buffer, size, "running");
    } else if (!(day->summary.account.target_mol > 0)) {
        (void)snprintf(buffer, size, "no target");
    } else if (why < LIMITER_COUNT) {
        (void)snprintf(buffer, size, "%.2f %s", -account_missing_mol(&day->summary.account),
                       short_words[why]);
    } else {
        (void)snprintf(buffer, size, "met");
    }
}

static void say_day(const struct page *page, const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    char date[16];
    char head[20];
    char word[32];
    char ratio[16];
    char trips[16];
    parse_format_date(summary->light_day, date, sizeof date);
    (void)snprintf(head, sizeof head, "%s %.5s", weekday(summary->light_day), date + 5);
    put_word(day, word, sizeof word);
    put_ratio(day->is_closed && report_is_met(day) ? summary->lamp_cost : 0, summary->bound_cost,
              ratio, sizeof ratio);
    (void)snprintf(trips, sizeof trips, "%" PRIu32, summary->heat_trips + summary->driver_trips);
    const struct line line = {
        .head = head,
        .target_mol = report_finite(summary->account.target_mol),
        .delivered_mol = report_finite(summary->account.delivered_mol),
        .daylight_mol = report_finite(summary->integral.daylight_mol),
        .word = word,
        .energy_kwh = report_finite(summary->energy_kwh),
        .cost = report_finite(summary->cost),
        .ratio = ratio,
        .trips = trips,
        .night = day->is_closed ? report_night_word(day) : "-",
    };
    say_line(page, &line);
}

/* The sum, or with `days` more than 1 what that is a day. */
static void say_amounts(const struct page *page, const char *head, const struct report_sum *sum,
                        int days)
{
    char word[32] = "";
    char ratio[16] = "";
    char trips[16] = "";
    char night[16] = "";
    if (days == 1) {
        const uint32_t nights = (uint32_t)(sum->nights_broken + sum->nights_possible);
        (void)snprintf(word, sizeof word, "%d of %d met", sum->met, sum->with_target);
        put_ratio(sum->bound_lamp_cost, sum->bound_cost, ratio, sizeof ratio);
        (void)snprintf(trips, sizeof trips, "%" PRIu32, sum->heat_trips + sum->driver_trips);
        (void)snprintf(night, sizeof night, "%" PRIu32 " lit", nights);
    } else {
        (void)snprintf(word, sizeof word, "(mean of %d)", days);
    }
    const struct line line = {
        .head = head,
        .target_mol = sum->target_mol / days,
        .delivered_mol = sum->delivered_mol / days,
        .daylight_mol = sum->daylight_mol / days,
        .word = word,
        .energy_kwh = sum->energy_kwh / days,
        .cost = sum->cost / days,
        .ratio = ratio,
        .trips = trips,
        .night = night,
    };
    say_line(page, &line);
}

static void say_sum(const struct page *page, const char *head, int first, int end)
{
    const struct report_sum sum = report_days_sum(page->report, first, end);
    if (sum.days == 0) {
        return;
    }
    say_amounts(page, head, &sum, 1);
    if (sum.days > 1) {
        say_amounts(page, "  a day", &sum, sum.days);
    }
}

static void say_days(const struct page *page)
{
    const struct report_days *report = page->report;
    const int count = report->count;
    for (int first = 0; first < count;) {
        const int end = report_days_week_end(report, first);
        char week[12];
        report_week(report->days[first].summary.light_day, week, sizeof week);
        for (int i = first; i < end; i++) {
            const bool is_new =
                i == 0 || strcmp(report->days[i].stage, report->days[i - 1].stage) != 0;
            if (is_new && report->days[i].stage[0]) {
                say(page, "Stage %s, from its day %d on\n", report->days[i].stage,
                    report->days[i].summary.stage_day);
            } else if (is_new) {
                say(page, "No stage runs\n");
            }
            say_day(page, &report->days[i]);
        }
        say_sum(page, week, first, end);
        first = end;
    }
}

static int count_stages(const struct report_days *report)
{
    int count = 0;
    for (int first = 0; first < report->count;) {
        count += report->days[first].stage[0] != '\0';
        first = report_days_stage_end(report, first);
    }
    return count;
}

/* What one week's line does not say already. */
static void say_stages(const struct page *page)
{
    const struct report_days *report = page->report;
    const int stages = count_stages(report);
    if (stages == 0 || (stages == 1 && report_days_week_end(report, 0) == report->count)) {
        return;
    }
    say(page, "\n");
    for (int first = 0; first < report->count;) {
        const int end = report_days_stage_end(report, first);
        if (report->days[first].stage[0]) {
            say(page, "Stage %s, these days\n", report->days[first].stage);
            say_sum(page, "together", first, end);
        }
        first = end;
    }
    if (stages > 1) {
        say(page, "All stages\n");
        say_sum(page, "together", 0, report->count);
    }
}

/* What the words of the table mean, as far as they stand in it. */
static void say_words(const struct page *page)
{
    const struct report_days *report = page->report;
    bool is_seen[LIMITER_COUNT] = {false};
    for (int i = 0; i < report->count; i++) {
        const enum limiter why = report_why(&report->days[i]);
        if (report->days[i].is_closed && why < LIMITER_COUNT) {
            is_seen[why] = true;
        }
    }
    is_seen[LIMITER_PLAN] = is_seen[LIMITER_PLAN] || is_seen[LIMITER_TARGET_MET];
    is_seen[LIMITER_TARGET_MET] = false;
    const char *before = "\nMost of what is missing was taken by ";
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (is_seen[i]) {
            say(page, "%s%s (%s)", before, short_words[i], words_missing((enum limiter)i));
            before = ",\n  ";
        }
    }
    say(page, "%s", before[0] == ',' ? ".\n" : "");
}

static void say_title(const struct page *page)
{
    const struct report_days *report = page->report;
    const struct report_sum sum = report_days_sum(report, 0, report->count);
    char first[16];
    char last[16];
    parse_format_date(report->days[0].summary.light_day, first, sizeof first);
    parse_format_date(report->days[report->count - 1].summary.light_day, last, sizeof last);
    say(page, "%s, light days %s to %s (mol m⁻², kWh, cost%s%s)\n\n", report->space, first, last,
        sum.currency && sum.currency[0] ? " in " : "", sum.currency ? sum.currency : "");
    say(page, "%-10s %7s %7s %7s  %-13s %7s %7s %5s %2s %s\n", "Day", "target", "mol", "sun",
        "met or short", "kWh", "cost", "least", "tr", "night");
}

void report_days_text(const struct report_days *report, bool is_utf8, FILE *out)
{
    const struct page page = {.report = report, .is_utf8 = is_utf8, .out = out};
    say_title(&page);
    say_days(&page);
    say_stages(&page);
    say_words(&page);
}
