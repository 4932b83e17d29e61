/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Reading the journal, from the daemon at its start and from the operator's command at any time.
 * Read-only connections, short transactions; a missing or damaged file is a sentence, not a crash.
 *
 * Rows are fetched a page at a time and handed over with no transaction open, so that a slow caller
 * never keeps the writer's log from being emptied. A reader belongs to one thread.
 */
#ifndef LAMPWARDEN_JOURNAL_READ_H
#define LAMPWARDEN_JOURNAL_READ_H

#include "journal.h"

#include <stdatomic.h>
#include <stdbool.h>

struct journal_reader;

/* -ENOENT: no such file. -EACCES: not allowed. -EILSEQ: not a journal or damaged. -EPROTO: a schema
 * this program does not know. -EAGAIN: busy or not readable just now, try again. */
int journal_reader_open(const char *path, struct journal_reader **ret, struct err *err);
void journal_reader_close(struct journal_reader *reader); /* NULL is fine */

/* A walk over many rows ends with -ECANCELED soon after *is_over has become true. It must outlive
 * the reader. */
void journal_reader_end_by(struct journal_reader *reader, const atomic_bool *is_over);

/* A sentence when the file could only be read as it lies on the disk, without what its write-ahead
 * log holds (a journal of a dead daemon in a folder where this reader may not write); else "". */
const char *journal_reader_note(const struct journal_reader *reader);

/* Which records: half open [from, to), in wall seconds for minutes and events, in light days for
 * days. */
struct journal_range {
    const char *space; /* NULL: all spaces; "" : the daemon's own */
    int64_t from, to;
};

/* Each calls `row` once per record, in order of time; a non-zero return of `row` ends the walk and
 * is returned. Rows may hold anything that a file can hold, except that texts are clean UTF-8 and
 * times and days lie in the years 1 … 9999. A limiter that this program does not know is
 * LIMITER_COUNT. */
int journal_read_minutes(struct journal_reader *reader, const struct journal_range *range,
                         int (*row)(const struct journal_minute *, void *), void *context,
                         struct err *err);
int journal_read_events(struct journal_reader *reader, const struct journal_range *range,
                        int (*row)(const struct journal_event *, void *), void *context,
                        struct err *err);
int journal_read_days(struct journal_reader *reader, const struct journal_range *range,
                      int (*row)(const struct journal_day *, void *), void *context,
                      struct err *err);

/* First and last light day that has a summary. -ENOENT when there is none. */
int journal_read_day_range(struct journal_reader *reader, const char *space, int64_t *ret_first,
                           int64_t *ret_last, struct err *err);

/* First and last minute of a space that is stored in a range of wall seconds. -ENOENT: none. */
int journal_read_minute_range(struct journal_reader *reader, const struct journal_range *range,
                              int64_t *ret_first_s, int64_t *ret_last_s, struct err *err);

/* The last saved state of a space: copies up to `size` bytes. Returns the number of bytes stored
 * (may exceed size), -ENOENT when there is none. */
int64_t journal_read_state(struct journal_reader *reader, const char *space, void *ret, size_t size,
                           int64_t *ret_wall_s, struct err *err);

int64_t journal_read_latest(struct journal_reader *reader); /* wall time of any record; 0: none */

/* Latest wall time that was trusted when it was stored, 0 when none: a clock before it cannot be
 * right. Saved states carry it. A space that carries on with an untrusted clock writes its minutes
 * and events by that clock: they count only where there is no state at all. */
int64_t journal_read_trusted(struct journal_reader *reader);

#endif
