/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Small plain records of a space, kept in the journal from one run to the next as a saved state
 * beside that of the space, under a name that no space can have ("lettuce/sky"). The newest
 * replaces the one before. Version, size and checksum stand in front: damaged records and those of
 * another version are not used.
 */
#ifndef LAMPWARDEN_KEEPSAKE_H
#define LAMPWARDEN_KEEPSAKE_H

#include "config.h"
#include "journal.h"
#include "journal_read.h"

#define KEEPSAKE_SIZE_MAX   8192
#define KEEPSAKE_SUFFIX_MAX (JOURNAL_NAME_MAX - CONFIG_NAME_MAX) /* characters */

/* One kind of them. */
struct keepsake {
    const char *suffix; /* "/sky" */
    const char *words;  /* what it is, for sentences: "what was learned" */
    uint32_t version;   /* changes when the meaning of a field changes */
    uint32_t size;      /* of the plain record, ≤ KEEPSAKE_SIZE_MAX */
};

/* Puts a copy into the journal's queue; a loss is made up by the next one. journal NULL: nothing.
 */
void keepsake_put(const struct keepsake *kind, struct journal *journal, const char *space,
                  int64_t wall_s, const void *record);

/* 0 with *ret filled (kind->size bytes); -ENOENT: none is kept; -EILSEQ, -EPROTO: damaged, of
 * another version. */
int keepsake_get(const struct keepsake *kind, struct journal_reader *reader, const char *space,
                 void *ret, struct err *err);

/* -EILSEQ and its sentence, for a record that is whole but cannot be true. */
int keepsake_damaged(const struct keepsake *kind, struct err *err);

#endif
