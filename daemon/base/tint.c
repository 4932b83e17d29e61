/* SPDX-License-Identifier: Apache-2.0 */
#include "tint.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum tint tint_of_line(const char *line, size_t length)
{
    size_t at = 0;
    while (at < length && strchr("0123456789:- ", line[at])) {
        at++;
    }
    if (at + 1 >= length || line[at + 1] != ' ' || (at > 0 && line[at - 1] != ' ')) {
        return TINT_NONE;
    }
    return line[at] == '!' ? TINT_ALARM : line[at] == '*' ? TINT_NOTICE : TINT_NONE;
}

static bool is_set(const char *name)
{
    const char *value = getenv(name); // NOLINT(concurrency-mt-unsafe): nobody sets it
    return value && value[0];
}

static bool takes_colour(FILE *out)
{
    const char *terminal = getenv("TERM"); // NOLINT(concurrency-mt-unsafe): nobody sets it
    const int fd = fileno(out);            /* -1: memory */
    return fd >= 0 && isatty(fd) && !is_set("NO_COLOR") && terminal &&
           strcmp(terminal, "dumb") != 0;
}

void tint_begin(FILE *out, enum tint tint)
{
    if (tint != TINT_NONE && takes_colour(out)) {
        (void)fputs(tint == TINT_ALARM ? "\033[1;31m" : "\033[1m", out);
    }
}

void tint_end(FILE *out, enum tint tint)
{
    if (tint != TINT_NONE && takes_colour(out)) {
        (void)fputs("\033[0m", out);
    }
}
