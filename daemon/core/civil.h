/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Civil time: what the clock on the wall shows, for prices that follow it. The light day does not
 * follow it (lightday.h). Offsets come as a table of changes, made by the shell from the system's
 * zone table; between two changes the offset stands still.
 */
#ifndef LAMPWARDEN_CIVIL_H
#define LAMPWARDEN_CIVIL_H

#include <stdint.h>

struct civil_change {
    int64_t from_s;   /* UTC, from this second on … */
    int32_t offset_s; /* … the clock on the wall shows UTC + offset */
};

struct civil {
    int32_t offset_s; /* before the first change, or always */
    int count;
    const struct civil_change *changes; /* strictly rising; owned by the configuration */
};

struct civil_time {
    int month;   /* 1 … 12 */
    int day;     /* of the month, 1 … 31 */
    int weekday; /* 0 Monday … 6 Sunday */
    int second;  /* of the civil day, 0 … 86399: what the clock shows, not what has passed */
    int32_t year;
};

int32_t civil_offset(const struct civil *civil, int64_t wall_s);
struct civil_time civil_time(const struct civil *civil, int64_t wall_s);

/* The next change after wall_s, or INT64_MAX. */
int64_t civil_next_change(const struct civil *civil, int64_t wall_s);

/* Where the civil day of wall_s begins. A day is 23, 24 or 25 h long (or 24 h and half an hour):
 * the next one begins at civil_day_start(that + 36 h). */
int64_t civil_day_start(const struct civil *civil, int64_t wall_s);

/* Days since 1970-01-01 of a date of the proleptic Gregorian calendar. */
int64_t civil_day(int32_t year, int month, int day);

#endif
