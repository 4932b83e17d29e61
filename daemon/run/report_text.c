/* SPDX-License-Identifier: Apache-2.0 */
/* The report for people: sentences first, then the mol account, the hours, the chart, the events.
 */
#include "hindsight.h"
#include "parse.h"
#include "report.h"
#include "report_parts.h"
#include "units.h"
#include "words.h"
#include "wrap.h"

#include <inttypes.h>
#include <string.h>

enum { EVENT_WORDS_COLUMN = 13, NIGHT_WORDS_COLUMN = 4 };

/* Where the text goes. */
struct page {
    const struct report *report;
    bool is_utf8;
    FILE *out;
};

#define say(page, ...) report_print((page)->out, (page)->is_utf8, __VA_ARGS__)

void report_time_of_day(int64_t wall_s, int32_t offset_s, char *buffer, size_t size)
{
    const struct lightday_rules civil = {.utc_offset_s = offset_s};
    if (wall_s == 0) {
        (void)snprintf(buffer, size, "-");
        return;
    }
    parse_format_time_of_day(lightday_second(&civil, wall_s) / 60 * 60, buffer, (unsigned)size);
}

void report_clock(const struct report *report, int64_t wall_s, char *buffer, size_t size)
{
    report_time_of_day(wall_s, report->day.utc_offset_s, buffer, size);
}

bool report_is_next_day(const struct report *report, int64_t wall_s)
{
    const struct lightday_rules civil = {.utc_offset_s = report->day.utc_offset_s};
    return lightday_of(&civil, wall_s) > report->day.summary.light_day;
}

void report_title(const struct report *report, char *buffer, size_t size)
{
    static const char *const weekdays[] = {"Thursday", "Friday",  "Saturday", "Sunday",
                                           "Monday",   "Tuesday", "Wednesday"};
    const struct journal_day *day = &report->day;
    char date[16];
    parse_format_date(day->summary.light_day, date, sizeof date);
    int64_t weekday = (day->summary.light_day % 7 + 7) % 7; /* day 0 was a Thursday */
    (void)snprintf(buffer, size, "light day %s (%s)%s", date, weekdays[weekday],
                   day->is_closed ? "" : ", still running");
}

static void say_stage(const struct page *page)
{
    const struct journal_day *day = &page->report->day;
    if (day->stage[0]) {
        say(page, "Stage %s, day %d. ", day->stage, day->summary.stage_day);
    } else {
        say(page, "No stage runs on this day. ");
    }
}

static void say_course(const struct page *page)
{
    const struct journal_day *day = &page->report->day;
    const struct account *account = &day->summary.account;
    double missing_mol = account_missing_mol(account);
    bool is_short = missing_mol >= ACCOUNT_SHORT_MOL;
    if (!(account->target_mol > 0)) {
        say(page, "No light is asked for; %.2f mol fell.\n", account->delivered_mol);
    } else if (!day->is_closed && is_short) {
        say(page, "Will be short by %.2f mol: %.2f of %.2f mol so far, at most %.2f mol to come.\n",
            missing_mol, account->delivered_mol, account->target_mol, account->to_come_mol);
    } else if (!day->is_closed && account->to_come_mol >= ACCOUNT_SHORT_MOL) {
        say(page, "On course: %.2f of %.2f mol so far, %.2f mol to come.\n", account->delivered_mol,
            account->target_mol, account->to_come_mol);
    } else if (is_short) {
        say(page, "Short by %.2f mol: %.2f of %.2f mol (%.0f %%).\n", missing_mol,
            account->delivered_mol, account->target_mol,
            100 * account->delivered_mol / account->target_mol);
    } else if (missing_mol >= ACCOUNT_SHORT_MOL / 10) {
        say(page, "Target met but for %.2f mol: %.2f of %.2f mol.\n", missing_mol,
            account->delivered_mol, account->target_mol);
    } else {
        say(page, "Target met: %.2f of %.2f mol.\n", account->delivered_mol, account->target_mol);
    }
}

/* A target that yesterday lowered is told as the day told it. */
static void say_carried(const struct page *page)
{
    const struct report *report = page->report;
    for (int i = 0; i < report->event_count; i++) {
        const struct journal_event *event = &report->events[i];
        if (strcmp(event->kind, decide_event_name(EVENT_CARRIED_OVER)) == 0) {
            say(page,
                "The target was %.2f mol less %.2f mol that the day before brought above its "
                "stage's.\n",
                event->a + event->b, event->b);
            return;
        }
    }
}

static void say_short(const struct page *page)
{
    const struct day_summary *summary = &page->report->day.summary;
    const double *missing_mol = summary->account.missing_mol;
    const char *before = "Taken by ";
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (missing_mol[i] >= ACCOUNT_SHORT_MOL / 10) { /* less is 0.00 */
            say(page, "%s%s (%.2f mol)", before, words_missing((enum limiter)i), missing_mol[i]);
            before = ", ";
        }
    }
    if (before[0] == ',') {
        say(page, ".\n");
    }
    if (!summary->is_feasible && summary->account.target_mol > 0) {
        say(page, "At most %.2f mol were within reach that day, even without faults.\n",
            summary->reach_mol);
    }
}

static void say_sources(const struct page *page)
{
    const struct integral *integral = &page->report->day.summary.integral;
    if (!(integral->lamp_mol + integral->daylight_mol > 0)) {
        return;
    }
    if (integral->daylight_mol >= ACCOUNT_SHORT_MOL / 5) {
        say(page, "The lamps gave %.2f mol, daylight %.2f mol.", integral->lamp_mol,
            integral->daylight_mol);
    } else {
        say(page, "The lamps gave all of it.");
    }
    char length[24];
    if (integral->bridged_mol >= ACCOUNT_SHORT_MOL / 5) {
        parse_format_duration(integral->bridged_s, length, sizeof length);
        say(page, " %.2f mol are estimates from %s without a good reading.", integral->bridged_mol,
            length);
    }
    if (integral->lost_s >= 60) {
        parse_format_duration(integral->lost_s, length, sizeof length);
        say(page, " Nothing is known of %s.", length);
    }
    say(page, "\n");
}

/* "06:57", or "06:57 (next day)" behind midnight. */
static void put_moment(const struct report *report, int64_t wall_s, char *buffer, size_t size)
{
    char time[12];
    report_clock(report, wall_s, time, sizeof time);
    (void)snprintf(buffer, size, "%s%s", time,
                   report_is_next_day(report, wall_s) ? " (next day)" : "");
}

/* Of the last time that they went on, by the events: the day's sums hold the first and the last
 * change alone, and are some seconds behind. 0: not told. */
static int64_t last_on_s(const struct report *report)
{
    for (int i = report->event_count - 1; i >= 0; i--) {
        if (strcmp(report->events[i].kind, decide_event_name(EVENT_LIGHTS_ON)) == 0) {
            return report->events[i].wall_s;
        }
    }
    return 0;
}

static void say_lit_hours(const struct page *page)
{
    const struct journal_day *day = &page->report->day;
    const int64_t again_s = last_on_s(page->report);
    const int64_t on_s = day->summary.lights_on_s != 0 ? day->summary.lights_on_s : again_s;
    const int64_t off_s = day->summary.lights_off_s;
    const char *until = day->is_closed ? "lit through the end of the light day" : "still lit";
    char on[32];
    char off[32];
    char again[32];
    put_moment(page->report, on_s, on, sizeof on);
    put_moment(page->report, off_s, off, sizeof off);
    put_moment(page->report, again_s, again, sizeof again);
    if (on_s == 0) {
        say(page, "The lamps were %s.", day->is_closed ? "never lit" : "not lit yet");
    } else if (off_s <= on_s) {
        say(page, "Lights on %s, %s.", on, until);
    } else if (again_s > off_s) {
        say(page, "Lights on %s, off %s, on again %s, %s.", on, off, again, until);
    } else {
        say(page, "Lights on %s, off %s.", on, off);
    }
}

static void say_lights(const struct page *page)
{
    const struct day_summary *summary = &page->report->day.summary;
    say_lit_hours(page);
    if (summary->switch_operations > 0 || page->report->day.is_closed) {
        say(page, " %" PRIu32 " switch operation%s.", summary->switch_operations,
            summary->switch_operations == 1 ? "" : "s");
    }
    if (units_known(summary->heatsink_max_c)) {
        say(page, " Hottest heatsink %.1f °C.", summary->heatsink_max_c);
    }
    say(page, "\n");
}

static void say_energy(const struct page *page)
{
    const struct journal_day *day = &page->report->day;
    const struct report *report = page->report;
    const char *gap = day->currency[0] ? " " : "";
    say(page, "Energy %.2f kWh", day->summary.energy_kwh);
    if (report->price_high > 0) {
        say(page, ", cost %.2f%s%s (", day->summary.cost, gap, day->currency);
        if (report->price_low < report->price_high) {
            say(page, "%.3f to ", report->price_low);
        }
        say(page, "%.3f%s%s per kWh)", report->price_high, gap, day->currency);
    }
    say(page, ".\n");
}

/* Light that was worth no money, and figures that are not known, are passed over. */
static bool was_short_of_power(const struct report *report)
{
    int minutes = 0;
    for (int i = 0; i < REPORT_HOURS; i++) {
        minutes += report->hours[i].limiter_minutes[LIMITER_POWER_LIMIT];
    }
    return minutes > 0;
}

/* The bound knows this space alone, and prices are those of the tariff. */
static void say_shared(const struct page *page)
{
    if (was_short_of_power(page->report)) {
        say(page, "That least cost is of this space alone, without the limit that all share; a "
                  "soft limit's\nsurcharge is in none of these costs.\n");
    }
}

static void say_hindsight(const struct page *page)
{
    const struct journal_day *day = &page->report->day;
    const struct day_summary *summary = &day->summary;
    const char *gap = day->currency[0] ? " " : "";
    const enum hindsight_word word = hindsight_word(summary->lamp_cost, summary->bound_cost,
                                                    account_missing_mol(&summary->account));
    if (word == HINDSIGHT_NOTHING) {
        return;
    }
    say(page, "The lamp light cost %.2f%s%s; ", summary->lamp_cost, gap, day->currency);
    if (word == HINDSIGHT_SHORT) {
        say(page, "what was possible of the target would have cost %.2f at least.\n",
            summary->bound_cost);
        say_shared(page);
        return;
    }
    say(page, "the cheapest possible in hindsight %.2f", summary->bound_cost);
    if (word == HINDSIGHT_RATIO) {
        say(page, " (%.2f ×)", summary->lamp_cost / summary->bound_cost);
    }
    if (units_known(summary->even_cost)) {
        say(page, "; the same light at one fixed level %.2f", summary->even_cost);
    }
    say(page, ".\n");
    say_shared(page);
}

static void say_troubles(const struct page *page)
{
    const struct day_summary *summary = &page->report->day.summary;
    if (summary->heat_trips > 0) {
        say(page, "Heat trips: %" PRIu32 ".\n", summary->heat_trips);
    }
    if (summary->driver_trips > 0) {
        say(page, "LED driver trips: %" PRIu32 ".\n", summary->driver_trips);
    }
    if (summary->night_breaks > 0) {
        char length[24];
        parse_format_duration(summary->night_longest_s, length, sizeof length);
        say(page,
            "The night was broken %" PRIu32 " time%s: dose %.0f µmol m⁻², longest light %s.\n",
            summary->night_breaks, summary->night_breaks == 1 ? "" : "s",
            summary->night_dose_umol_m2, length);
    }
    if (summary->night_possible_umol_m2 >= 0.5) { /* less is 0 */
        say(page,
            "Openings were not confirmed: the night may have had up to %.0f µmol m⁻² by them.\n",
            summary->night_possible_umol_m2);
    }
}

void report_sentences(const struct report *report, bool is_utf8, FILE *out)
{
    const struct page its = {.report = report, .is_utf8 = is_utf8, .out = out};
    const struct page *page = &its;
    say_stage(page);
    say_course(page);
    say_carried(page);
    say_short(page);
    say_sources(page);
    say_lights(page);
    say_energy(page);
    say_hindsight(page);
    report_age(report, is_utf8, out);
    say_troubles(page);
}

void report_text(const struct report *report, bool is_utf8, FILE *out)
{
    struct wrap wrap;
    char title[80];
    FILE *page = wrap_begin(&wrap, out);
    report_title(report, title, sizeof title);
    report_print(page, is_utf8, "%s, %s\n", report->day.space, title);
    report_sentences(report, is_utf8, page);
    wrap_end(&wrap, 0);
    report_account(report, is_utf8, out);
    report_night(report, is_utf8, wrap_begin(&wrap, out));
    wrap_end(&wrap, NIGHT_WORDS_COLUMN);
    report_hours(report, is_utf8, out);
    report_chart(report, is_utf8, out);
    report_events(report, is_utf8, wrap_begin(&wrap, out));
    wrap_end(&wrap, EVENT_WORDS_COLUMN);
}
