/* SPDX-License-Identifier: Apache-2.0 */
/* Lines for a terminal: UTF-8, or its few special signs in ASCII; and an event as a line. */
#include "parse.h"
#include "report.h"
#include "report_parts.h"
#include "tint.h"

#include <stdarg.h>
#include <string.h>

/* The signs that our own sentences use. */
static const struct {
    const char *sign, *ascii;
} signs[] = {
    {"µ", "u"}, {"°", ""},  {"⁻", "-"},   {"²", "2"},   {"³", "3"},  {"¹", "1"}, {"−", "-"},
    {"–", "-"}, {"·", "."}, {"…", "..."}, {"€", "EUR"}, {"≥", ">="}, {"×", "x"}, {"±", "+-"},
};

static void put_ascii(FILE *out, const char *text)
{
    while (*text) {
        if ((unsigned char)*text < 0x80) {
            (void)fputc(*text++, out);
            continue;
        }
        const char *ascii = "?";
        size_t length = 1;
        for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++) {
            if (strncmp(text, signs[i].sign, strlen(signs[i].sign)) == 0) {
                ascii = signs[i].ascii;
                length = strlen(signs[i].sign);
            }
        }
        (void)fputs(ascii, out);
        text += length;
        while (((unsigned char)*text & 0xc0) == 0x80) {
            text++; /* the rest of a sign that has no name here */
        }
    }
}

void report_print(FILE *out, bool is_utf8, const char *format, ...)
{
    char line[1024];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(line, sizeof line, format, args); /* longer lines are cut */
    va_end(args);
    if (is_utf8) {
        (void)fputs(line, out);
    } else {
        put_ascii(out, line);
    }
}

void report_age(const struct report *report, bool is_utf8, FILE *out)
{
    if (report->age[0]) {
        report_print(out, is_utf8, "Light of the lamps: %s.\n", report->age);
    }
}

void report_event_text(const struct journal_event *event, int32_t offset_s, bool with_date,
                       bool is_utf8, FILE *out)
{
    static const char *const marks[] = {
        [JOURNAL_INFO] = " ", [JOURNAL_NOTICE] = "*", [JOURNAL_ALARM] = "!"};
    static const enum tint tints[] = {
        [JOURNAL_INFO] = TINT_NONE, [JOURNAL_NOTICE] = TINT_NOTICE, [JOURNAL_ALARM] = TINT_ALARM};
    char time[32];
    parse_format_datetime(event->wall_s, offset_s, time, sizeof time);
    time[10] = ' '; /* 2026-11-02T06:00:00+01:00 */
    time[19] = '\0';
    tint_begin(out, tints[event->class]);
    if (with_date) {
        report_print(out, is_utf8, "%s %s %-16s %s\n", time, marks[event->class],
                     event->space[0] ? event->space : "(daemon)", event->text);
    } else {
        report_print(out, is_utf8, "  %s %s %s\n", time + 11, marks[event->class], event->text);
    }
    tint_end(out, tints[event->class]);
}
