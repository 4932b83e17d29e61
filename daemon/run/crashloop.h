/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Notices a daemon that keeps ending abnormally: a small file in the runtime folder lists the
 * starts whose end was not a stop. It lies in memory and is gone after a reboot, as boot times must
 * be.
 */
#ifndef LAMPWARDEN_CRASHLOOP_H
#define LAMPWARDEN_CRASHLOOP_H

#include <stdbool.h>
#include <stdint.h>

#define CRASHLOOP_KEPT     8
#define CRASHLOOP_ENDS     3
#define CRASHLOOP_WITHIN_S 600

struct crashloop {
    int count;
    int64_t starts_ns[CRASHLOOP_KEPT]; /* oldest first; runs that did not end with a stop */
};

/* From the file's text; anything that is not a list of boot times counts as none. */
void crashloop_parse(struct crashloop *loop, const char *text);

/* Adds this start. True when CRASHLOOP_ENDS earlier runs of the last CRASHLOOP_WITHIN_S ended
 * abnormally. */
bool crashloop_begin(struct crashloop *loop, int64_t boot_ns);

/* Reads, adds, writes the file. A file that cannot be written only loses this watch. */
bool crashloop_note_start(const char *path, int64_t boot_ns);
void crashloop_note_stop(const char *path);

#endif
