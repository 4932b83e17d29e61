/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Events of the shell itself ("bus-lost", "reload", "clock-step", …), told once: a log line, a
 * record in the journal, and the commands of alarm.h. Events of the core come from the recorder and
 * only get their log line here.
 */
#ifndef LAMPWARDEN_ANNOUNCE_H
#define LAMPWARDEN_ANNOUNCE_H

#include "journal.h"

struct alarms;

struct announcement {
    const char *space, *fixture; /* NULL: none */
    int64_t wall_s;              /* 0: not known */
    enum journal_class class;
    const char *kind;
    bool has_values;
    double a, b; /* valid with has_values */
};

/* journal NULL: not stored; alarms NULL: nobody is told. */
void announce(struct journal *journal, struct alarms *alarms, const struct announcement *what,
              const char *text);

void announce_log(const struct journal_event *event);

/* The names of all events, ended by NULL: announce_kinds.c. */
const char *const *announce_kinds(void);
bool announce_knows_kind(const char *word);

#endif
