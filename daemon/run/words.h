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

/* Behind "clock", of a name by clocktrust_name: "not believed", "not synchronised",
 * "synchronised"; another name as it is. */
const char *words_clock(const char *name);

/* What a limiter means, for the account and reports: "heat foldback", "minimum off time of the
 * switch". */
const char *words_limiter(enum limiter limiter);

/* The same of what a day lacks. The plan takes nothing: it did not know of a darker sky, a higher
 * target. */
const char *words_missing(enum limiter limiter);

/* One event of decide as a sentence with names, values and units. */
void words_event(const struct config *config, int space, const struct decide_event *event,
                 char *buffer, size_t size);

/* "17.0 mol asked, 15.2 reachable: window 16 h, ceiling 380 µmol m⁻² s⁻¹, heat −6 %". */
void words_reach(const struct reach *reach, char *buffer, size_t size);

/* One fixture and what was decided for it. */
struct words_lamp {
    const struct fixture_rules *rules;
    const struct fixture_now *now;
    const struct fixture_state *state;
    const struct fixture_verdict *verdict;
    int64_t boot_ns;
};

/* Why an output that is moved by hand is not where it was asked to be: "held at 0.88 by: drive
 * ceiling", "stays open for another 212 s: minimum off time of the switch"; "" while it is there or
 * is not moved by hand. */
void words_trial(const struct words_lamp *lamp, bool of_contact, char *buffer, size_t size);

#endif
