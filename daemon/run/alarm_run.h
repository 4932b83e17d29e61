/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One run of a foreign program: no shell, a cleared environment, closed descriptors, a session and
 * process group of its own, which is killed when it takes too long and when it has ended (what it
 * left behind goes too). Output goes nowhere; of its error output the beginning is kept.
 */
#ifndef LAMPWARDEN_ALARM_RUN_H
#define LAMPWARDEN_ALARM_RUN_H

#include "journal.h"

#include <stdatomic.h>
#include <stdbool.h>

enum alarm_outcome {
    ALARM_DONE,      /* exit code 0 */
    ALARM_FAILED,    /* another one, or a signal */
    ALARM_LATE,      /* killed after its time */
    ALARM_NOT_BEGUN, /* no such file, not executable … */
    ALARM_OUTCOMES
};

/* "done", "failed", "late", "not_begun" */
const char *alarm_outcome_name(enum alarm_outcome outcome);

struct alarm_result {
    enum alarm_outcome outcome;
    double seconds;   /* that it took */
    char reason[128]; /* "exit code 1: no such host"; "" after ALARM_DONE */
};

/* What it is told. Texts live as long as the call. */
struct alarm_message {
    const char *alarm; /* its name */
    const char *site;
    const char *demonstration; /* NULL: in earnest */
    int32_t utc_offset_s;
    uint64_t held_back; /* events before this one that were not told */
    const struct journal_event *event;
};

/* command: NULL-ended, the first a whole path; {text} and the like in the others are replaced.
 * Waits until the program has ended, limit_s at most; *by_ns (real time, may be moved by another
 * thread): or until then. Not for the tick's thread. */
void alarm_run(const char *const *command, const struct alarm_message *message, double limit_s,
               const _Atomic int64_t *by_ns, struct alarm_result *ret);

#endif
