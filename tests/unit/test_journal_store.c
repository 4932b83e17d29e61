/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The journal on a bad disk: missing, full, read-only, damaged in every way we could think of,
 * killed while writing. Each time: nobody waits, the reason is said, and it comes back by itself.
 */
#include "journal.h"

#include "clock.h"
#include "err.h"
#include "journal_bed.h"
#include "prng.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static struct bed bed;

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    return 0;
}

static int end(void **state)
{
    (void)state;
    bed_remove(&bed);
    return 0;
}

static void put(int64_t index)
{
    const struct journal_minute minute = bed_minute("lettuce", index);
    assert_true(journal_put_minute(bed.journal, &minute));
}

static int64_t minutes(void)
{
    return bed_ask(&bed, "SELECT count(*) FROM minute");
}

/* The folder appears later, as when a card is mounted late: everything put meanwhile is there. */
static void missing_folder(void **state)
{
    (void)state;
    char path[160];
    char folder[80];
    (void)snprintf(folder, sizeof folder, "%s/later", bed.folder);
    (void)snprintf(path, sizeof path, "%s/journal.db", folder);
    bed.options.path = path;
    bed_open(&bed);
    put(0);
    assert_false(journal_flush(bed.journal, 5));
    struct journal_status status = bed_await(&bed, JOURNAL_WAITING);
    assert_non_null(strstr(status.reason, "No such file or directory"));
    put(1);
    assert_int_equal(mkdir(folder, 0700), 0);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    bed_close(&bed);
    (void)snprintf(bed.path, sizeof bed.path, "%.90s", path);
    assert_int_equal(minutes(), 2);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM event WHERE kind = 'journal-back'"), 1);
    static const char *const suffixes[] = {"", "-wal", "-shm", ".lock"};
    for (size_t i = 0; i < 4; i++) {
        (void)snprintf(path, sizeof path, "%s/journal.db%s", folder, suffixes[i]);
        (void)unlink(path);
    }
    assert_int_equal(rmdir(folder), 0);
}

/* A folder where the file should be, then gone. */
static void folder_in_the_way(void **state)
{
    (void)state;
    assert_int_equal(mkdir(bed.path, 0700), 0);
    bed_open(&bed);
    put(0);
    (void)bed_await(&bed, JOURNAL_WAITING);
    assert_int_equal(rmdir(bed.path), 0);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    bed_close(&bed);
    assert_int_equal(minutes(), 1);
}

/* The file disappears while the journal runs: what comes is written to a new one, not to nowhere.
 */
static void file_removed(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 5);
    assert_int_equal(unlink(bed.path), 0);
    put(5);
    (void)journal_flush(bed.journal, 5);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    assert_true(journal_flush(bed.journal, 5));
    bed_close(&bed);
    assert_int_equal(minutes(), 1);
}

static void limit_file_size(rlim_t bytes)
{
    struct rlimit limit;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &limit), 0);
    limit.rlim_cur = bytes == 0 ? limit.rlim_max : bytes;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

/* Writes fail from a certain size on; room comes back. Nothing is lost as long as the queue holds.
 */
static void no_room(void **state)
{
    (void)state;
    (void)signal(SIGXFSZ, SIG_IGN); /* then write fails with EFBIG */
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 10);
    limit_file_size(60000);
    for (int i = 10; i < 1000; i++) {
        put(i);
    }
    assert_false(journal_flush(bed.journal, 5));
    (void)bed_await(&bed, JOURNAL_WAITING);
    const struct journal_event alarm = bed_event("lettuce", JOURNAL_ALARM, "meanwhile");
    assert_true(journal_put_event(bed.journal, &alarm));
    limit_file_size(0);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    assert_true(journal_flush(bed.journal, 5));
    assert_int_equal(journal_get_status(bed.journal).dropped, 0);
    bed_close(&bed);
    assert_int_equal(minutes(), 1000);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM event WHERE text = 'meanwhile'"), 1);
    assert_int_equal(bed_ask(&bed, "PRAGMA integrity_check(1) = 'ok'"),
                     -1); /* a pragma is no value */
    (void)signal(SIGXFSZ, SIG_DFL);
}

/* The same for so long that the queue overflows: minutes go, events stay. */
static void no_room_for_long(void **state)
{
    (void)state;
    bed.options.queue_max = 50;
    assert_int_equal(mkdir(bed.path, 0700), 0);
    bed_open(&bed);
    (void)bed_await(&bed, JOURNAL_WAITING);
    for (int i = 0; i < 40; i++) {
        const struct journal_event event = bed_event("lettuce", JOURNAL_INFO, "x");
        assert_true(journal_put_event(bed.journal, &event));
    }
    for (int i = 0; i < 100; i++) {
        put(i);
    }
    assert_int_equal(journal_get_status(bed.journal).dropped, 90);
    assert_int_equal(rmdir(bed.path), 0);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    bed_close(&bed);
    assert_int_equal(minutes(), 10);
    assert_int_equal(bed_ask(&bed, "SELECT min(wall_s) FROM minute"), BED_WALL_S + 90 * 60);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM event WHERE kind = 'test'"), 40);
}

/* A real file system that is really full, then really read-only. */
static void full_and_read_only(void **state)
{
    (void)state;
    if (mount("lampwarden-test", bed.folder, "tmpfs", 0, "size=256k") != 0) {
        print_message("skipped: no right to mount (%s)\n", strerror(errno));
        skip();
    }
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 10);
    for (int i = 10; i < 3000; i++) {
        put(i);
    }
    (void)journal_flush(bed.journal, 10);
    struct journal_status status = bed_await(&bed, JOURNAL_WAITING);
    assert_non_null(strstr(status.reason, "full"));
    assert_int_equal(mount("none", bed.folder, NULL, MS_REMOUNT, "size=4m"), 0);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    assert_true(journal_flush(bed.journal, 10));
    assert_int_equal(minutes(), 3000);

    bed_close(&bed); /* a file open for writing would keep the folder writable */
    assert_int_equal(mount("none", bed.folder, NULL, MS_REMOUNT | MS_RDONLY, ""), 0);
    bed_open(&bed);
    put(3000);
    assert_false(journal_flush(bed.journal, 10));
    status = bed_await(&bed, JOURNAL_WAITING);
    assert_non_null(strstr(status.reason, "ead-only"));
    assert_int_equal(mount("none", bed.folder, NULL, MS_REMOUNT, ""), 0);
    (void)bed_await(&bed, JOURNAL_HEALTHY);
    assert_true(journal_flush(bed.journal, 10));
    assert_int_equal(journal_get_status(bed.journal).dropped, 0);
    bed_close(&bed);
    assert_int_equal(minutes(), 3001);
    assert_int_equal(umount(bed.folder), 0);
}

enum harm { HARM_FLIP, HARM_CUT, HARM_ZERO, HARM_EMPTY, HARM_NOISE, HARM_COUNT };

static void harm_file(const char *path, enum harm harm, struct prng *prng)
{
    int fd = open(path, O_RDWR | O_CLOEXEC);
    struct stat found;
    if (fd < 0) {
        return; /* closed properly: there is no such file */
    }
    assert_int_equal(fstat(fd, &found), 0);
    unsigned char page[4096];
    const int64_t size = found.st_size;
    for (int64_t at = 0; at < size; at += (int64_t)sizeof page) {
        const ssize_t length = pread(fd, page, sizeof page, at);
        assert_true(length >= 0);
        for (ssize_t i = 0; i < length; i++) {
            const bool is_hit =
                harm == HARM_NOISE || (harm == HARM_FLIP && prng_int(prng, 0, 99) == 0);
            page[i] ^= is_hit ? (unsigned char)prng_int(prng, 1, 255) : 0;
        }
        if (harm == HARM_ZERO) {
            memset(page, 0, sizeof page);
        }
        assert_int_equal(pwrite(fd, page, (size_t)length, at), length);
    }
    if (harm == HARM_CUT || harm == HARM_EMPTY) {
        assert_int_equal(ftruncate(fd, harm == HARM_EMPTY ? 0 : size / 3 + 7), 0);
    }
    (void)close(fd);
}

/* Leaves a journal as a crash leaves it: half of its rows in the database, half in its WAL. */
static void crash_with_records(void)
{
    pid_t child = fork();
    if (child == 0) {
        bed_open(&bed);
        bed_put_minutes(&bed, "lettuce", 0, 1000); /* with the first checkpoint */
        bed_put_minutes(&bed, "lettuce", 1000, 1000);
        (void)raise(SIGKILL);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
}

/* Every kind of harm to every file: the journal writes again, at once, and what it set aside is
 * kept. */
static void damage(void **state)
{
    (void)state;
    static const char *const suffixes[] = {"", "-wal", "-shm"};
    struct prng prng = prng_start("damage");
    for (size_t s = 0; s < 3; s++) {
        for (unsigned harm = 0; harm < HARM_COUNT; harm++) {
            char path[128];
            crash_with_records();
            (void)snprintf(path, sizeof path, "%s%s", bed.path, suffixes[s]);
            harm_file(path, (enum harm)harm, &prng);
            bed_open(&bed);
            bed_put_minutes(&bed, "basil", 0, 10);
            const struct journal_status status = journal_get_status(bed.journal);
            assert_int_equal(status.health, JOURNAL_HEALTHY);
            assert_int_equal(status.dropped, 0);
            bed_close(&bed);
            const int64_t kept = minutes();
            const int aside = bed_files(&bed, ".corrupt-");
            print_message("%-4s harm %u: %lld minutes, %d files set aside\n", suffixes[s], harm,
                          (long long)kept, aside);
            assert_true(kept >= (s == 1 && aside == 0 ? 1010 : 10));
            assert_int_equal(aside > 0, s == 0);
            if (aside > 0) {
                assert_int_equal(
                    bed_ask(&bed, "SELECT count(*) FROM event WHERE kind = 'journal-damaged'"), 1);
            }
            if (s == 2) {
                assert_int_equal(kept, 2010); /* the index is made anew: no reason to lose a row */
            }
            bed_remove(&bed);
            bed_make(&bed);
        }
    }
}

/* Damage under the running journal: found, set aside, an alarm, and on it goes. */
static void damage_while_running(void **state)
{
    (void)state;
    struct prng prng = prng_start("damage_while_running");
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 3000);
    bed_close(&bed);
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 3000, 1);
    harm_file(bed.path, HARM_NOISE, &prng);
    char path[128];
    (void)snprintf(path, sizeof path, "%s-wal", bed.path);
    harm_file(path, HARM_NOISE, &prng);
    bed_close(&bed); /* its pages may still be cached: the next start must find it */
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 3001, 1);
    bed_close(&bed);
    assert_int_equal(minutes(), 1);
    assert_true(bed_files(&bed, ".corrupt-") >= 1);
    assert_int_equal(bed_ask(&bed, "SELECT class FROM event WHERE kind = 'journal-damaged'"),
                     JOURNAL_ALARM);
}

/* Files that are not ours are left alone, byte for byte. */
static void foreign_files(void **state)
{
    (void)state;
    static const char *const scripts[] = {
        "CREATE TABLE guests (name TEXT); INSERT INTO guests VALUES ('x')",
        "CREATE TABLE meta (a, b); PRAGMA user_version = 1",
    };
    for (size_t i = 0; i < 2; i++) {
        bed_run(&bed, scripts[i]);
        bed_open(&bed);
        put(0);
        assert_false(journal_flush(bed.journal, 5));
        const struct journal_status status = bed_await(&bed, JOURNAL_OFF);
        assert_non_null(strstr(status.reason, "another program's"));
        put(1); /* taken, and given up */
        assert_false(journal_flush(bed.journal, 5));
        assert_int_equal(journal_get_status(bed.journal).written, 0);
        assert_int_equal(journal_get_status(bed.journal).dropped, 2);
        bed_close(&bed);
        assert_int_equal(bed_files(&bed, ".corrupt-"), 0);
        assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM sqlite_schema"), 1);
        bed_remove(&bed);
        bed_make(&bed);
    }
}

static void newer_schema(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 1);
    bed_close(&bed);
    bed_run(&bed,
            "PRAGMA user_version = 7; UPDATE meta SET value = 7 WHERE key = 'schema_version'");
    bed_open(&bed);
    put(1);
    assert_false(journal_flush(bed.journal, 5));
    const struct journal_status status = bed_await(&bed, JOURNAL_OFF);
    assert_non_null(strstr(status.reason, "schema 7, this program knows 3"));
    bed_close(&bed);
    assert_int_equal(minutes(), 1);
    assert_int_equal(bed_files(&bed, ".corrupt-"), 0);
}

/*
 * Killed without warning while it writes, again and again: the file stays whole, and of what was
 * put only the rows since the last commit are missing. Each run tells through a pipe what was
 * committed.
 */
static void killed_while_writing(void **state)
{
    (void)state;
    struct prng prng = prng_start("killed_while_writing");
    int64_t next = 0;
    for (int turn = 0; turn < 8; turn++) {
        int told[2];
        assert_int_equal(pipe(told), 0);
        pid_t child = fork();
        if (child == 0) {
            bed_open(&bed);
            for (int64_t i = next;; i++) {
                put(i);
                if (i % 16 == 15 && journal_flush(bed.journal, 20)) {
                    (void)!write(told[1], &i, sizeof i);
                }
            }
        }
        (void)close(told[1]);
        int64_t committed = -1;
        assert_int_equal(read(told[0], &committed, sizeof committed), sizeof committed);
        (void)clock_sleep_until(clock_boot_ns() + prng_int(&prng, 1, 60) * CLOCK_NS_PER_MS, NULL);
        (void)kill(child, SIGKILL);
        assert_int_equal(waitpid(child, NULL, 0), child);
        int64_t later = 0;
        while (read(told[0], &later, sizeof later) == (ssize_t)sizeof later) {
            committed = later;
        }
        (void)close(told[0]);
        assert_int_equal(bed_ask(&bed, "SELECT (SELECT count(*) FROM pragma_quick_check) = 1 AND"
                                       " (SELECT quick_check FROM pragma_quick_check) = 'ok'"),
                         1);
        const int64_t stored = minutes();
        assert_true(stored >= committed + 1);
        assert_int_equal(bed_ask(&bed, "SELECT max(wall_s) FROM minute"),
                         BED_WALL_S + 60 * (stored - 1)); /* and no hole in them */
        next = stored;
    }
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", next, 1);
    bed_close(&bed);
    assert_int_equal(bed_files(&bed, ".corrupt-"), 0);
    assert_int_equal(minutes(), next + 1);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, begin, end)
    const struct CMUnitTest tests[] = {
        TEST(missing_folder), TEST(folder_in_the_way),    TEST(file_removed),
        TEST(no_room),        TEST(no_room_for_long),     TEST(full_and_read_only),
        TEST(damage),         TEST(damage_while_running), TEST(foreign_files),
        TEST(newer_schema),   TEST(killed_while_writing),
    };
#undef TEST
    return cmocka_run_group_tests(tests, NULL, NULL);
}
