/* SPDX-License-Identifier: Apache-2.0 */
/* Shared by the two files of the journal's reader, and by nobody else. */
#ifndef LAMPWARDEN_JOURNAL_READ_SQL_H
#define LAMPWARDEN_JOURNAL_READ_SQL_H

#include "journal_read.h"

enum { JOURNAL_READ_PAGE = 256, JOURNAL_READ_PATH_MAX = 512 };

struct sqlite3;
struct sqlite3_stmt;

struct journal_reader {
    struct sqlite3 *db;
    char path[JOURNAL_READ_PATH_MAX];
    char note[320];
    bool has_costs;  /* its days have the columns of schema 2 */
    bool has_chains; /* its minutes have those of schema 3 */
    union {          /* one page of rows, handed over after its statement has ended */
        struct journal_minute minutes[JOURNAL_READ_PAGE];
        struct journal_event events[JOURNAL_READ_PAGE];
        struct journal_day days[JOURNAL_READ_PAGE];
    } page;
};

/* The error and sentence of SQLite's result code. */
int journal_read_fail(const struct journal_reader *reader, int code, struct err *err);

int journal_read_prepare(const struct journal_reader *reader, const char *sql,
                         struct sqlite3_stmt **ret, struct err *err);

#endif
