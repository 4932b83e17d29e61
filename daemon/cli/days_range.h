/* SPDX-License-Identifier: Apache-2.0 */
/* FROM and TO of the verbs that tell of many days, and the spaces that have some. */
#ifndef LAMPWARDEN_DAYS_RANGE_H
#define LAMPWARDEN_DAYS_RANGE_H

#include "journal.h"

enum { DAYS_RANGE_SPACES = 128, DAYS_RANGE_USUAL = 14 };

struct err;
struct journal_reader;

struct days_range {
    int64_t first, last; /* light days, both of them */
    int count;           /* ≥ 1 */
    char spaces[DAYS_RANGE_SPACES][JOURNAL_NAME_MAX];
};

/* What can be said of the words alone: -EINVAL, -ERANGE as of parse_date; -EINVAL: FROM lies behind
 * TO. NULL is a word that was not given. */
int days_range_check(const char *from, const char *to, struct err *err);

/* A date, or "yesterday": the light day before the latest. Without `to`: to the latest; without
 * both: the last 14 dates. -ENOENT: nothing of it is stored; the sentence names the days that are.
 */
int days_range_find(struct journal_reader *reader, const char *space, const char *from,
                    const char *to, struct days_range *ret, struct err *err);

#endif
