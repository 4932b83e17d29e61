/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A configuration file as it was written: a tree of settings with their lines, free of the library
 * that read it. Limits that the library does not keep are kept before it sees the text.
 */
#ifndef LAMPWARDEN_CONFIG_NODE_H
#define LAMPWARDEN_CONFIG_NODE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct arena;
struct findings;

#define CONFIG_BYTES_MAX 1048576
#define CONFIG_DEPTH_MAX 32

enum node_type { NODE_GROUP, NODE_LIST, NODE_INT, NODE_REAL, NODE_TEXT, NODE_BOOL };

struct node {
    const char *name; /* "" in a list */
    enum node_type type;
    int line;
    int64_t integer; /* NODE_INT; NODE_BOOL: 0 or 1 */
    double real;     /* NODE_REAL; NODE_INT too */
    const char *text;
    struct node *children; /* NODE_GROUP, NODE_LIST (arrays too) */
    int count;
};

/* Reports what must not reach libconfig: NUL bytes, lines that begin with @include, deep nesting,
 * hexadecimal numbers that it would cut. False: something was reported. */
bool node_scan(const char *text, size_t size, struct findings *findings);

/* Scans and parses; text is NUL-terminated behind `size`. NULL: reported, or no memory. */
const struct node *node_read(const char *text, size_t size, struct arena *arena,
                             struct findings *findings);

const struct node *node_find(const struct node *group, const char *name);

/* What was written, for a message: `2.5`, `"abc"`, `a list`. */
void node_describe(const struct node *node, char *buffer, unsigned size);

#endif
