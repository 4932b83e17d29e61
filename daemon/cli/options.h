/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The options of a verb as a table that names where each goes. (getopt.h's struct option would
 * collide with that of driver.h.) Accepted: --name VALUE, --name=VALUE, -n VALUE, flags, "--",
 * words anywhere between them.
 */
#ifndef LAMPWARDEN_OPTIONS_H
#define LAMPWARDEN_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

struct verb_option {
    const char *name;  /* without the dashes; NULL ends the table */
    char letter;       /* 0: none */
    const char **text; /* gets the value, or … */
    bool *flag;        /* … becomes true */
};

/* Reads argv[1] … and moves the words that belong to no option to argv[1] … in their order. Returns
 * their number (at most words_max), or −1 after verb_usage said what is wrong. */
int verb_options(const char *verb, const struct verb_option *table, int argc, char **argv,
                 int words_max);

/* A number of an option that may be left out (text NULL: *ret stays). VERB_OK, or VERB_USAGE after
 * verb_usage said what is wrong with "--NAME". */
int verb_number(const char *verb, const char *option, const char *text, double low, double high,
                double *ret);

/* The same for a whole number. */
int verb_int(const char *verb, const char *option, const char *text, int64_t low, int64_t high,
             int64_t *ret);

/* … and for a share, as level_word.h reads it. */
int verb_share(const char *verb, const char *option, const char *text, double *ret);

#endif
