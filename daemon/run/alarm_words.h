/* SPDX-License-Identifier: Apache-2.0 */
/* What a command is told: its arguments, its environment, its standard input. */
#ifndef LAMPWARDEN_ALARM_WORDS_H
#define LAMPWARDEN_ALARM_WORDS_H

#include "alarm_run.h"

#define ALARM_WORDS_BYTES  16384
#define ALARM_WORDS_COUNT  32 /* of arguments: CONFIG_ALARM_WORDS_MAX */
#define ALARM_ENVIRONMENT  14
#define ALARM_SENTENCE_MAX 512

/* Everything in one piece of memory; pointers go into it. */
struct alarm_words {
    char *arguments[ALARM_WORDS_COUNT + 1];   /* NULL-ended */
    char *environment[ALARM_ENVIRONMENT + 1]; /* NULL-ended */
    char sentence[ALARM_SENTENCE_MAX];        /* for people, with a newline; standard input */
    char bytes[ALARM_WORDS_BYTES];
    size_t used;
};

/* -E2BIG: it does not fit. */
int alarm_words_fill(const char *const *command, const struct alarm_message *message,
                     struct alarm_words *ret);

#endif
