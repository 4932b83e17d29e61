/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The one writing connection to the journal's file: open, write, commit, set aside. Used by the
 * journal's thread alone. Never logs; every result that is not STORE_OK leaves a reason. Any
 * failure of begin, write or commit undoes the transaction.
 */
#ifndef LAMPWARDEN_JOURNAL_STORE_H
#define LAMPWARDEN_JOURNAL_STORE_H

#include "journal_queue.h"

#include <stdatomic.h>
#include <sys/types.h>

struct sqlite3;
struct sqlite3_stmt;

enum store_result {
    STORE_OK,
    STORE_RETRY,   /* the disk or the file refuses for now: full, read-only, missing, busy … */
    STORE_DAMAGED, /* the file says what a journal cannot say */
    STORE_FOREIGN, /* another program's file, or a newer schema: hands off */
    STORE_LOCKED,  /* another process writes this journal */
    STORE_REFUSED, /* this record cannot be stored, whatever one tries */
};

enum store_statement {
    STORE_PUT_MINUTE,
    STORE_PUT_EVENT,
    STORE_PUT_DAY,
    STORE_DROP_MISSING,
    STORE_PUT_MISSING,
    STORE_PUT_STATE,
    STORE_PUT_SPACE,
    STORE_FIND_SPACE,
    STORE_STATEMENT_COUNT,
};

enum { STORE_SPACES_MAX = 129 };

struct journal_store {
    char path[512];
    bool is_rehearsal;
    atomic_bool no_check; /* ends a running check of the file: the program wants to stop */
    int lock_fd;          /* −1: not held */
    struct sqlite3 *db;   /* NULL: closed */
    struct sqlite3_stmt *statements[STORE_STATEMENT_COUNT];
    struct {
        char name[JOURNAL_NAME_MAX];
        int64_t id;
    } spaces[STORE_SPACES_MAX]; /* ids known so far */
    int space_count;
    int64_t event_id; /* row of the latest event put, committed or not; 0: none */
    char reason[128];
};

/* -ENAMETOOLONG when the path does not fit. Touches no file. */
int journal_store_init(struct journal_store *store, const char *path, bool is_rehearsal);

/* Holds PATH.lock. A rehearsal's scratch file is not locked. */
enum store_result journal_store_lock(struct journal_store *store);

/* Locks, opens or creates, recovers what a crash left, checks the whole file when it was not closed
 * properly or when `check` is set. */
enum store_result journal_store_open(struct journal_store *store, bool check);

enum store_result journal_store_begin(struct journal_store *store);
enum store_result journal_store_put(struct journal_store *store,
                                    const struct journal_record *record);
enum store_result journal_store_put_state(struct journal_store *store,
                                          const struct journal_state *state);
enum store_result journal_store_commit(struct journal_store *store);

/* One small step of retention: drops at most six hours of minutes and events of the oldest light
 * day when more than keep_days light days have a summary. *ret_dropped: something went. */
enum store_result journal_store_drop_oldest(struct journal_store *store, int keep_days,
                                            bool *ret_dropped);

/* Moves the write-ahead log into the database and cuts it to nothing. */
enum store_result journal_store_checkpoint(struct journal_store *store);

uint64_t journal_store_bytes(const struct journal_store *store); /* database and WAL */
uint64_t journal_store_wal_bytes(const struct journal_store *store);

/* Renames the database with its WAL and index to PATH.corrupt-<wall_s>… Must be closed. */
enum store_result journal_store_set_aside(struct journal_store *store, int64_t wall_s);

void journal_store_close(struct journal_store *store);  /* keeps the lock */
void journal_store_finish(struct journal_store *store); /* closes and unlocks */

#endif
