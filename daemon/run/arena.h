/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Memory that is filled piece by piece and freed at once: everything a configuration holds.
 * Pieces are zeroed and never move.
 */
#ifndef LAMPWARDEN_ARENA_H
#define LAMPWARDEN_ARENA_H

#include <stddef.h>

struct arena;

/* NULL: no memory. */
struct arena *arena_create(void);
void arena_destroy(struct arena *arena); /* NULL is fine */

/* count × size zeroed bytes; never NULL for a count of 0; NULL: no memory. */
void *arena_take(struct arena *arena, size_t count, size_t size);
char *arena_text(struct arena *arena, const char *text);

#endif
