/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The report of one light day of one space, made from the journal's records alone: the day's
 * summary, its minutes in hours and in the columns of a chart, its events. Times are at the day's
 * fixed UTC offset. The same report serves the operator's command and a rehearsal's scratch
 * journal.
 */
#ifndef LAMPWARDEN_REPORT_H
#define LAMPWARDEN_REPORT_H

#include "journal_read.h"

#include <stdbool.h>
#include <stdio.h>

struct report;

/* -ENOENT: that day is not stored (the sentence names the days that are); else as the reader says.
 */
int report_create(struct journal_reader *reader, const char *space, int64_t light_day,
                  struct report **ret, struct err *err);

/* -ENOENT with that sentence; space NULL: any. */
int report_no_day(struct journal_reader *reader, const char *space, int64_t light_day,
                  struct err *err);
void report_destroy(struct report *report); /* NULL is fine */

/* For people: sentences, mol account, night, table of hours, chart, events. is_utf8 false: ASCII
 * only. */
void report_text(const struct report *report, bool is_utf8, FILE *out);

/* "light day 2026-11-02 (Monday)"; and what the text says of the day in sentences, a line each. */
void report_title(const struct report *report, char *buffer, size_t size);
void report_sentences(const struct report *report, bool is_utf8, FILE *out);

/*
 * One JSON object on one line. The first keys are those of report_day_json, then:
 *   ageing  what the lamps give of their commissioned light, in words, or null
 *   hours   [{begin, ppfd_umol, mol, level, limiter, heatsink_max_c, energy_kwh, minutes}]
 *   nights  the night hours of that light day, cut to it: objects as of report_nights_json
 *   events  [{time, space, fixture, class, kind, a, b, text}]
 * -ENOMEM. Errors of `out` stay in its error flag.
 */
int report_json(const struct report *report, FILE *out);

/*
 * The summary of a day as one JSON object on one line:
 *   space, light_day ("2026-11-02"), stage, stage_day, is_closed, utc_offset_s,
 *   target_mol, delivered_mol, lamp_mol, daylight_mol, bridged_mol, to_come_mol, surplus_mol,
 *   missing_mol, reach_mol, feasible, missed (below 98 % of a target in reach), energy_kwh, cost,
 *   lamp_cost (of the lamp light alone, without what is drawn while it is off),
 *   bound_cost (the least that the target could have cost in lamp light, known in hindsight),
 *   even_cost (the lamp light given, at one level through the window); all three null while the day
 *     runs, or when more than an hour of it was not seen,
 *   currency, lights_on, lights_off (ISO 8601 or null), switch_operations, heatsink_max_c,
 *   heat_trips, driver_trips, measured_s, bridged_s, lost_s, night_dose_umol_m2,
 *   night_possible_umol_m2 (at most, from openings that were not confirmed), night_longest_s,
 *   night_breaks, short_mol ({limiter: mol}, what is missing and who took it),
 *   met (less than 0.05 mol missing; null without a target or while the day runs), why (the limiter
 *     that took most, or null), night (in a word: report_days.h).
 * Values that are not known are null. -ENOMEM.
 */
int report_day_json(const struct journal_day *day, FILE *out);

/* One event as the object above, on one line. offset_s: of the time shown. -ENOMEM. */
int report_event_json(const struct journal_event *event, int32_t offset_s, FILE *out);

/* "time,space,light_day,ppfd_umol,lamp_umol,…": the names of a minute row, and the row; unknown
 * values are empty. */
void report_csv_header(FILE *out);
void report_csv_minute(const struct journal_minute *minute, int32_t offset_s, FILE *out);

/* All minutes of the report's day. */
int report_csv(const struct report *report, struct journal_reader *reader, FILE *out,
               struct err *err);

/* One event as a line of text: "06:00  space  ALARM  sentence". */
void report_event_text(const struct journal_event *event, int32_t offset_s, bool with_date,
                       bool is_utf8, FILE *out);

#endif
