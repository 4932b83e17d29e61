/* SPDX-License-Identifier: Apache-2.0 */
/* A moment of the past as a person writes it. */
#ifndef LAMPWARDEN_WHY_TIME_H
#define LAMPWARDEN_WHY_TIME_H

#include <stdint.h>

struct err;

/* "14:05": the latest one up to newest_s; "today 14:05", "yesterday 14:05": of the day of newest_s
 * and the one before; "2026-11-24T14:05" (or a space instead of T), all at the fixed offset, and
 * "2026-11-24T14:05+02:00" at its own. → wall seconds, the beginning of the minute. -EINVAL or
 * -ERANGE with a sentence. */
int why_time(const char *text, int32_t offset_s, int64_t newest_s, int64_t *ret_s, struct err *err);

#endif
