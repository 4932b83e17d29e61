/* SPDX-License-Identifier: Apache-2.0 */
/* Text for a terminal of 80 columns: lines that are longer go on below. */
#ifndef LAMPWARDEN_WRAP_H
#define LAMPWARDEN_WRAP_H

#include <stdio.h>

enum {
    WRAP_COLUMNS = 80,
    WRAP_HELP = -2, /* of indented lines by column, of others at the margin */
    WRAP_BY_COLUMN =
        -1, /* below where the line's last column begins, behind two spaces or more; else 2 */
};

/* Writes the text, UTF-8, line by line; what is longer than 80 characters is broken at single
 * spaces and goes on behind `hang` spaces. A word that is too long stays whole. Lines that want a
 * look are tinted as tint.h says. */
void wrap_text(FILE *out, const char *text, int hang);

/* The help of a verb for a terminal: lines of one paragraph or of one option are joined before they
 * are wrapped. Commands to type and whatever is short stays as it is. */
void wrap_help(FILE *out, const char *text);

/* A page that is written first and wrapped at its end. */
struct wrap {
    FILE *out, *page;
    char *text;
    size_t size;
};

/* Where to write; `out` itself, unwrapped, where memory is short. */
FILE *wrap_begin(struct wrap *wrap, FILE *out);
void wrap_end(struct wrap *wrap, int hang);

#endif
