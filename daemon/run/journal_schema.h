/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The journal's tables as SQL. Names of tables and columns are stable and carry their units; times
 * are seconds since 1970-01-01 UTC, light days count from 1970-01-01 at the site's fixed offset.
 *
 *   meta         schema_version and program: what this file is
 *   space        id and name of every space; "" stands for the daemon
 *   minute       one row a minute and space, in order of time: a minute recorded again (the clock
 *                was set back) replaces the earlier row; chain is the text that moment.h describes
 *   event        what happened, in order of id
 *   day          one row a light day and space; is_closed 0: the day still runs
 *   day_missing  mol that each limiter took from that day
 *   state        the last saved state of a space, opaque
 *
 * Keys begin with the time, so that a commit appends to one page and the oldest days go in one
 * piece.
 */
#ifndef LAMPWARDEN_JOURNAL_SCHEMA_H
#define LAMPWARDEN_JOURNAL_SCHEMA_H

#include "journal.h"

#define JOURNAL_APPLICATION_ID 0x4c574a31 /* "LWJ1" in the file's header */
#define JOURNAL_PROGRAM        "lampwarden"

/* The lock that keeps a second writer away: this behind the journal's path. */
#define JOURNAL_LOCK_SUFFIX ".lock"

/* By version, from 1: what makes the next one of it. Columns that are added are unknown (NULL) in
 * the rows that were there before. */
extern const char *const journal_schema_changes[JOURNAL_SCHEMA_VERSION];

/* Creates everything in one transaction's worth of statements. */
extern const char journal_schema_create[];

#endif
