/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The operator's command: `lampwarden VERB …`. One verb a file, each with one const struct verb.
 *
 * To add a verb: write its file, declare `extern const struct verb verb_NAME;` below, put it into
 * main.c's table. The dispatcher answers --help; a verb's `run` gets argv[0] = its name, reads its
 * words with options.h, prints its answer on stdout (for programs by json_out.h) and its troubles
 * on stderr, and returns an exit code. It never calls exit.
 */
#ifndef LAMPWARDEN_VERB_H
#define LAMPWARDEN_VERB_H

#include <stdbool.h>

#define VERB_DEFAULT_CONFIG "/etc/lampwarden/lampwarden.conf"

enum verb_exit {
    VERB_OK = 0,
    VERB_FAILED = 1,     /* understood, but it could not be done */
    VERB_USAGE = 2,      /* the command line is wrong */
    VERB_BAD_CONFIG = 3, /* the configuration is wrong */
};

struct verb {
    const char *name;
    const char *summary; /* one sentence without a full stop, for `lampwarden --help` */
    const char *help;    /* usage, options and examples as they are printed, ends with a newline */
    int (*run)(int argc, char **argv); /* returns an enum verb_exit */
};

extern const struct verb verb_alarm, verb_breaker, verb_check, verb_day, verb_days, verb_events,
    verb_gain, verb_hold, verb_lead, verb_metrics, verb_nights, verb_plan, verb_power,
    verb_rehearse, verb_reload, verb_resume, verb_sense, verb_sheet, verb_status, verb_survey,
    verb_sweep, verb_try, verb_why;

/* "lampwarden VERB: sentence" on stderr. Returns `code`, so that a verb can end with it. */
int verb_fail(const char *verb, enum verb_exit code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The same for a wrong command line; points to the verb's help and returns VERB_USAGE. */
int verb_usage(const char *verb, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Whether the reader's locale shows UTF-8: what the reports' is_utf8 asks. */
bool verb_takes_utf8(void);

#endif
