/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Many light days of one space beside each other: a line a day, sums and means a week, a stage and
 * of all, made from the journal's day summaries, which stay for ever. Weeks are those of ISO 8601
 * (they begin on Monday) by the date on which the light day begins. Days that still run, and days
 * on which no stage runs, are shown and are in no sum.
 */
#ifndef LAMPWARDEN_REPORT_DAYS_H
#define LAMPWARDEN_REPORT_DAYS_H

#include "journal_read.h"

#include <stdbool.h>
#include <stdio.h>

struct report_days {
    char space[JOURNAL_NAME_MAX];
    int count; /* ≥ 1; 0: no finished day yet */
    struct journal_day *days;
};

/* The days from `first` to `last`, both of them. -ENOENT: none of them is stored (the sentence
 * names those that are), or no such space; -ENOMEM; else as the reader says. */
int report_days_create(struct journal_reader *reader, const char *space, int64_t first,
                       int64_t last, struct report_days **ret, struct err *err);

/* What is stored of the `dates` newest dates; only_closed: up to the newest finished day, and
 * without those that run or were never finished; none of them is no error. Errors as above. */
int report_days_newest(struct journal_reader *reader, const char *space, int dates,
                       bool only_closed, struct report_days **ret, struct err *err);
void report_days_destroy(struct report_days *report); /* NULL is fine */

/*
 * One JSON object on one line:
 *   space
 *   days    one object a day, oldest first, with the keys of report_day_json
 *   weeks   [{week ("2026-W45"), …}]
 *   stages  [{stage (null: none runs), …}], one for every unbroken run of days of a stage
 *   all     {…}
 * where … of the finished days in it is
 *   from, to (first and last of them, or null), days, days_with_target, days_met,
 *   sum   {target_mol, delivered_mol, lamp_mol, daylight_mol, missing_mol, energy_kwh, cost},
 *   mean  the same a day,
 *   bound_days, bound_lamp_cost, bound_cost: of the days that met their target and whose least cost
 *     is known: how many, what their lamp light cost, the least it could have cost,
 *   currency (null: it changed), heat_trips, driver_trips,
 *   nights_broken, nights_possible, nights_unseen (days by report_night_word).
 * -ENOMEM. Errors of `out` stay in its error flag.
 */
int report_days_json(const struct report_days *report, FILE *out);

/* For people: the table of at most 80 columns. is_utf8 false: ASCII only. */
void report_days_text(const struct report_days *report, bool is_utf8, FILE *out);

/* The names of a row and the rows: a day each, unknown values empty. The columns are, in this
 * order: space, light_day, week, stage, stage_day, is_closed (1 or 0), met (1, 0, empty: no target
 * or still running), why (the limiter that took most of what is missing), then as in
 * report_day_json: target_mol, delivered_mol, lamp_mol, daylight_mol, missing_mol, energy_kwh,
 * cost, lamp_cost, bound_cost, even_cost, currency, lights_on, lights_off, switch_operations,
 * heatsink_max_c, heat_trips, driver_trips, night, night_dose_umol_m2, night_possible_umol_m2,
 * night_longest_s, night_breaks. */
void report_days_csv_header(FILE *out);
void report_days_csv(const struct report_days *report, FILE *out);

/* What some of the finished days came to together. Sums leave out what is not known. */
struct report_sum {
    int64_t first, last; /* light days; last < first: none is finished */
    int days, with_target, met;
    double target_mol, delivered_mol, lamp_mol, daylight_mol, missing_mol;
    double energy_kwh, cost;
    int bound_days;
    double bound_lamp_cost, bound_cost;
    const char *currency; /* of the days; NULL: it changed */
    uint32_t heat_trips, driver_trips;
    int nights_broken, nights_possible, nights_unseen;
};

struct report_sum report_days_sum(const struct report_days *report, int first, int end);

/* The day behind the last one that is in the same week, stage as day `first`. */
int report_days_week_end(const struct report_days *report, int first);
int report_days_stage_end(const struct report_days *report, int first);

/* "2026-W45"; at least 10 bytes. */
void report_week(int64_t light_day, char *buffer, unsigned size);

/* Whether a finished day met its target, to within what is not worth a word. */
bool report_is_met(const struct journal_day *day);

/* The limiter that took most of what the day lacks; LIMITER_COUNT: nothing is missing. */
enum limiter report_why(const struct journal_day *day);

/* The night hours of a light day in a word, by its summary: "broken" (a confirmed break),
 * "possible" (an opening that was not confirmed), "none" (no stage ran), "unseen" (no sensor showed
 * at least nine tenths of the day), "unlit" (the sensor sees the sky too: no lamp was lit, other
 * light is not told), "dark". */
const char *report_night_word(const struct journal_day *day);

#endif
