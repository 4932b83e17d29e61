/* SPDX-License-Identifier: Apache-2.0 */
/* The insides of `lampwarden day --html` and `--plot`: a day with its minutes. */
#ifndef LAMPWARDEN_DAY_PARTS_H
#define LAMPWARDEN_DAY_PARTS_H

#include "html_out.h"
#include "report_parts.h"

#include <stdbool.h>
#include <stdio.h>

enum { DAY_MINUTES = 1440 };

/* Of the present configuration, beside the day's temperatures. NaN: not known, or none. */
struct day_limits {
    double from_c; /* the foldback begins */
    double trip_c; /* the switch opens */
};

struct day_minutes {
    int count;
    struct journal_minute minutes[DAY_MINUTES]; /* rising, of this light day */
};

struct day_sheet {
    struct report *report;
    struct day_minutes *minutes;
    struct day_limits limits;
    bool is_alone; /* the chart stands by itself and needs a title */
};

/* As report_create; -ENOMEM. */
int day_sheet_make(struct journal_reader *reader, const char *space, int64_t light_day,
                   struct day_sheet *ret, struct err *err);
void day_sheet_free(struct day_sheet *sheet); /* zeroed is fine */

/* Draws PPFD, level and who ruled, temperatures and price over the day: a html_draw_fn, and for
 * --plot. context: struct day_sheet. -ENOENT: gnuplot is not installed. */
int day_chart(const void *context, const char *path, struct err *err);

/* The way from target to delivered as bars: drawn here, so that it is there without gnuplot. */
void day_account(struct html *html, const struct report *report);

/* The whole of one space, as a section of the page. */
void day_section(struct html *html, const struct day_sheet *sheet);

extern const char day_style[]; /* CSS behind the common one */

#endif
