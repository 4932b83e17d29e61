/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Strict parsing of text that a person or a peer wrote: the whole string or nothing, never NaN or
 * infinity, never a locale's comma, always a range. Outputs are untouched on failure; errors are
 * -EINVAL (not of that form) or -ERANGE, with a sentence that names the text and the range.
 */
#ifndef LAMPWARDEN_PARSE_H
#define LAMPWARDEN_PARSE_H

#include <stdint.h>

struct err;

int parse_real(const char *text, double low, double high, double *ret, struct err *err);
int parse_int(const char *text, int64_t low, int64_t high, int64_t *ret, struct err *err);

/* "06:30" or "06:30:15" → seconds since midnight, 0 … 86399. */
int parse_time_of_day(const char *text, int32_t *ret_s, struct err *err);

/* "+01:00", "-09:30", "Z" → seconds east of UTC, −14 h … +14 h. */
int parse_utc_offset(const char *text, int32_t *ret_s, struct err *err);

/* "2026-11-02" → days since 1970-01-01; years 1970 … 2199, calendar checked. */
int parse_date(const char *text, int64_t *ret_day, struct err *err);

/* "2026-11-02T06:00:00+01:00", "…T06:00Z", a space instead of T allowed; the offset is required.
 * → seconds since 1970-01-01 UTC. */
int parse_datetime(const char *text, int64_t *ret_wall_s, struct err *err);

/* "90s", "30min", "2h", "1d", "1h30min" → seconds, > 0 and ≤ high_s. A bare number is refused:
 * a duration always says its unit. */
int parse_duration(const char *text, int64_t high_s, int64_t *ret_s, struct err *err);

/* "30m", "15cm", "2mm", "100ft", "6in" → metres, low_m … high_m. A bare number is refused. (1 ft =
 * 0.3048 m, 1 in = 0.0254 m: International yard and pound agreement, 1959.) */
int parse_length(const char *text, double low_m, double high_m, double *ret_m, struct err *err);

/* A stranger's text for a message, a terminal or JSON: control characters and bytes that are no
 * UTF-8 become '?', what does not fit becomes "…". */
void parse_quote(const char *text, char *buffer, unsigned size);

/* Edit distance with a limit, to offer the nearest known word; > limit when farther. */
int parse_distance(const char *a, const char *b, int limit);

/* 1970-01-01 + day → "2026-11-02"; at least 11 bytes. */
void parse_format_date(int64_t day, char *buffer, unsigned size);

/* wall seconds at a fixed offset → "2026-11-02T06:00:00+01:00"; at least 26 bytes. */
void parse_format_datetime(int64_t wall_s, int32_t offset_s, char *buffer, unsigned size);

/* seconds since midnight → "06:30" (seconds shown only when they are not 0); at least 9 bytes. */
void parse_format_time_of_day(int32_t second, char *buffer, unsigned size);

/* A length of time for people: "45 s", "90 s", "12 min", "3 h 05 min", "2 d 4 h"; ≥ 24 bytes. */
void parse_format_duration(double seconds, char *buffer, unsigned size);

#endif
