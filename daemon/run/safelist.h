/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The list of all outputs as plain text, for the stop step: written by the daemon at its start,
 * read by a program that knows drivers and nothing else. It makes outputs safe after the daemon
 * died, and must not share the parsers and libraries that may have killed it.
 *
 *     lampwarden-safe-list 1
 *     bus modbus-tcp shelf
 *     set host 192.0.2.7
 *     output dim shelf-dim
 *     set register 16
 *     end 1
 *
 * One fact a line; a value is the rest of its line. `end` counts the outputs. A damaged line costs
 * its own bus or output, never the rest: what can be made safe is, and what was left out is named.
 */
#ifndef LAMPWARDEN_SAFELIST_H
#define LAMPWARDEN_SAFELIST_H

#include <stddef.h>

#define SAFELIST_BUSES_MAX 16
#define SAFELIST_FILE      "safe-list"

struct config;
struct err;
struct safelist_bus;

struct safelist {
    int bus_count, output_count;
    struct safelist_bus *buses[SAFELIST_BUSES_MAX];
    int fault_count; /* what could not be read; then the list is not whole */
    char *text;      /* cut into words: option texts point into it */
    char *faults;    /* a sentence a line, of the first 20; NULL: none */
};

int safelist_write(const struct config *config, const char *path, struct err *err);

/* Reads the file and builds its buses; touches no hardware. 0: also a list that is not whole, see
 * faults. -ENOENT: no such file; -EINVAL: nothing in it can be made safe, with the first reason. */
int safelist_read(const char *path, struct safelist *ret, struct err *err);
int safelist_parse(const char *name, const char *text, struct safelist *ret, struct err *err);
void safelist_finish(struct safelist *list); /* a zeroed one is fine */

const char *safelist_bus_name(const struct safelist *list, int bus);
int safelist_bus_outputs(const struct safelist *list, int bus);
int safelist_make_safe(struct safelist *list, int bus, struct err *err);

#endif
