/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Events of the shell itself ("bus-lost", "reload", "clock-step", …), told once: a log line and a
 * record in the journal. Events of the core come from the recorder and only get their log line
 * here.
 */
#ifndef LAMPWARDEN_ANNOUNCE_H
#define LAMPWARDEN_ANNOUNCE_H

#include "journal.h"

struct announcement {
    const char *space, *fixture; /* NULL: none */
    int64_t wall_s;              /* 0: not known */
    enum journal_class class;
    const char *kind;
    bool has_values;
    double a, b; /* valid with has_values */
};

/* journal NULL: the log line alone. */
void announce(struct journal *journal, const struct announcement *what, const char *text);

void announce_log(const struct journal_event *event);

#endif
