/* SPDX-License-Identifier: Apache-2.0 */
/* The connection of a reader and the small questions. journal_read_rows.c walks the rows. */
#include "journal_read.h"

#include "err.h"
#include "journal_read_sql.h"
#include "journal_schema.h"

#include <errno.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define BUSY_MS 1000
/* In a damaged row stands any number: days and moments that count lie in the years 1 … 9999. */
#define DAYS_KNOWN "light_day BETWEEN -719162 AND 2932896"
#define WALL_KNOWN "wall_s BETWEEN -62135596800 AND 253402300799"
#define END_STEP   1000 /* steps of SQLite's machine between two looks whether it is over */

int journal_read_fail(const struct journal_reader *reader, int code, struct err *err)
{
    const char *words = sqlite3_errmsg(reader->db);
    switch (code & 0xff) { /* the primary code */
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
    case SQLITE_ERROR: /* the statements are constant: the tables are not those of a journal */
        return err_fail(err, EILSEQ, "journal %s: it is not a journal or damaged (%s)",
                        reader->path, words);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return err_fail(err, EAGAIN, "journal %s: it is busy, try again", reader->path);
    case SQLITE_CANTOPEN:
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return err_fail(err, EACCES, "journal %s: it cannot be opened (%s)", reader->path, words);
    case SQLITE_NOMEM:
        return err_fail(err, ENOMEM, "journal %s: no memory", reader->path);
    case SQLITE_INTERRUPT:
        return err_fail(err, ECANCELED, "journal %s: nobody waits for it any more", reader->path);
    default:
        return err_fail(err, EIO, "journal %s: it cannot be read (%s)", reader->path, words);
    }
}

int journal_read_prepare(const struct journal_reader *reader, const char *sql,
                         struct sqlite3_stmt **ret, struct err *err)
{
    int code = sqlite3_prepare_v2(reader->db, sql, -1, ret, NULL);
    return code == SQLITE_OK ? 0 : journal_read_fail(reader, code, err);
}

static int ask_int(const struct journal_reader *reader, const char *sql, int64_t *ret,
                   struct err *err)
{
    sqlite3_stmt *statement = NULL;
    int result = journal_read_prepare(reader, sql, &statement, err);
    if (result != 0) {
        return result;
    }
    int code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        *ret = sqlite3_column_int64(statement, 0);
    } else if (code != SQLITE_DONE) {
        result = journal_read_fail(reader, code, err);
    }
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    return result;
}

static int identify(struct journal_reader *reader, struct err *err)
{
    int64_t application = 0;
    int64_t version = 0;
    int result = ask_int(reader, "PRAGMA application_id", &application, err);
    if (result == 0) {
        result = ask_int(reader, "PRAGMA user_version", &version, err);
    }
    if (result != 0) {
        return result;
    }
    if (application == 0 && version == 0) { /* created a moment ago, or by something else */
        int64_t tables = 0;
        result = ask_int(reader, "SELECT count(*) FROM sqlite_schema", &tables, err);
        if (result != 0) {
            return result;
        }
        return tables == 0 ? err_fail(err, ENOENT, "journal %s: it is still empty", reader->path)
                           : err_fail(err, EILSEQ, "journal %s: it is not a journal", reader->path);
    }
    if (application != JOURNAL_APPLICATION_ID) {
        return err_fail(err, EILSEQ, "journal %s: it is not a journal", reader->path);
    }
    if (version < 1 || version > JOURNAL_SCHEMA_VERSION) {
        return err_fail(err, EPROTO, "journal %s: its schema is %lld, this program knows %d",
                        reader->path, (long long)version, JOURNAL_SCHEMA_VERSION);
    }
    reader->has_costs = version >= 2;
    reader->has_chains = version >= 3;
    return 0;
}

static void disconnect(struct journal_reader *reader)
{
    (void)sqlite3_close_v2(reader->db); /* NULL is fine; every statement is finalized */
    reader->db = NULL;
}

static int connect_to(struct journal_reader *reader, const char *name, struct err *err)
{
    const int flags = SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_PRIVATECACHE |
                      SQLITE_OPEN_URI | SQLITE_OPEN_EXRESCODE;
    int code = sqlite3_open_v2(name, &reader->db, flags, NULL);
    if (!reader->db) {
        return err_fail(err, ENOMEM, "journal %s: no memory", reader->path);
    }
    int result = code == SQLITE_OK ? 0 : journal_read_fail(reader, code, err);
    if (result == 0) {
        (void)sqlite3_busy_timeout(reader->db, BUSY_MS);
        (void)sqlite3_exec(reader->db, "PRAGMA trusted_schema = OFF; PRAGMA cache_size = -512;",
                           NULL, NULL, NULL); /* precautions; reading goes on without them */
        result = identify(reader, err);
    }
    if (result != 0) {
        disconnect(reader);
    }
    return result;
}

/* file:/path?parameters with everything quoted that has a meaning in a URI. */
static void make_uri(const char *path, const char *parameters, char *buffer, size_t size)
{
    static const char plain[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/._-";
    size_t used = (size_t)snprintf(buffer, size, "file:");
    for (const char *at = path; *at && used + 4 < size; at++) {
        if (strchr(plain, *at)) {
            buffer[used++] = *at;
        } else {
            used += (size_t)snprintf(buffer + used, size - used, "%%%02X", (unsigned char)*at);
        }
    }
    (void)snprintf(buffer + used, size - used, "%s", parameters);
}

/* Whether a process holds the journal for writing. Unknown counts as yes. */
static bool is_written(const char *path)
{
    char lock_path[JOURNAL_READ_PATH_MAX + sizeof JOURNAL_LOCK_SUFFIX];
    (void)snprintf(lock_path, sizeof lock_path, "%s" JOURNAL_LOCK_SUFFIX, path);
    int fd = open(lock_path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        return errno != ENOENT;
    }
    struct flock lock = {.l_type = F_RDLCK, .l_whence = SEEK_SET};
    bool is_free = fcntl(fd, F_OFD_GETLK, &lock) == 0 && lock.l_type == F_UNLCK;
    (void)close(fd);
    return !is_free;
}

static bool has_wal(const char *path)
{
    char wal_path[JOURNAL_READ_PATH_MAX + 8];
    struct stat found;
    (void)snprintf(wal_path, sizeof wal_path, "%s-wal", path);
    return stat(wal_path, &found) == 0 && found.st_size > 0;
}

static int connect_somehow(struct journal_reader *reader, struct err *err)
{
    char uri[3 * JOURNAL_READ_PATH_MAX + 32];
    make_uri(reader->path, "", uri, sizeof uri);
    int result = connect_to(reader, uri, err);
    if (result != -EACCES || is_written(reader->path)) {
        return result;
    }
    /* In WAL mode even reading needs a shared index, which this reader may not create. With no
     * writer around, the file holds still and can be read as it lies. */
    make_uri(reader->path, "?immutable=1", uri, sizeof uri);
    struct err second;
    if (connect_to(reader, uri, &second) != 0) {
        return result; /* the first sentence tells more */
    }
    if (has_wal(reader->path)) {
        (void)snprintf(reader->note, sizeof reader->note,
                       "the newest records are missing: %.200s-wal cannot be read from here while "
                       "the daemon is down",
                       reader->path);
    }
    return 0;
}

static int look_at(const char *path, struct err *err)
{
    struct stat found;
    if (stat(path, &found) != 0) {
        int code = errno;
        return err_fail(err, code, "journal %s: %s", path, err_name(code));
    }
    if (!S_ISREG(found.st_mode)) {
        return err_fail(err, EILSEQ, "journal %s: it is not a file", path);
    }
    return 0;
}

int journal_reader_open(const char *path, struct journal_reader **ret, struct err *err)
{
    if (strlen(path) >= JOURNAL_READ_PATH_MAX) {
        return err_fail(err, ENAMETOOLONG, "journal %.64s…: the path is too long", path);
    }
    int result = look_at(path, err);
    if (result != 0) {
        return result;
    }
    struct journal_reader *reader = calloc(1, sizeof *reader);
    if (!reader) {
        return err_fail(err, ENOMEM, "journal %s: no memory", path);
    }
    memcpy(reader->path, path, strlen(path) + 1);
    result = connect_somehow(reader, err);
    if (result != 0) {
        free(reader);
        return result;
    }
    *ret = reader;
    return 0;
}

void journal_reader_close(struct journal_reader *reader)
{
    if (reader) {
        disconnect(reader);
        free(reader);
    }
}

static int is_over_now(void *context)
{
    return atomic_load((const atomic_bool *)context);
}

void journal_reader_end_by(struct journal_reader *reader, const atomic_bool *is_over)
{
    sqlite3_progress_handler(reader->db, END_STEP, is_over_now, (void *)is_over); /* only read */
}

const char *journal_reader_note(const struct journal_reader *reader)
{
    return reader->note;
}

int journal_read_day_range(struct journal_reader *reader, const char *space, int64_t *ret_first,
                           int64_t *ret_last, struct err *err)
{
    static const char sql[] = "SELECT min(light_day), max(light_day) FROM day CROSS JOIN space"
                              " ON space.id = space_id WHERE (?1 IS NULL OR name = ?1)"
                              " AND " DAYS_KNOWN;
    sqlite3_stmt *statement = NULL;
    int result = journal_read_prepare(reader, sql, &statement, err);
    if (result != 0) {
        return result;
    }
    (void)sqlite3_bind_text(statement, 1, space, -1, SQLITE_STATIC); /* NULL binds NULL */
    int code = sqlite3_step(statement);
    if (code != SQLITE_ROW) {
        result = journal_read_fail(reader, code, err);
    } else if (sqlite3_column_type(statement, 0) != SQLITE_INTEGER) {
        result = err_fail(err, ENOENT, "journal %s: there is no light day%s%s in it", reader->path,
                          space ? " of space " : "", space ? space : "");
    } else {
        *ret_first = sqlite3_column_int64(statement, 0);
        *ret_last = sqlite3_column_int64(statement, 1);
    }
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    return result;
}

/* Two short walks along the key, not one over all minutes. */
int journal_read_minute_range(struct journal_reader *reader, const struct journal_range *range,
                              int64_t *ret_first_s, int64_t *ret_last_s, struct err *err)
{
    static const char sql[] =
        "WITH its(id) AS (SELECT id FROM space WHERE name = ?1) SELECT"
        " (SELECT wall_s FROM minute WHERE space_id = (SELECT id FROM its) AND wall_s >= ?2"
        "  AND wall_s < ?3 AND " WALL_KNOWN " ORDER BY wall_s LIMIT 1),"
        " (SELECT wall_s FROM minute WHERE space_id = (SELECT id FROM its) AND wall_s >= ?2"
        "  AND wall_s < ?3 AND " WALL_KNOWN " ORDER BY wall_s DESC LIMIT 1)";
    sqlite3_stmt *statement = NULL;
    int result = journal_read_prepare(reader, sql, &statement, err);
    if (result != 0) {
        return result;
    }
    (void)sqlite3_bind_text(statement, 1, range->space, -1, SQLITE_STATIC);
    (void)sqlite3_bind_int64(statement, 2, range->from);
    (void)sqlite3_bind_int64(statement, 3, range->to);
    int code = sqlite3_step(statement);
    if (code != SQLITE_ROW) {
        result = journal_read_fail(reader, code, err);
    } else if (sqlite3_column_type(statement, 0) != SQLITE_INTEGER) {
        result = err_fail(err, ENOENT, "journal %s: no minute of space %s is stored", reader->path,
                          range->space);
    } else {
        *ret_first_s = sqlite3_column_int64(statement, 0);
        *ret_last_s = sqlite3_column_int64(statement, 1);
    }
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    return result;
}

int64_t journal_read_state(struct journal_reader *reader, const char *space, void *ret, size_t size,
                           int64_t *ret_wall_s, struct err *err)
{
    static const char sql[] = "SELECT wall_s, data FROM state WHERE space_id ="
                              " (SELECT id FROM space WHERE name = ?1)";
    sqlite3_stmt *statement = NULL;
    int result = journal_read_prepare(reader, sql, &statement, err);
    if (result != 0) {
        return result;
    }
    (void)sqlite3_bind_text(statement, 1, space, -1, SQLITE_STATIC);
    int code = sqlite3_step(statement);
    int64_t stored = 0;
    if (code == SQLITE_ROW) {
        const void *data = sqlite3_column_blob(statement, 1);
        stored = sqlite3_column_bytes(statement, 1);
        size_t length = (size_t)stored < size ? (size_t)stored : size;
        if (data && length > 0) {
            memcpy(ret, data, length);
        }
        *ret_wall_s = sqlite3_column_int64(statement, 0);
    } else if (code == SQLITE_DONE) {
        stored =
            err_fail(err, ENOENT, "journal %s: no saved state of space %s", reader->path, space);
    } else {
        stored = journal_read_fail(reader, code, err);
    }
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    return stored;
}

int64_t journal_read_latest(struct journal_reader *reader)
{
    int64_t latest_s = 0;
    (void)ask_int(reader, /* 0 when it cannot be read: then nothing is known */
                  "SELECT max(latest) FROM"
                  " (SELECT max(wall_s) AS latest FROM minute WHERE " WALL_KNOWN
                  " UNION ALL SELECT max(wall_s) FROM event WHERE " WALL_KNOWN
                  " UNION ALL SELECT max(wall_s) FROM state WHERE " WALL_KNOWN ")",
                  &latest_s, NULL);
    return latest_s;
}

int64_t journal_read_trusted(struct journal_reader *reader)
{
    int64_t latest_s = 0;
    (void)ask_int(reader, /* as above */
                  "SELECT coalesce((SELECT max(wall_s) FROM state WHERE " WALL_KNOWN "),"
                  " (SELECT max(latest) FROM"
                  " (SELECT max(wall_s) AS latest FROM minute WHERE " WALL_KNOWN
                  " UNION ALL SELECT max(wall_s) FROM event WHERE " WALL_KNOWN ")))",
                  &latest_s, NULL);
    return latest_s;
}
