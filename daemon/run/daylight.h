/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A daylight file for rehearsals: a timeseries with the header `time,ppfd_umol`; the PPFD
 * (µmol m⁻² s⁻¹ at the canopy, 0 … 4000) holds until the next row, but no longer than four usual
 * steps of the file (an hour at least), and darkness no longer than a day: a row that is missing
 * says nothing.
 */
#ifndef LAMPWARDEN_DAYLIGHT_H
#define LAMPWARDEN_DAYLIGHT_H

#include "lightday.h"
#include "timeseries.h"

#include <stdbool.h>

#define DAYLIGHT_WORDS_MAX 512

struct daylight {
    struct timeseries rows;
    int64_t hold_s; /* how long a value holds at the most */
    size_t at;      /* row of the last answer, to make the next one cheap */
};

/* Errors name file:line, value and range. *ret is the caller's; free with daylight_free. */
int daylight_load(const char *path, struct daylight *ret, struct err *err);
void daylight_free(struct daylight *daylight);

/* NaN where the file says nothing: before the first row, after the last one, in a gap. */
double daylight_umol(struct daylight *daylight, int64_t wall_s);

/* A stretch of which the file says nothing. */
struct daylight_gap {
    int64_t from_s, to_s; /* of the part that was asked for */
    int64_t after_s;      /* the last row before it; INT64_MIN: none */
    int64_t before_s;     /* the next row after it; INT64_MAX: none */
};

/* The first one in from_s … to_s. False: the file covers all of it. */
bool daylight_gap(const struct daylight *daylight, int64_t from_s, int64_t to_s,
                  struct daylight_gap *ret);

/* "FILE ends at …: light day … is dark outside from …" of that gap. */
void daylight_words_gap(const char *path, const struct daylight_gap *gap,
                        const struct lightday_rules *rules, char *buffer, size_t size);

#endif
