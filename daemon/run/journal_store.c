/* SPDX-License-Identifier: Apache-2.0 */
/* The life of the connection: lock, open, check, close, set aside. journal_store_write.c puts the
 * records. */
#include "journal_store.h"

#include "journal_schema.h"
#include "journal_store_sql.h"

#include <errno.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define CHECK_STEP 20000 /* virtual machine steps between looks at no_check: some milliseconds */

int journal_store_init(struct journal_store *store, const char *path, bool is_rehearsal)
{
    *store = (struct journal_store){.is_rehearsal = is_rehearsal, .lock_fd = -1};
    if (strlen(path) + sizeof ".corrupt-9223372036854775807-wal" > sizeof store->path) {
        return -ENAMETOOLONG;
    }
    memcpy(store->path, path, strlen(path) + 1);
    return 0;
}

enum store_result journal_store_say(struct journal_store *store, enum store_result result,
                                    const char *reason)
{
    (void)snprintf(store->reason, sizeof store->reason, "%s", reason); /* cutting is allowed */
    return result;
}

enum store_result journal_store_result(struct journal_store *store, int code)
{
    switch (code & 0xff) { /* the primary code; SQLite's codes are numbers, not an enum of ours */
    case SQLITE_OK:
    case SQLITE_ROW:
    case SQLITE_DONE:
        return STORE_OK;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
    case SQLITE_ERROR: /* the statements are constant: the tables are not what they were */
        return journal_store_say(store, STORE_DAMAGED, sqlite3_errmsg(store->db));
    case SQLITE_CONSTRAINT:
    case SQLITE_MISMATCH:
    case SQLITE_TOOBIG:
    case SQLITE_RANGE:
        return journal_store_say(store, STORE_REFUSED, sqlite3_errmsg(store->db));
    default: { /* the disk's errno says more than SQLite's own words */
        int disk = sqlite3_system_errno(store->db);
        const char *words = sqlite3_errmsg(store->db);
        if (disk != 0 && (code & 0xff) != SQLITE_FULL) {
            (void)snprintf(store->reason, sizeof store->reason, "%s (%s)", words,
                           strerrordesc_np(disk));
            return STORE_RETRY;
        }
        return journal_store_say(store, STORE_RETRY, words);
    }
    }
}

enum store_result journal_store_exec(struct journal_store *store, const char *sql)
{
    return journal_store_result(store, sqlite3_exec(store->db, sql, NULL, NULL, NULL));
}

/* First column of the first row as an integer; `fallback` when there is none. */
static enum store_result query_int(struct journal_store *store, const char *sql, int64_t fallback,
                                   int64_t *ret)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL);
    if (code == SQLITE_OK) {
        code = sqlite3_step(statement);
        *ret = code == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : fallback;
    }
    enum store_result result = journal_store_result(store, code);
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    return result;
}

enum store_result journal_store_lock(struct journal_store *store)
{
    if (store->lock_fd >= 0 || store->is_rehearsal) {
        return STORE_OK;
    }
    char path[sizeof store->path + sizeof JOURNAL_LOCK_SUFFIX];
    (void)snprintf(path, sizeof path, "%s" JOURNAL_LOCK_SUFFIX, store->path);
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0640);
    if (fd < 0) {
        (void)snprintf(store->reason, sizeof store->reason, "cannot create its lock (%s)",
                       strerrordesc_np(errno));
        return STORE_RETRY;
    }
    /* A lock of the open file, not of the process: readers can ask who holds it without taking it.
     */
    struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    if (fcntl(fd, F_OFD_SETLK, &lock) != 0) {
        bool is_held = errno == EAGAIN || errno == EACCES;
        (void)close(fd);
        return is_held ? journal_store_say(store, STORE_LOCKED, "another process writes it")
                       : journal_store_say(store, STORE_RETRY, "its lock cannot be taken");
    }
    store->lock_fd = fd;
    return STORE_OK;
}

static int stop_check(void *context)
{
    const struct journal_store *store = context;
    return atomic_load(&store->no_check);
}

/* Reads the whole file. Cut short by no_check it counts as good: the next start checks again. */
static enum store_result check_file(struct journal_store *store)
{
    sqlite3_stmt *statement = NULL;
    sqlite3_progress_handler(store->db, CHECK_STEP, stop_check, store);
    int code = sqlite3_prepare_v2(store->db, "PRAGMA quick_check(1)", -1, &statement, NULL);
    if (code == SQLITE_OK) {
        code = sqlite3_step(statement);
    }
    enum store_result result = STORE_OK;
    if (code == SQLITE_ROW) {
        const char *finding = (const char *)sqlite3_column_text(statement, 0);
        if (!finding || strcmp(finding, "ok") != 0) {
            result = journal_store_say(store, STORE_DAMAGED, finding ? finding : "check failed");
        }
    } else if (code != SQLITE_INTERRUPT) {
        result = journal_store_result(store, code);
    }
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    sqlite3_progress_handler(store->db, 0, NULL, NULL);
    return result;
}

/* What the file says it is, before anything in it is changed. */
static enum store_result identify(struct journal_store *store, bool *ret_is_empty)
{
    int64_t tables = 0;
    int64_t application = 0;
    int64_t version = 0;
    int64_t is_ours = 0;
    int64_t meta_version = 0;
    enum store_result result = query_int(store, "SELECT count(*) FROM sqlite_schema", 0, &tables);
    if (result != STORE_OK) {
        return result;
    }
    if ((result = query_int(store, "PRAGMA application_id", 0, &application)) != STORE_OK ||
        (result = query_int(store, "PRAGMA user_version", 0, &version)) != STORE_OK) {
        return result;
    }
    *ret_is_empty = tables == 0 && application == 0 && version == 0;
    if (*ret_is_empty) {
        return STORE_OK;
    }
    /* A table `meta` that cannot be asked belongs to somebody else, unless the header says
     * otherwise. */
    result = query_int(
        store, "SELECT value = '" JOURNAL_PROGRAM "' FROM meta WHERE key = 'program'", 0, &is_ours);
    if (application != JOURNAL_APPLICATION_ID && (result != STORE_OK || !is_ours)) {
        return journal_store_say(store, STORE_FOREIGN, "it is another program's database");
    }
    if (result != STORE_OK) {
        return result;
    }
    result =
        query_int(store, "SELECT value FROM meta WHERE key = 'schema_version'", 0, &meta_version);
    if (result != STORE_OK) {
        return result;
    }
    if (meta_version != version || application != JOURNAL_APPLICATION_ID || version < 1) {
        return journal_store_say(store, STORE_DAMAGED, "header and meta table disagree");
    }
    if (version > JOURNAL_SCHEMA_VERSION) {
        (void)snprintf(store->reason, sizeof store->reason,
                       "it was written by a newer version (schema %lld, this program knows %d)",
                       (long long)version, JOURNAL_SCHEMA_VERSION);
        return STORE_FOREIGN;
    }
    return STORE_OK;
}

static enum store_result set_modes(struct journal_store *store)
{
    /* FULL: a commit is on the disk when it returns; cheap at one a minute. Where shared memory
     * is not to be had, SQLite stays with its rollback journal, and that will do. */
    static const char lasting[] =
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = 1000;"
        "PRAGMA journal_size_limit = 4194304; PRAGMA cache_size = -512; PRAGMA temp_store = MEMORY;"
        "PRAGMA trusted_schema = OFF;";
    static const char passing[] =
        "PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF;"
        "PRAGMA temp_store = MEMORY;";
    return journal_store_exec(store, store->is_rehearsal ? passing : lasting);
}

static enum store_result create_tables(struct journal_store *store)
{
    char header[192];
    (void)snprintf(header, sizeof header,
                   "INSERT INTO meta VALUES ('program', '" JOURNAL_PROGRAM "'),"
                   "('schema_version', %d); PRAGMA application_id = %d; PRAGMA user_version = %d;",
                   JOURNAL_SCHEMA_VERSION, JOURNAL_APPLICATION_ID, JOURNAL_SCHEMA_VERSION);
    enum store_result result = journal_store_exec(store, "BEGIN IMMEDIATE");
    if (result == STORE_OK) {
        result = journal_store_exec(store, journal_schema_create);
    }
    if (result == STORE_OK) {
        result = journal_store_exec(store, header);
    }
    return result == STORE_OK ? journal_store_exec(store, "COMMIT") : result;
}

/* A file of an earlier version gets what is new, all or nothing. */
static enum store_result bring_up(struct journal_store *store)
{
    int64_t version = 0;
    enum store_result result = query_int(store, "PRAGMA user_version", 0, &version);
    if (result != STORE_OK || version >= JOURNAL_SCHEMA_VERSION) {
        return result;
    }
    result = journal_store_exec(store, "BEGIN IMMEDIATE");
    for (; version < JOURNAL_SCHEMA_VERSION && result == STORE_OK; version++) {
        result = journal_store_exec(store, journal_schema_changes[version]);
    }
    return result == STORE_OK ? journal_store_exec(store, "COMMIT") : result;
}

static uint64_t size_of(const struct journal_store *store, const char *suffix)
{
    char path[sizeof store->path + 8];
    (void)snprintf(path, sizeof path, "%s%s", store->path, suffix);
    struct stat found;
    return stat(path, &found) == 0 ? (uint64_t)found.st_size : 0;
}

uint64_t journal_store_wal_bytes(const struct journal_store *store)
{
    return size_of(store, "-wal");
}

uint64_t journal_store_bytes(const struct journal_store *store)
{
    return size_of(store, "") + size_of(store, "-wal");
}

static enum store_result open_steps(struct journal_store *store, bool check)
{
    bool is_empty = false;
    enum store_result result = identify(store, &is_empty);
    if (result == STORE_OK && check && !is_empty) {
        result = check_file(store);
    }
    if (result == STORE_OK) {
        result = set_modes(store);
    }
    if (result == STORE_OK) {
        result = is_empty ? create_tables(store) : bring_up(store);
    }
    if (result == STORE_OK) {
        result = journal_store_prepare(store);
    }
    return result;
}

enum store_result journal_store_open(struct journal_store *store, bool check)
{
    enum store_result result = journal_store_lock(store);
    if (result != STORE_OK) {
        return result;
    }
    bool has_wal = journal_store_wal_bytes(store) > 0; /* left by a crash */
    if (has_wal && size_of(store, "") == 0) {          /* SQLite would throw the log away */
        return journal_store_say(store, STORE_DAMAGED, "it is empty, but its log is not");
    }
    check = check || has_wal;
    const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX |
                      SQLITE_OPEN_PRIVATECACHE | SQLITE_OPEN_EXRESCODE;
    int code = sqlite3_open_v2(store->path, &store->db, flags, NULL);
    if (!store->db) {
        return journal_store_say(store, STORE_RETRY, "no memory to open it");
    }
    result = journal_store_result(store, code);
    if (result == STORE_OK && sqlite3_db_readonly(store->db, "main") == 1) {
        result = journal_store_say(store, STORE_RETRY, "its file is read-only");
    }
    if (result == STORE_OK) {
        (void)sqlite3_busy_timeout(store->db,
                                   1000); /* readers are short; a checkpoint may wait for one */
        result = open_steps(store, check);
    }
    if (result != STORE_OK) {
        journal_store_close(store);
    }
    return result;
}

enum store_result journal_store_checkpoint(struct journal_store *store)
{
    int code = sqlite3_wal_checkpoint_v2(store->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
    if ((code & 0xff) == SQLITE_BUSY || (code & 0xff) == SQLITE_LOCKED) {
        return STORE_OK; /* a reader is in the way: the next night will do */
    }
    return journal_store_result(store, code);
}

enum store_result journal_store_set_aside(struct journal_store *store, int64_t wall_s)
{
    /* The WAL first: a database without its WAL is whole up to its last checkpoint, a WAL without
     * its database would be taken for the new one's. */
    static const char *const suffixes[] = {"-wal", "-shm", ""};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char from[sizeof store->path + 8];
        char to[sizeof store->path + 48];
        (void)snprintf(from, sizeof from, "%s%s", store->path, suffixes[i]);
        (void)snprintf(to, sizeof to, "%s.corrupt-%lld%s", store->path, (long long)wall_s,
                       suffixes[i]);
        if (rename(from, to) != 0 && errno != ENOENT) {
            (void)snprintf(store->reason, sizeof store->reason,
                           "it is damaged and cannot be set aside (%s)", strerrordesc_np(errno));
            return STORE_RETRY;
        }
    }
    return STORE_OK;
}

void journal_store_close(struct journal_store *store)
{
    for (int i = 0; i < STORE_STATEMENT_COUNT; i++) {
        (void)sqlite3_finalize(store->statements[i]); /* repeats an error already seen */
        store->statements[i] = NULL;
    }
    (void)sqlite3_close_v2(store->db); /* NULL is fine; no statement is left open */
    store->db = NULL;
    store->space_count = 0;
}

void journal_store_finish(struct journal_store *store)
{
    journal_store_close(store);
    if (store->lock_fd >= 0) {
        (void)close(store->lock_fd);
        store->lock_fd = -1;
    }
}
