/* SPDX-License-Identifier: Apache-2.0 */
/* How far a long verb is: one line on stderr that is written over, on a terminal only. */
#ifndef LAMPWARDEN_PROGRESS_H
#define LAMPWARDEN_PROGRESS_H

#include <stdbool.h>
#include <stdint.h>

struct progress {
    bool is_wanted; /* and stderr is a terminal */
    bool is_there;  /* a line stands on it */
    int64_t begin_ns, last_ns;
};

/* Shows nothing yet: what is done within a second needs no line. */
void progress_begin(struct progress *progress, bool is_wanted);

/* share: of the work, 0 … 1. words: "41 of 365 light days". Cheap to call often: writes at most
 * five times a second, with the time that is left once it can be told. */
void progress_show(struct progress *progress, double share, const char *words);

/* Takes the line away; before anything is written to a terminal between two of them, too. */
void progress_clear(struct progress *progress);

#endif
