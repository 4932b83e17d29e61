/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the light days of each space taught of its sky and its heat (learned.h), kept in the journal
 * from one run to the next: once a light day, as a saved state beside that of the space, under a
 * name that no space can have. Damaged records and those of another version are not used: then the
 * space learns afresh.
 */
#ifndef LAMPWARDEN_SKIES_H
#define LAMPWARDEN_SKIES_H

#include "journal.h"
#include "journal_read.h"
#include "learned.h"

/* Puts a copy into the journal's queue. journal NULL: nothing. */
void skies_keep(struct journal *journal, const char *space, int64_t wall_s,
                const struct learned *learned);

/* 0 with *ret filled; -ENOENT: none is kept; -EILSEQ, -EPROTO: damaged, of another version. */
int skies_restore(struct journal_reader *reader, const char *space, struct learned *ret,
                  struct err *err);

#endif
