/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the page shows of the journal, as JSON. Each writes to `out` and returns 0, -ENOENT (nothing
 * of that is stored) or what the reader says, with a sentence; what was written then counts for
 * nothing. Errors of `out` stay in its error flag.
 */
#ifndef LAMPWARDEN_PAGE_JOURNAL_H
#define LAMPWARDEN_PAGE_JOURNAL_H

#include "journal_read.h"
#include "page_paths.h"

#include <stdio.h>

enum { PAGE_EVENTS_MAX = 500 }; /* the latest; older ones are left out */

/* The object of report_json. */
int page_day(struct journal_reader *reader, const struct page_request *request, FILE *out,
             struct err *err);

/*
 * {space, day, begin_s, utc_offset_s, is_closed, limiters [names], limiter_words [of each],
 *  qualities [names], columns [names], rows [[one value a column], …]}, a row a minute, in order:
 *   wall_s, lamp_umol, daylight_umol, ppfd_umol, level, limiter (index), heatsink_c, air_c,
 *   humidity_percent, watts, delivered_mol, target_mol, price_per_kwh, quality (index)
 * null: not known.
 */
int page_minutes(struct journal_reader *reader, const struct page_request *request, FILE *out,
                 struct err *err);

/* The objects of report_days_json and report_nights_json, of the newest `count` dates. */
int page_days(struct journal_reader *reader, const struct page_request *request, FILE *out,
              struct err *err);

int page_nights(struct journal_reader *reader, const struct page_request *request, FILE *out,
                struct err *err);

/* A list of the objects of report_event_json, the oldest first. */
int page_events(struct journal_reader *reader, const struct page_request *request, FILE *out,
                struct err *err);

/* The object of why_at. -EINVAL, -ERANGE: no such time. */
int page_why(struct journal_reader *reader, const struct page_request *request, FILE *out,
             struct err *err);

#endif
