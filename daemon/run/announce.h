/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Events of the shell itself ("bus-lost", "reload", "clock-step", …), told once: a log line and a
 * record in the journal. Events of the core come from the recorder and only get their log line here.
 */
#ifndef LAMPWARDEN_ANNOUNCE_H
#define LAMPWARDEN_ANNOUNCE_H

#include "journal.h"

/* Where and when; space and fixture may be "" (or NULL). */
struct announce_place {
    const char *space, *fixture;
    int64_t wall_s;
};

/* journal NULL: the log line alone. a and b: NaN when there is nothing to say. */
void announce(struct journal *journal, const struct announce_place *place,
              enum journal_class class, const char *kind, double a, double b, const char *text);

void announce_log(const struct journal_event *event);

#endif
