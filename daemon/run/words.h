/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Sentences for growers, in one place: status, events and reports say the same thing in the same
 * words. Every function writes at most `size` bytes including the NUL.
 */
#ifndef LAMPWARDEN_WORDS_H
#define LAMPWARDEN_WORDS_H

#include "config.h"
#include "decide.h"

#include <stddef.h>

/* "on at 62 % by plan", "dark: night until 06:00", "on at 41 %, held down by heat (68.2 °C)" … */
void words_state(const struct config *config, int space, const struct now *now,
                 const struct verdict *verdict, char *buffer, size_t size);

/* What a limiter means, for the account and reports: "heat foldback", "minimum off time of the
 * switch". */
const char *words_limiter(enum limiter limiter);

/* One event of decide as a sentence with names, values and units. */
void words_event(const struct config *config, int space, const struct decide_event *event,
                 char *buffer, size_t size);

#endif
