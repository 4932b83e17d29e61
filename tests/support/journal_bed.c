/* SPDX-License-Identifier: Apache-2.0 */
#include "journal_bed.h"

#include "clock.h"
#include "err.h"

#include <dirent.h>
#include <math.h>
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

void bed_make(struct bed *bed)
{
    memset(bed, 0, sizeof *bed);
    (void)snprintf(bed->folder, sizeof bed->folder, "/tmp/lampwarden-journal-XXXXXX");
    assert_non_null(mkdtemp(bed->folder));
    (void)snprintf(bed->path, sizeof bed->path, "%s/journal.db", bed->folder);
    bed->options = (struct journal_options){.path = bed->path, .commit_s = 3600, .retry_s = 0.05};
}

void bed_open(struct bed *bed)
{
    struct err err;
    assert_int_equal(journal_open(&bed->options, &bed->journal, &err), 0);
}

void bed_close(struct bed *bed)
{
    journal_close(bed->journal);
    bed->journal = NULL;
}

void bed_remove(struct bed *bed)
{
    bed_close(bed);
    DIR *folder = opendir(bed->folder);
    assert_non_null(folder);
    const struct dirent *entry;
    while ((entry = readdir(folder)) != NULL) {
        char path[400];
        (void)snprintf(path, sizeof path, "%s/%s", bed->folder, entry->d_name);
        if (entry->d_name[0] != '.' && unlink(path) != 0) {
            (void)rmdir(path);
        }
    }
    (void)closedir(folder);
    assert_int_equal(rmdir(bed->folder), 0);
}

struct journal_minute bed_minute(const char *space, int64_t index)
{
    struct journal_minute minute = {
        .wall_s = BED_WALL_S + 60 * index,
        .light_day = (BED_WALL_S + 60 * index) / 86400,
        .ppfd_umol = 200 + (double)(index % 7) * 0.37,
        .lamp_umol = 190.25,
        .daylight_umol = 9.75,
        .level = 0.61803,
        .drive = 0.58,
        .limiter = LIMITER_PLAN,
        .heatsink_c = 51.3,
        .air_c = (double)NAN,
        .humidity_percent = (double)NAN,
        .watts = 231.7,
        .delivered_mol = 0.0123 * (double)index,
        .target_mol = 13,
        .price_per_kwh = 0.31,
        .quality = READING_GOOD,
        .night_dose_umol_m2 = (double)NAN,
        .night_longest_s = (double)NAN,
        .night_possible_umol_m2 = (double)NAN,
    };
    (void)snprintf(minute.space, sizeof minute.space, "%s", space);
    return minute;
}

struct journal_event bed_event(const char *space, enum journal_class class, const char *text)
{
    struct journal_event event = {.wall_s = BED_WALL_S,
                                  .light_day = BED_DAY,
                                  .class = class,
                                  .kind = "test",
                                  .a = 1.5,
                                  .b = (double)NAN};
    (void)snprintf(event.space, sizeof event.space, "%s", space);
    (void)snprintf(event.text, sizeof event.text, "%s", text);
    return event;
}

struct journal_day bed_day(const char *space, int64_t light_day, bool is_closed)
{
    struct journal_day day = {
        .stage = "growing",
        .currency = "EUR",
        .utc_offset_s = 0,
        .is_closed = is_closed,
        .begin_s = light_day * 86400,
        .summary = {.light_day = light_day,
                    .stage_index = 0,
                    .stage_day = 5,
                    .account = {.target_mol = 13, .delivered_mol = 12.25},
                    .integral = {.lamp_mol = 11.25, .daylight_mol = 1, .measured_s = 86400},
                    .reach_mol = 20,
                    .is_feasible = true,
                    .energy_kwh = 3.4,
                    .cost = 1.05,
                    .lamp_cost = 1.03,
                    .bound_cost = 0.99,
                    .even_cost = 1.21,
                    .lights_on_s = light_day * 86400 + 6 * 3600,
                    .lights_off_s = light_day * 86400 + 22 * 3600,
                    .switch_operations = 2,
                    .heatsink_max_c = (double)NAN},
    };
    day.summary.account.missing_mol[LIMITER_HEAT] = 0.5;
    day.summary.account.missing_mol[LIMITER_BY_HAND] = 0.25;
    (void)snprintf(day.space, sizeof day.space, "%s", space);
    return day;
}

void bed_put_minutes(struct bed *bed, const char *space, int64_t first, int64_t count)
{
    for (int64_t i = first; i < first + count; i++) {
        const struct journal_minute minute = bed_minute(space, i);
        assert_true(journal_put_minute(bed->journal, &minute));
    }
    assert_true(journal_flush(bed->journal, 20));
}

static sqlite3 *connect_to(const struct bed *bed, int flags)
{
    sqlite3 *db = NULL;
    if (sqlite3_open_v2(bed->path, &db, flags, NULL) != SQLITE_OK) {
        (void)sqlite3_close(db);
        return NULL;
    }
    (void)sqlite3_busy_timeout(db, 5000);
    return db;
}

int64_t bed_ask(const struct bed *bed, const char *sql)
{
    sqlite3 *db = connect_to(bed, SQLITE_OPEN_READONLY);
    sqlite3_stmt *statement = NULL;
    int64_t answer = -1;
    if (db && sqlite3_prepare_v2(db, sql, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW) {
        answer = sqlite3_column_int64(statement, 0);
    }
    (void)sqlite3_finalize(statement);
    (void)sqlite3_close(db);
    return answer;
}

void bed_run(const struct bed *bed, const char *sql)
{
    sqlite3 *db = connect_to(bed, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    assert_non_null(db);
    char *words = NULL;
    if (sqlite3_exec(db, sql, NULL, NULL, &words) != SQLITE_OK) {
        fail_msg("%s: %s", sql, words);
    }
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

struct journal_status bed_await(struct bed *bed, enum journal_health health)
{
    const int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    struct journal_status status = journal_get_status(bed->journal);
    while (status.health != health) {
        if (clock_boot_ns() > until_ns) {
            fail_msg("health is %d (%s), expected %d", (int)status.health, status.reason,
                     (int)health);
        }
        (void)clock_sleep_until(clock_boot_ns() + CLOCK_NS_PER_MS, NULL);
        status = journal_get_status(bed->journal);
    }
    return status;
}

int bed_files(const struct bed *bed, const char *part)
{
    DIR *folder = opendir(bed->folder);
    assert_non_null(folder);
    int count = 0;
    const struct dirent *entry;
    while ((entry = readdir(folder)) != NULL) {
        count += strstr(entry->d_name, part) != NULL;
    }
    (void)closedir(folder);
    return count;
}
