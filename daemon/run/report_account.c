/* SPDX-License-Identifier: Apache-2.0 */
/* The mol account as lines that add up, and as text; and the night in sentences. */
#include "report_parts.h"
#include "units.h"
#include "words.h"

#include <inttypes.h>

void report_lines(const struct report *report, struct report_lines *ret)
{
    const struct journal_day *day = &report->day;
    const struct account *account = &day->summary.account;
    static const char *const given[REPORT_MISSING] = {"delivered by the lamps",
                                                      "delivered by daylight", "still to come"};
    double parts[REPORT_MISSING + LIMITER_COUNT] = {
        day->summary.integral.lamp_mol, day->summary.integral.daylight_mol, account->to_come_mol};
    int64_t shown[REPORT_MISSING + LIMITER_COUNT];
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        parts[REPORT_MISSING + i] = account->missing_mol[i];
    }
    report_round(parts, REPORT_MISSING + LIMITER_COUNT, shown);
    *ret = (struct report_lines){.count = 0};
    for (unsigned i = 0; i < REPORT_MISSING + LIMITER_COUNT; i++) {
        const bool is_missing = i >= REPORT_MISSING;
        ret->together += shown[i];
        if (shown[i] != 0 || i == 0) {
            ret->lines[ret->count++] = (struct report_line){
                .part = is_missing ? REPORT_MISSING : (enum report_part)i,
                .words = is_missing ? words_missing((enum limiter)(i - REPORT_MISSING)) : given[i],
                .hundredths = shown[i]};
        }
    }
    ret->target = llround(report_finite(account->target_mol) * 100);
    ret->surplus = ret->together - ret->target;
    ret->adds_up = fabs(account->surplus_mol - (double)ret->surplus / 100) < 0.02;
}

/* Where the text goes. */
struct page {
    bool is_utf8;
    FILE *out;
};

#define say(page, ...) report_print((page)->out, (page)->is_utf8, __VA_ARGS__)

static void say_line(const struct page *page, const char *words, int64_t hundredths)
{
    say(page, "  %-40s %6" PRId64 ".%02" PRId64 "\n", words, hundredths / 100,
        hundredths < 0 ? -(hundredths % 100) : hundredths % 100);
}

void report_account(const struct report *report, bool is_utf8, FILE *out)
{
    const struct page page = {.is_utf8 = is_utf8, .out = out};
    struct report_lines account;
    report_lines(report, &account);
    say(&page, "\nMol account%*smol m⁻²\n", 33, "");
    for (int i = 0; i < account.count; i++) {
        const struct report_line *line = &account.lines[i];
        char words[64];
        (void)snprintf(words, sizeof words, "%s%s", line->part == REPORT_MISSING ? "missing: " : "",
                       line->words);
        say_line(&page, words, line->hundredths);
    }
    say(&page, "  %-40s %9s\n", "", "------");
    if (account.surplus == 0) {
        say_line(&page, "target", account.target);
    } else {
        say_line(&page, "together", account.together);
        say_line(&page, "target", account.target);
        say_line(&page, "surplus", account.surplus);
    }
    if (!account.adds_up) {
        say(&page, "  These do not add up: the record of this day is damaged.\n");
    }
}

void report_night(const struct report *report, bool is_utf8, FILE *out)
{
    const struct page page = {.is_utf8 = is_utf8, .out = out};
    const struct report_nights *nights = report->nights;
    if (nights->count == 0) {
        return;
    }
    say(&page, "\nNight hours of this light day\n");
    for (int i = 0; i < nights->count; i++) {
        const struct night *night = &nights->nights[i];
        char text[800];
        night_text(night, nights->utc_offset_s, text, sizeof text);
        say(&page, "  %s\n", text);
        report_night_breaks(night, nights->utc_offset_s, is_utf8, out);
    }
}
