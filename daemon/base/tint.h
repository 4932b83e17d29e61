/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Colour for lines that want a look. Only on a terminal, only where TERM is not "dumb", and never
 * where NO_COLOR is set and not empty (the custom of https://no-color.org). The mark that a line
 * bears, '!' or '*', says the same without colour.
 */
#ifndef LAMPWARDEN_TINT_H
#define LAMPWARDEN_TINT_H

#include <stddef.h>
#include <stdio.h>

enum tint {
    TINT_NONE,
    TINT_NOTICE, /* bold */
    TINT_ALARM,  /* bold and red */
};

/* By the mark that stands alone, first in the line or behind a date and time only. */
enum tint tint_of_line(const char *line, size_t length);

/* Around what is written to `out`; nothing where colour is not wanted. */
void tint_begin(FILE *out, enum tint tint);
void tint_end(FILE *out, enum tint tint);

#endif
