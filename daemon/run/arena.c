/* SPDX-License-Identifier: Apache-2.0 */
#include "arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK_BYTES 16384

struct block {
    struct block *next;
    size_t used, room;
    alignas(max_align_t) unsigned char bytes[];
};

struct arena {
    struct block *newest;
};

struct arena *arena_create(void)
{
    return calloc(1, sizeof(struct arena));
}

void arena_destroy(struct arena *arena)
{
    if (!arena) {
        return;
    }
    struct block *block = arena->newest;
    while (block) {
        struct block *next = block->next;
        free(block);
        block = next;
    }
    free(arena);
}

static struct block *add_block(struct arena *arena, size_t room)
{
    struct block *block = calloc(1, sizeof *block + room);
    if (block) {
        block->room = room;
        block->next = arena->newest;
        arena->newest = block;
    }
    return block;
}

void *arena_take(struct arena *arena, size_t count, size_t size)
{
    const size_t align = alignof(max_align_t);
    if (size != 0 && count > (SIZE_MAX - BLOCK_BYTES) / size) {
        return NULL;
    }
    size_t wanted =
        (count * size + align) / align * align; /* at least one unit, also for 0 bytes */
    struct block *block = arena->newest;
    if (!block || block->room - block->used < wanted) {
        block = add_block(arena, wanted > BLOCK_BYTES ? wanted : BLOCK_BYTES);
    }
    if (!block) {
        return NULL;
    }
    void *piece = block->bytes + block->used;
    block->used += wanted;
    return piece;
}

char *arena_text(struct arena *arena, const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = arena_take(arena, size, 1);
    return copy ? memcpy(copy, text, size) : NULL;
}
