/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Commands that are run for events: whoever wants mail, chat or a siren gives a program.
 *
 * One thread a command, one run at a time, a bounded queue before it: alarms_note copies and never
 * waits. At most per_hour runs in an hour; what comes on top is held back, and the newest of it is
 * told as soon as the hour allows it, with the number of the others. A command is killed with its
 * process group after its time limit. Failures are logged once, and again when it works; all are
 * counted. All times here are real time. The functions belong to the tick's thread.
 */
#ifndef LAMPWARDEN_ALARM_H
#define LAMPWARDEN_ALARM_H

#include "alarm_run.h"
#include "config.h"

#define ALARM_QUEUE_MAX 16

struct alarms;

/* For those who only look. */
struct alarm_view {
    char name[CONFIG_NAME_MAX];
    uint64_t runs[ALARM_OUTCOMES]; /* by how they ended */
    uint64_t held_back;            /* events that were never told by themselves */
    bool is_failing;               /* its last run was not ALARM_DONE */
    uint32_t test_asked, test_done;
    struct alarm_result last, test; /* of the last run; of the last test */
};

struct alarms_setup {
    const struct config *config; /* copied */
    double pace;                 /* of a demonstration; 0: in earnest */
};

/* Starts a thread for each command of the configuration. */
int alarms_open(const struct alarms_setup *setup, struct alarms **ret, struct err *err);

/* After a reload. Commands that are as before go on, with what they hold back and have counted;
 * else all begin anew, and the old ones get ten seconds for what they still have to tell. On
 * failure the old ones go on. */
int alarms_change(struct alarms *alarms, const struct alarms_setup *setup, struct err *err);

/* An event, for every command that wants its class or kind. NULL: nobody is told. */
void alarms_note(struct alarms *alarms, const struct journal_event *event);

/* Lets a command run for an invented event, past class, kinds and the hour. Returns the number of
 * the test, or −1: no command of that name. */
int64_t alarms_test(struct alarms *alarms, const char *name);

int alarms_count(const struct alarms *alarms); /* NULL: 0 */
void alarms_look(struct alarms *alarms, int index, struct alarm_view *ret);

/* Gives what waits at most timeout_s, then kills what runs and ends. NULL is fine. */
void alarms_close(struct alarms *alarms, double timeout_s);

#endif
