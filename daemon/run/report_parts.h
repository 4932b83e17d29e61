/* SPDX-License-Identifier: Apache-2.0 */
/* The insides of a report, shared by the report*.c files. */
#ifndef LAMPWARDEN_REPORT_PARTS_H
#define LAMPWARDEN_REPORT_PARTS_H

#include "ageings.h"
#include "report.h"
#include "report_nights.h"

enum {
    REPORT_HOURS = 26,   /* 24 h may touch 25 civil hours */
    REPORT_COLUMNS = 72, /* of the chart: 20 min each */
    REPORT_COLUMN_S = 86400 / REPORT_COLUMNS,
    REPORT_EVENTS_MAX = 400, /* more are counted */
};

/* What a stretch of minutes came to. */
struct report_span {
    int minutes;
    double umol_sum; /* PPFD, or the estimate where no reading was good */
    int umol_minutes;
    double level_sum;
    double watt_minutes;
    double heatsink_max_c; /* NaN: none */
    double delivered_mol;  /* of the day, at the end of the last minute; NaN: unknown */
    int limiter_minutes[LIMITER_COUNT];
};

struct report {
    struct journal_day day;
    int64_t first_hour_s; /* wall time at which hours[0] begins, a full civil hour */
    struct report_span hours[REPORT_HOURS];
    struct report_span columns[REPORT_COLUMNS];
    double price_low, price_high; /* NaN: none */
    char age[AGEINGS_WORDS_MAX]; /* of the lamps at that time; "": not known any more, or not yet */
    struct journal_event *events;
    int event_count, events_left_out;
    struct report_nights *nights; /* within the light day, cut to it */
};

/* The mol account as it is shown: lines that add up to target and surplus, in hundredths of a mol,
 * rounded so that what is printed adds up. */
enum report_part { REPORT_LAMPS, REPORT_DAYLIGHT, REPORT_TO_COME, REPORT_MISSING };

struct report_line {
    enum report_part part;
    const char *words; /* "delivered by the lamps", "heat foldback" */
    int64_t hundredths;
};

struct report_lines {
    int count; /* lines of 0.00 are left out, but for the first */
    struct report_line lines[3 + LIMITER_COUNT];
    int64_t together, target, surplus; /* hundredths */
    bool adds_up;                      /* false: the record of the day is damaged */
};

void report_lines(const struct report *report, struct report_lines *ret);

double report_span_umol(const struct report_span *span);          /* NaN: nothing known */
double report_span_level(const struct report_span *span);         /* NaN: nothing known */
enum limiter report_span_limiter(const struct report_span *span); /* LIMITER_COUNT: no minute */

/* mol of hour i: what the day's sum grew by. NaN without a record. */
double report_hour_mol(const struct report *report, int hour);

/* What no light day can be (a damaged row, an unknown value) as 0. */
double report_finite(double mol);

/* Rounds parts to hundredths so that they add up to the rounded sum: what is printed adds up. */
void report_round(const double *parts, int count, int64_t *ret_hundredths);

/* Fields of CSV after RFC 4180: a text, in quotes where it must be; a number and the comma behind
 * it, empty when it is not known. */
void report_csv_text(const char *text, FILE *out);
void report_csv_real(double value, FILE *out);

/* Text in UTF-8, or with its few special signs in ASCII. */
void report_print(FILE *out, bool is_utf8, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* How much of their commissioned light the lamps give. */
void report_age(const struct report *report, bool is_utf8, FILE *out);

void report_account(const struct report *report, bool is_utf8, FILE *out);
void report_night(const struct report *report, bool is_utf8,
                  FILE *out); /* sentences, a line each */
void report_hours(const struct report *report, bool is_utf8, FILE *out); /* the table */
void report_chart(const struct report *report, bool is_utf8, FILE *out);
void report_events(const struct report *report, bool is_utf8, FILE *out);

/* A sweep moves outputs by hand some hundred times: how many of the events behind number i only say
 * so, and are told in one line: "93 more by hand until 13:40:12". 0: few enough to be told each. */
int report_more_by_hand(const struct report *report, int i, char *words, size_t size);

/* The letter of a limiter in the charts; ' ' for LIMITER_COUNT. */
char report_letter(enum limiter limiter);

/* Who ruled an hour, as the table of hours says it. */
void report_ruler(const struct report_span *span, char *buffer, size_t size);

/* The hour behind those from `first` on that say the same, before `end`: dark under one limiter, or
 * without a record. */
int report_hour_end(const struct report *report, int first, int end);

/* Where hour i begins and the one before it ends; the light day may cut the first and the last. */
int64_t report_edge_s(const struct report *report, int hour);

/* "06:00" at the offset, full minutes; "-" for 0, a moment that is not known. At least 9 bytes. */
void report_time_of_day(int64_t wall_s, int32_t offset_s, char *buffer, size_t size);

/* The same at the report's offset. */
void report_clock(const struct report *report, int64_t wall_s, char *buffer, size_t size);

/* Whether that is behind the midnight that ends the civil day on which the light day began. */
bool report_is_next_day(const struct report *report, int64_t wall_s);

#endif
