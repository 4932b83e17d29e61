/* SPDX-License-Identifier: Apache-2.0 */
/* The nights as a table of at most 80 columns, and below each broken night its breaks. */
#include "parse.h"
#include "report_nights.h"
#include "report_parts.h"
#include "units.h"
#include "wrap.h"

#include <string.h>

enum { BREAK_COLUMN = 4 };

/* Where the text goes. */
struct page {
    const struct report_nights *report;
    bool is_utf8;
    FILE *out;
};

#define say(page, ...) report_print((page)->out, (page)->is_utf8, __VA_ARGS__)

/* "22:00-06:00", with ">" before what began earlier and behind what goes on. */
static void put_span(const struct page *page, const struct night *night, char *buffer, size_t size)
{
    char from[12];
    char to[12];
    report_time_of_day(night->from_s, page->report->utc_offset_s, from, sizeof from);
    report_time_of_day(night->to_s, page->report->utc_offset_s, to, sizeof to);
    (void)snprintf(buffer, size, "%s%s-%s%s", night->is_from_seen ? " " : ">", from, to,
                   night->is_to_seen ? " " : ">");
}

static void put_seconds(double seconds, char *buffer, size_t size)
{
    if (!units_known(seconds)) {
        (void)snprintf(buffer, size, "?");
    } else if (seconds > 0) {
        parse_format_duration(seconds, buffer, (unsigned)size);
    } else {
        (void)snprintf(buffer, size, "none");
    }
}

static void put_dose(double dose, double most, char *buffer, size_t size)
{
    if (units_known(dose)) {
        (void)snprintf(buffer, size, "%.0f", dose);
    } else if (units_known(most)) {
        (void)snprintf(buffer, size, "<%.0f", most + 0.5);
    } else {
        (void)snprintf(buffer, size, "?");
    }
}

/* What is known of it beside its light: a share in whole per cent, 100 only when it is all. */
static int percent(double part_s, const struct night *night)
{
    const double all_s = (double)(night->to_s - night->from_s);
    return all_s > 0 ? (int)(100 * units_clamp(part_s / all_s, 0, 1)) : 0;
}

static void say_night(const struct page *page, const struct night *night)
{
    char date[16];
    char span[32];
    char open[2][12];
    char switches[32];
    char longest[24];
    char dose[24];
    char possible[24];
    parse_format_date(night->light_day, date, sizeof date);
    put_span(page, night, span, sizeof span);
    report_time_of_day(night->open_from_s, page->report->utc_offset_s, open[0], sizeof open[0]);
    report_time_of_day(night->open_to_s, page->report->utc_offset_s, open[1], sizeof open[1]);
    (void)snprintf(switches, sizeof switches, "%s-%s", open[0], night->open_to_s ? open[1] : "");
    put_seconds(night->longest_s, longest, sizeof longest);
    put_dose(night->dose_umol_m2, night->most_umol_m2, dose, sizeof dose);
    put_dose(night->possible_umol_m2, UNITS_NONE, possible, sizeof possible);
    say(page, "%s %s %-12s %11s %6s %6s %4d%% %s\n", date, span,
        night->open_from_s ? switches : "?", longest, dose, possible, percent(night->seen_s, night),
        night_word(night));
}

void report_night_breaks(const struct night *night, int32_t offset_s, bool is_utf8, FILE *out)
{
    const struct report_nights of = {.utc_offset_s = offset_s};
    const struct page its = {.report = &of, .is_utf8 = is_utf8, .out = out};
    for (int i = 0; i < night->break_count; i++) {
        char text[320];
        night_break_text(&night->breaks[i], offset_s, text, sizeof text);
        say(&its, "  %s\n", text);
    }
    if (night->breaks_left_out > 0) {
        say(&its, "  … and %d more\n", night->breaks_left_out);
    }
}

static void say_words(const struct page *page)
{
    static const struct {
        const char *word, *meaning;
    } words[] = {
        {"broken", "light of 10 s or more (or as long as night_confirm says)"},
        {"possible", "an opening was not confirmed: the lamp may have been lit"},
        {"unrecorded", "the daemon did not run, or its minutes are not kept any more"},
        {"unseen", "no light sensor showed that it was dark; no lamp was told to burn"},
        {"unlit", "the sensor sees the sky too; no lamp was told to burn"},
    };
    for (size_t w = 0; w < sizeof words / sizeof words[0]; w++) {
        bool is_there = false;
        for (int i = 0; i < page->report->count; i++) {
            is_there = is_there || strcmp(night_word(&page->report->nights[i]), words[w].word) == 0;
        }
        if (is_there) {
            say(page, "%s: %s.\n", words[w].word, words[w].meaning);
        }
    }
}

void report_nights_text(const struct report_nights *report, bool is_utf8, FILE *out)
{
    struct wrap wrap;
    struct page page = {.report = report, .is_utf8 = is_utf8, .out = out};
    if (report->count == 0) {
        say(&page, "%s: no night is stored of these days.\n", report->space);
        return;
    }
    say(&page, "%s, nights (dose in µmol m⁻²)\n\n", report->space);
    say(&page, "Night of    dark          switch open       longest   dose  maybe  seen\n");
    for (int i = 0; i < report->count; i++) {
        say_night(&page, &report->nights[i]);
        page.out = wrap_begin(&wrap, out);
        report_night_breaks(&report->nights[i], report->utc_offset_s, is_utf8, page.out);
        wrap_end(&wrap, BREAK_COLUMN);
        page.out = out;
    }
    say_words(&page);
}
