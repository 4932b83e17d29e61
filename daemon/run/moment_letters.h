/* SPDX-License-Identifier: Apache-2.0 */
/* What the letters of a moment's text stand for; shared by its writer and its reader alone. */
#ifndef LAMPWARDEN_MOMENT_LETTERS_H
#define LAMPWARDEN_MOMENT_LETTERS_H

#include "moment.h"

#define MOMENT_LARGEST 1e12 /* of a number in the text */

/* What else is stored: NaN is left out, and so is 0 where it means nothing. */
struct moment_field {
    char letter;
    size_t offset; /* of a double */
    double scale;  /* written is the value times this */
    int decimals;
    bool skips_zero;
};

enum {
    MOMENT_SPACE_FIELDS = 8,
    MOMENT_FIXTURE_FIELDS = 6,
    /* the word J */
    MOMENT_IS_LIT = 1,
    MOMENT_BY_GUARD = 2,
    MOMENT_IS_FLOOR = 4,
    MOMENT_PHASE_SHIFT = 3, /* the stage's phase above these three */
};

extern const struct moment_field moment_space_fields[MOMENT_SPACE_FIELDS];     /* of a moment */
extern const struct moment_field moment_fixture_fields[MOMENT_FIXTURE_FIELDS]; /* of a fixture */

/* What goes without saying, by the rules of the space: in the window, in a stage, no flags; who
 * asks for the least rules, and it is so. */
struct moment_usual {
    bool is_lit;
    double level, planned_level;
    enum limiter limiter;
    enum chain_plan plan;
};

struct moment_usual moment_usual(const struct chain_rules *rules);

/* 'h'; small. */
char moment_letter(enum limiter limiter);

/* LIMITER_COUNT: no rule's. */
enum limiter moment_limiter(char letter);

#endif
