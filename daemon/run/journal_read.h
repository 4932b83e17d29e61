/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Reading the journal, from the daemon at its start and from the operator's command at any time.
 * Read-only connections, short transactions; a missing or damaged file is a sentence, not a crash.
 */
#ifndef LAMPWARDEN_JOURNAL_READ_H
#define LAMPWARDEN_JOURNAL_READ_H

#include "journal.h"

struct journal_reader;

/* -ENOENT: no such file. -EILSEQ: not a journal or damaged. -EPROTO: a schema this program does not know. */
int journal_reader_open(const char *path, struct journal_reader **ret, struct err *err);
void journal_reader_close(struct journal_reader *reader); /* NULL is fine */

/* Each calls `row` once per record, in order of time; a non-zero return of `row` ends the walk and is
 * returned. Ranges are half open [from, to). space NULL: all spaces. */
int journal_read_minutes(struct journal_reader *reader, const char *space, int64_t from_wall_s,
                         int64_t to_wall_s, int (*row)(const struct journal_minute *, void *),
                         void *context, struct err *err);
int journal_read_events(struct journal_reader *reader, const char *space, int64_t from_wall_s,
                        int64_t to_wall_s, int (*row)(const struct journal_event *, void *),
                        void *context, struct err *err);
/* Days by number [from_day, to_day). */
int journal_read_days(struct journal_reader *reader, const char *space, int64_t from_day,
                      int64_t to_day, int (*row)(const struct journal_day *, void *), void *context,
                      struct err *err);

/* The last saved state of a space: copies up to `size` bytes. Returns the number of bytes stored
 * (may exceed size), -ENOENT when there is none. */
int64_t journal_read_state(struct journal_reader *reader, const char *space, void *ret, size_t size,
                           int64_t *ret_wall_s, struct err *err);

/* Latest wall time of any record, 0 when empty: a clock before it cannot be right. */
int64_t journal_read_latest(struct journal_reader *reader);

#endif
