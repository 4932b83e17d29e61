/* SPDX-License-Identifier: Apache-2.0 */
/*
 * `@include "FILE"` on a line of its own, outside of comments and strings: that file's text in its
 * place, one file deep. Done here and not by libconfig, whose 1.5 calls exit() for a folder and
 * counts lines by its own files: here all text is read once, checked as a whole (node_scan), and
 * every line is known by its file.
 */
#ifndef LAMPWARDEN_CONFIG_INCLUDE_H
#define LAMPWARDEN_CONFIG_INCLUDE_H

#include "config.h"

#include <stddef.h>

#define CONFIG_INCLUDES_MAX   64
#define CONFIG_INCLUDE_BYTES  65536
#define CONFIG_INCLUDE_PIECES (2 * CONFIG_INCLUDES_MAX + 1)

struct findings;

/* From line `first` of the whole on: lines of `file`, beginning with `line`. */
struct config_piece {
    int first, line;
    char file[256];
};

struct config_whole {
    char *text; /* NUL-terminated behind size */
    size_t size;
    int piece_count;
    struct config_piece pieces[CONFIG_INCLUDE_PIECES];
};

/* Files are looked for beside `name`. 0, or -EINVAL when something was reported; -ENOMEM. *ret is
 * the caller's (config_whole_free), filled in both cases. */
int config_whole_read(const char *name, const char *text, size_t size, struct config_whole *ret,
                      struct findings *findings);
void config_whole_free(struct config_whole *whole);

/* Which line of which file it is: the piece, and *ret_line. Line 0 belongs to none: NULL. */
const struct config_piece *config_whole_find(const struct config_whole *whole, int line,
                                             int *ret_line);

/* The same with a report (the caller's, filled when it fails; then *ret is empty). */
int config_join(const char *name, const char *text, size_t size, struct config_whole *ret,
                struct config_report *ret_report);

/* With it config_load_text in two steps, so that what a child has read is what is read here. */
int config_load_whole(const char *name, const struct config_whole *whole, struct config **ret,
                      struct config_report *ret_report);

#endif
