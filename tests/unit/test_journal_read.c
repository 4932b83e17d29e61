/* SPDX-License-Identifier: Apache-2.0 */
/* Reading: what was put comes back, in order and whole; a file that is no journal is a sentence. */
#include "journal_read.h"

#include "clock.h"
#include "err.h"
#include "journal_bed.h"
#include "near.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static struct bed bed;
static struct journal_reader *reader;

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    return 0;
}

static int end(void **state)
{
    (void)state;
    journal_reader_close(reader);
    reader = NULL;
    bed_remove(&bed);
    return 0;
}

static void open_reader(void)
{
    struct err err = {""};
    if (journal_reader_open(bed.path, &reader, &err) != 0) {
        fail_msg("%s", err.text);
    }
}

struct minutes {
    int count;
    struct journal_minute last;
    bool is_ordered;
    int stop_after; /* 0: never */
};

static int keep_minute(const struct journal_minute *minute, void *context)
{
    struct minutes *minutes = context;
    if (minutes->count > 0 && minute->wall_s < minutes->last.wall_s) {
        minutes->is_ordered = false;
    }
    minutes->last = *minute;
    return ++minutes->count == minutes->stop_after ? 77 : 0;
}

static int read_minutes(const char *space, int64_t from, int64_t to, struct minutes *minutes)
{
    const struct journal_range range = {space, from, to};
    minutes->is_ordered = true;
    return journal_read_minutes(reader, &range, keep_minute, minutes, NULL);
}

static void minutes_come_back(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 700); /* some pages of rows */
    bed_put_minutes(&bed, "basil", 0, 600);
    open_reader();
    struct minutes all = {0};
    assert_int_equal(read_minutes(NULL, INT64_MIN, INT64_MAX, &all), 0);
    assert_int_equal(all.count, 1300);
    assert_true(all.is_ordered);
    struct minutes one = {0};
    assert_int_equal(read_minutes("basil", BED_WALL_S + 60, BED_WALL_S + 600 * 60, &one), 0);
    assert_int_equal(one.count, 599); /* half open */
    const struct journal_minute expected = bed_minute("basil", 599);
    assert_string_equal(one.last.space, "basil");
    assert_int_equal(one.last.wall_s, expected.wall_s);
    assert_int_equal(one.last.light_day, expected.light_day);
    assert_near(one.last.ppfd_umol, expected.ppfd_umol, 0);
    assert_near(one.last.delivered_mol, expected.delivered_mol, 0);
    assert_near(one.last.price_per_kwh, expected.price_per_kwh, 0);
    assert_true(isnan(one.last.air_c));
    assert_int_equal(one.last.limiter, LIMITER_PLAN);
    assert_int_equal(one.last.quality, READING_GOOD);
    struct minutes none = {0};
    assert_int_equal(read_minutes("nobody", INT64_MIN, INT64_MAX, &none), 0);
    assert_int_equal(none.count, 0);
    struct minutes few = {.stop_after = 300};
    assert_int_equal(read_minutes(NULL, INT64_MIN, INT64_MAX, &few), 77); /* the row's own answer */
    assert_int_equal(few.count, 300);
}

static int keep_day(const struct journal_day *day, void *context)
{
    struct journal_day *days = context;
    while (days->space[0]) {
        days++;
    }
    *days = *day;
    return 0;
}

static void days_come_back(void **state)
{
    (void)state;
    bed_open(&bed);
    for (int i = 2; i >= 0; i--) {
        const struct journal_day day = bed_day(i == 1 ? "basil" : "lettuce", BED_DAY + i, i < 2);
        assert_true(journal_put_day(bed.journal, &day));
    }
    assert_true(journal_flush(bed.journal, 20));
    open_reader();
    struct journal_day days[4] = {0};
    const struct journal_range range = {NULL, BED_DAY, BED_DAY + 3};
    assert_int_equal(journal_read_days(reader, &range, keep_day, days, NULL), 0);
    assert_string_equal(days[0].space, "lettuce");
    assert_string_equal(days[1].space, "basil");
    assert_int_equal(days[2].summary.light_day, BED_DAY + 2);
    assert_true(days[0].is_closed);
    assert_false(days[2].is_closed);
    const struct day_summary *summary = &days[1].summary;
    assert_string_equal(days[1].stage, "growing");
    assert_string_equal(days[1].currency, "EUR");
    assert_int_equal(days[1].begin_s, (BED_DAY + 1) * INT64_C(86400));
    assert_near(account_missing_mol(&summary->account), 0.75, 1e-12);
    assert_near(summary->account.missing_mol[LIMITER_HEAT], 0.5, 0);
    assert_near(summary->integral.lamp_mol, 11.25, 0);
    assert_near(summary->cost, 1.05, 0);
    assert_near(summary->lamp_cost, 1.03, 0);
    assert_near(summary->bound_cost, 0.99, 0);
    assert_near(summary->even_cost, 1.21, 0);
    assert_true(summary->is_feasible);
    assert_int_equal(summary->lights_off_s - summary->lights_on_s, 16 * 3600);
    assert_int_equal(summary->switch_operations, 2);
    assert_true(isnan(summary->heatsink_max_c));
    struct journal_day later[4] = {0};
    const struct journal_range second = {NULL, BED_DAY + 1, BED_DAY + 2}; /* half open */
    assert_int_equal(journal_read_days(reader, &second, keep_day, later, NULL), 0);
    assert_int_equal(later[0].summary.light_day, BED_DAY + 1);
    assert_string_equal(later[1].space, "");
    int64_t first = 0;
    int64_t last = 0;
    assert_int_equal(journal_read_day_range(reader, NULL, &first, &last, NULL), 0);
    assert_int_equal(last - first, 2);
    assert_int_equal(journal_read_day_range(reader, "basil", &first, &last, NULL), 0);
    assert_int_equal(last - first, 0);
    assert_int_equal(journal_read_day_range(reader, "nobody", &first, &last, NULL), -ENOENT);
}

struct texts {
    int count;
    char joined[512];
};

static int keep_text(const struct journal_event *event, void *context)
{
    struct texts *texts = context;
    texts->count++;
    (void)strncat(texts->joined, event->text, sizeof texts->joined - strlen(texts->joined) - 1);
    return 0;
}

static int read_events(const char *space, struct texts *texts)
{
    const struct journal_range range = {space, INT64_MIN, INT64_MAX};
    return journal_read_events(reader, &range, keep_text, texts, NULL);
}

static void events_come_back(void **state)
{
    (void)state;
    bed_open(&bed);
    for (int i = 0; i < 600; i++) { /* more than a page within one second */
        const char first_texts[] = {(char)('a' + i), '\0'};
        const struct journal_event event =
            bed_event(i % 2 ? "lettuce" : "", JOURNAL_INFO, i < 4 ? first_texts : "");
        assert_true(journal_put_event(bed.journal, &event));
    }
    assert_true(journal_flush(bed.journal, 20));
    open_reader();
    struct texts all = {0};
    assert_int_equal(read_events(NULL, &all), 0);
    assert_int_equal(all.count, 600);
    assert_string_equal(all.joined, "abcd");
    struct texts own = {0};
    assert_int_equal(read_events("", &own), 0); /* the daemon's */
    assert_int_equal(own.count, 300);
    assert_string_equal(own.joined, "ac");
    assert_int_equal(journal_read_latest(reader), BED_WALL_S);
}

/* A damaged text must not reach a terminal or a JSON writer as it is. */
static void texts_are_cleaned(void **state)
{
    (void)state;
    bed_open(&bed);
    const struct journal_event event = bed_event("lettuce", JOURNAL_INFO, "a");
    assert_true(journal_put_event(bed.journal, &event));
    assert_true(journal_flush(bed.journal, 20));
    bed_close(&bed);
    bed_run(&bed,
            "UPDATE event SET text = CAST(x'411b5b3331c2b0c2ff42eda08043e0808044c3' AS TEXT), "
            "class = 99"); /* also a surrogate and an overlong sequence: no JSON takes them */
    open_reader();
    struct texts texts = {0};
    assert_int_equal(read_events(NULL, &texts), 0);
    assert_string_equal(texts.joined, "A?[31°??B???C???D?");
}

static void absurd_numbers_are_held(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 1);
    const struct journal_day day = bed_day("lettuce", BED_DAY, true);
    assert_true(journal_put_day(bed.journal, &day));
    assert_true(journal_flush(bed.journal, 20));
    bed_close(&bed);
    bed_run(&bed, "UPDATE minute SET light_day = 9223372036854775807, limiter = 'moon', "
                  "quality = '?', wall_s = 9223372036854775806;"
                  "UPDATE day SET begin_s = -9223372036854775808, switch_operations = -5,"
                  "utc_offset_s = 999999999, lights_on_s = 9223372036854775807");
    open_reader();
    struct minutes minutes = {0};
    assert_int_equal(read_minutes(NULL, INT64_MIN, INT64_MAX, &minutes), 0);
    assert_int_equal(minutes.count, 1);
    assert_int_equal(minutes.last.limiter, LIMITER_COUNT);
    assert_int_equal(minutes.last.quality, READING_LOST);
    assert_true(minutes.last.wall_s < INT64_C(253402300800)); /* before the year 10000 */
    struct journal_day days[2] = {0};
    const struct journal_range range = {NULL, 0, INT64_MAX};
    assert_int_equal(journal_read_days(reader, &range, keep_day, days, NULL), 0);
    assert_int_equal(days[0].summary.switch_operations, 0);
    assert_int_equal(days[0].utc_offset_s, 14 * 3600);
}

static void absurd_times_are_no_first_or_last(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 3);
    const struct journal_state saved = {"lettuce", BED_WALL_S, 5, "first"};
    assert_true(journal_put_state(bed.journal, &saved));
    for (int i = -1; i <= 1; i++) {
        const struct journal_day day = bed_day("lettuce", BED_DAY + i, true);
        assert_true(journal_put_day(bed.journal, &day));
    }
    assert_true(journal_flush(bed.journal, 20));
    bed_close(&bed);
    bed_run(&bed, "UPDATE day SET light_day = 9223372036854775807 WHERE light_day = 20509;"
                  "UPDATE day SET light_day = -9223372036854775808 WHERE light_day = 20507;"
                  "UPDATE minute SET wall_s = 9223372036854775807 WHERE wall_s = 1772000160;"
                  "UPDATE minute SET wall_s = -9223372036854775808 WHERE wall_s = 1772000040;"
                  "INSERT INTO state VALUES (99, 9223372036854775807, x'00')");
    open_reader();
    int64_t first = 0;
    int64_t last = 0;
    const struct journal_range all = {"lettuce", INT64_MIN, INT64_MAX};
    assert_int_equal(journal_read_day_range(reader, NULL, &first, &last, NULL), 0);
    assert_true(first == BED_DAY && last == BED_DAY);
    assert_int_equal(journal_read_minute_range(reader, &all, &first, &last, NULL), 0);
    assert_true(first == BED_WALL_S + 60 && last == first);
    assert_int_equal(journal_read_latest(reader), BED_WALL_S + 60);
    assert_int_equal(journal_read_trusted(reader), BED_WALL_S);
}

static void state_comes_back(void **state)
{
    (void)state;
    char buffer[8] = "";
    int64_t wall_s = 0;
    bed_open(&bed);
    const struct journal_state first = {"lettuce", 7, 5, "first"};
    const struct journal_state second = {"lettuce", 9, 10, "the second"};
    assert_true(journal_put_state(bed.journal, &first));
    assert_true(journal_flush(bed.journal, 20));
    assert_true(journal_put_state(bed.journal, &second));
    assert_true(journal_flush(bed.journal, 20));
    open_reader();
    assert_int_equal(journal_read_state(reader, "lettuce", buffer, sizeof buffer, &wall_s, NULL),
                     10);
    assert_memory_equal(buffer, "the seco", 8);
    assert_int_equal(wall_s, 9);
    assert_int_equal(journal_read_state(reader, "basil", buffer, sizeof buffer, &wall_s, NULL),
                     -ENOENT);
    assert_int_equal(journal_read_latest(reader), 9);
    assert_int_equal(journal_read_trusted(reader), 9);
}

/* A space that carries on by a clock that nobody trusts does not move what is known of the time. */
static void untrusted_entries_prove_no_time(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "basil", 0, 3);
    assert_true(journal_flush(bed.journal, 20));
    open_reader();
    const int64_t last_s = journal_read_latest(reader);
    assert_int_equal(journal_read_trusted(reader), last_s); /* no state: the best there is */
    const struct journal_state saved = {"lettuce", last_s - 86400, 4, "data"};
    assert_true(journal_put_state(bed.journal, &saved));
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_read_latest(reader), last_s);
    assert_int_equal(journal_read_trusted(reader), last_s - 86400);
}

static void no_journals(void **state)
{
    (void)state;
    struct err err;
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), -ENOENT);
    assert_int_equal(journal_reader_open(bed.folder, &reader, &err), -EILSEQ);
    int fd = open(bed.path, O_CREAT | O_RDWR | O_CLOEXEC, 0600);
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), -ENOENT);
    assert_non_null(strstr(err.text, "still empty"));
    char noise[8192];
    memset(noise, 0x5a, sizeof noise);
    assert_int_equal(write(fd, noise, sizeof noise), sizeof noise);
    (void)close(fd);
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), -EILSEQ);
    assert_int_equal(unlink(bed.path), 0);
    bed_run(&bed, "CREATE TABLE guests (name TEXT)");
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), -EILSEQ);
    assert_int_equal(unlink(bed.path), 0);
    bed_open(&bed);
    assert_true(journal_flush(bed.journal, 20));
    bed_close(&bed);
    bed_run(&bed, "PRAGMA user_version = 4");
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), -EPROTO);
    assert_non_null(strstr(err.text, "its schema is 4, this program knows 3"));
    assert_null(reader);
}

/* The writer goes on while a reader's row is on its way to a slow terminal. */
static int write_between(const struct journal_minute *minute, void *context)
{
    int *count = context;
    (void)minute;
    if ((*count)++ == 10) {
        bed_put_minutes(&bed, "basil", 0, 1);
        assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM minute"), 301);
    }
    return 0;
}

static void reading_does_not_stop_writing(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 300);
    open_reader();
    int count = 0;
    const struct journal_range range = {"lettuce", INT64_MIN, INT64_MAX};
    assert_int_equal(journal_read_minutes(reader, &range, write_between, &count, NULL), 0);
    assert_int_equal(count, 300);
}

/* Runs `look` as a user who may read but not write; its result is the child's. */
static void as_stranger(int (*look)(void), int expected)
{
    assert_int_equal(chmod(bed.folder, 0555), 0);
    pid_t child = fork();
    if (child == 0) {
        bool is_stranger = getuid() != 0 || (setgid(65534) == 0 && setuid(65534) == 0);
        _exit(is_stranger ? look() : 99);
    }
    int status = -1;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), expected);
    assert_int_equal(chmod(bed.folder, 0700), 0);
}

/* Number of minutes; + 100 when the reader says that some may be missing. 98: not to be opened. */
static int count_and_note(void)
{
    struct minutes minutes = {0};
    if (journal_reader_open(bed.path, &reader, NULL) != 0) {
        return 98;
    }
    (void)read_minutes(NULL, INT64_MIN, INT64_MAX, &minutes);
    return minutes.count + (journal_reader_note(reader)[0] ? 100 : 0);
}

static void readable_for_strangers(void)
{
    static const char *const suffixes[] = {"", "-wal", "-shm", ".lock"};
    for (size_t i = 0; i < 4; i++) {
        char path[128];
        (void)snprintf(path, sizeof path, "%s%s", bed.path, suffixes[i]);
        (void)chmod(path, 0644);
    }
}

static void crash_after(int minutes)
{
    pid_t child = fork();
    if (child == 0) {
        bed_open(&bed);
        bed_put_minutes(&bed, "lettuce", 0, 1); /* with the first checkpoint */
        bed_put_minutes(&bed, "lettuce", 1, minutes - 1);
        (void)raise(SIGKILL);
    }
    assert_int_equal(waitpid(child, NULL, 0), child);
    readable_for_strangers();
}

/* Readers who may not write in the folder, with the daemon alive, stopped and dead. */
static void readers_without_rights(void **state)
{
    (void)state;
    bed_open(&bed);
    bed_put_minutes(&bed, "lettuce", 0, 5);
    readable_for_strangers();
    as_stranger(count_and_note, 5);
    bed_close(&bed);
    as_stranger(count_and_note, 5); /* stopped: no log is left, the file says it all */
    bed_remove(&bed);
    bed_make(&bed);
    crash_after(5);
    as_stranger(count_and_note, 5); /* dead: log and index are there and can be read */
    char path[128];
    (void)snprintf(path, sizeof path, "%s-shm", bed.path);
    assert_int_equal(unlink(path), 0);
    as_stranger(count_and_note,
                101); /* no index: what the log holds is missing, and that is said */
    struct minutes all = {0};
    open_reader(); /* the owner sees all of it */
    assert_int_equal(read_minutes(NULL, INT64_MIN, INT64_MAX, &all), 0);
    assert_int_equal(all.count, 5);
    journal_reader_close(reader);
    reader = NULL;
    assert_int_equal(chmod(bed.path, 0), 0);
    as_stranger(count_and_note, 98);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, begin, end)
    const struct CMUnitTest tests[] = {
        TEST(minutes_come_back),
        TEST(days_come_back),
        TEST(events_come_back),
        TEST(texts_are_cleaned),
        TEST(absurd_numbers_are_held),
        TEST(absurd_times_are_no_first_or_last),
        TEST(state_comes_back),
        TEST(untrusted_entries_prove_no_time),
        TEST(no_journals),
        TEST(reading_does_not_stop_writing),
        TEST(readers_without_rights),
    };
#undef TEST
    return cmocka_run_group_tests(tests, NULL, NULL);
}
