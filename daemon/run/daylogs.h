/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The log of each space's open light day (daylog.h), kept in the journal every quarter of an hour,
 * so that a restart does not leave the day without its comparison. A quarter hour that a kill took
 * counts as one that nobody saw.
 */
#ifndef LAMPWARDEN_DAYLOGS_H
#define LAMPWARDEN_DAYLOGS_H

#include "daylog.h"
#include "journal.h"
#include "journal_read.h"

/* Puts a copy into the journal's queue. journal NULL: nothing. */
void daylogs_keep(struct journal *journal, const char *space, int64_t wall_s, int64_t light_day,
                  const struct daylog *log);

/* 0 with *ret filled; -ENOENT: none of that light day is kept; -EILSEQ, -EPROTO: damaged, of
 * another version. */
int daylogs_restore(struct journal_reader *reader, const char *space, int64_t light_day,
                    struct daylog *ret, struct err *err);

#endif
