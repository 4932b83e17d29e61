/* SPDX-License-Identifier: Apache-2.0 */
/* Words in a text that was broken into lines. */
#ifndef LAMPWARDEN_WRAPPED_H
#define LAMPWARDEN_WRAPPED_H

#include <stdbool.h>
#include <string.h>

/* Whether `words` begin there; a space of theirs may be a break with the spaces below it. */
static inline bool wrapped_begins(const char *text, const char *words)
{
    while (*words && *text) {
        if (*words == ' ' && words[1] != ' ' && *text == '\n') {
            text += 1 + strspn(text + 1, " ");
            words++;
        } else if (*text++ != *words++) {
            return false;
        }
    }
    return *words == '\0';
}

static inline bool wrapped_has(const char *text, const char *words)
{
    for (; *text; text++) {
        if (wrapped_begins(text, words)) {
            return true;
        }
    }
    return false;
}

#endif
