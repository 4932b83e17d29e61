/* SPDX-License-Identifier: Apache-2.0 */
/* Shared by the two files of the journal's store, and by nobody else. */
#ifndef LAMPWARDEN_JOURNAL_STORE_SQL_H
#define LAMPWARDEN_JOURNAL_STORE_SQL_H

#include "journal_store.h"

/* Keeps the reason and returns the result. */
enum store_result journal_store_say(struct journal_store *store, enum store_result result,
                                    const char *reason);

/* What SQLite's result code means for the journal; keeps its reason when it is not STORE_OK. */
enum store_result journal_store_result(struct journal_store *store, int code);

enum store_result journal_store_exec(struct journal_store *store, const char *sql);

/* Prepares all statements of writing. */
enum store_result journal_store_prepare(struct journal_store *store);

#endif
