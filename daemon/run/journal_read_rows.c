/* SPDX-License-Identifier: Apache-2.0 */
/* Walking the rows of minutes, events and days, a page at a time. */
#include "journal_read.h"

#include "err.h"
#include "journal_read_sql.h"
#include "utf8.h"

#include <errno.h>
#include <math.h>
#include <sqlite3.h>
#include <stdint.h>
#include <string.h>

/* A text of the file may be anything: what a terminal or JSON would choke on becomes '?'. */
static void take_text(sqlite3_stmt *row, int column, char *buffer, size_t size)
{
    const char *at = (const char *)sqlite3_column_text(row, column);
    size_t used = 0;
    while (at && *at) {
        size_t length = utf8_sequence(at, SIZE_MAX);
        bool is_clean = length > 1 || (length == 1 && *at >= 0x20 && *at != 0x7f);
        size_t step = is_clean ? length : 1;
        if (used + step >= size) {
            break;
        }
        if (is_clean) {
            memcpy(buffer + used, at, step);
        } else {
            buffer[used] = '?';
        }
        used += step;
        at += step;
    }
    buffer[used] = '\0';
}

static double take_real(sqlite3_stmt *row, int column)
{
    return sqlite3_column_type(row, column) == SQLITE_NULL ? (double)NAN
                                                           : sqlite3_column_double(row, column);
}

static int take_int(sqlite3_stmt *row, int column, int low, int high)
{
    int64_t value = sqlite3_column_int64(row, column);
    return value < low ? low : value > high ? high : (int)value;
}

/* Within the years 1 … 9999, so that a caller may add and subtract days. */
static int64_t take_time(sqlite3_stmt *row, int column)
{
    const int64_t low = INT64_C(-62135596800);
    const int64_t high = INT64_C(253402300799);
    int64_t value = sqlite3_column_int64(row, column); /* NULL gives 0 */
    return value < low ? low : value > high ? high : value;
}

static uint32_t take_count(sqlite3_stmt *row, int column)
{
    int64_t value = sqlite3_column_int64(row, column);
    return value < 0 ? 0 : value > UINT32_MAX ? UINT32_MAX : (uint32_t)value;
}

static enum reading_quality take_quality(sqlite3_stmt *row, int column)
{
    char name[16];
    take_text(row, column, name, sizeof name);
    for (unsigned i = READING_GOOD; i < READING_LOST; i++) {
        if (strcmp(journal_quality_name((enum reading_quality)i), name) == 0) {
            return (enum reading_quality)i;
        }
    }
    return READING_LOST;
}

/* The walk so far. The cursor stands on the last row handed over: (time, id) in the order of the
 * key. */
struct walk {
    struct journal_reader *reader;
    const char *sql;
    const struct journal_range *range;
    int64_t time, id;
};

static struct walk walk_from(struct journal_reader *reader, const char *sql,
                             const struct journal_range *range)
{
    /* Behind every id of the moment before `from`. */
    return (struct walk){.reader = reader,
                         .sql = sql,
                         .range = range,
                         .time = range->from > INT64_MIN ? range->from - 1 : range->from,
                         .id = INT64_MAX};
}

/* Fills the page with `take`; moves the cursor. Returns the number of rows or a negative errno. */
static int fetch(struct walk *walk,
                 int (*take)(struct journal_reader *, sqlite3_stmt *, int, struct err *),
                 struct err *err)
{
    sqlite3_stmt *rows = NULL;
    int result = journal_read_prepare(walk->reader, walk->sql, &rows, err);
    if (result != 0) {
        return result;
    }
    (void)sqlite3_bind_int64(rows, 1, walk->time); /* the statements have these four parameters */
    (void)sqlite3_bind_int64(rows, 2, walk->id);
    (void)sqlite3_bind_int64(rows, 3, walk->range->to);
    (void)sqlite3_bind_text(rows, 4, walk->range->space, -1, SQLITE_STATIC); /* NULL binds NULL */
    int count = 0;
    int code = SQLITE_ROW;
    while (result == 0 && count < JOURNAL_READ_PAGE && (code = sqlite3_step(rows)) == SQLITE_ROW) {
        walk->time = sqlite3_column_int64(rows, 0);
        walk->id = sqlite3_column_int64(rows, 1);
        result = take(walk->reader, rows, count++, err);
    }
    if (result == 0 && code != SQLITE_ROW && code != SQLITE_DONE) {
        result = journal_read_fail(walk->reader, code, err);
    }
    (void)sqlite3_finalize(rows); /* repeats the error of the step */
    return result != 0 ? result : count;
}

static int take_minute(struct journal_reader *reader, sqlite3_stmt *row, int index, struct err *err)
{
    (void)err;
    struct journal_minute *minute = &reader->page.minutes[index];
    char limiter[JOURNAL_NAME_MAX];
    take_text(row, 8, limiter, sizeof limiter);
    *minute = (struct journal_minute){
        .wall_s = take_time(row, 0),
        .light_day = take_int(row, 2, -719162, 2932896),
        .ppfd_umol = take_real(row, 3),
        .lamp_umol = take_real(row, 4),
        .daylight_umol = take_real(row, 5),
        .level = take_real(row, 6),
        .drive = take_real(row, 7),
        .limiter = limiter_find(limiter),
        .heatsink_c = take_real(row, 9),
        .air_c = take_real(row, 10),
        .humidity_percent = take_real(row, 11),
        .watts = take_real(row, 12),
        .delivered_mol = take_real(row, 13),
        .target_mol = take_real(row, 14),
        .price_per_kwh = take_real(row, 15),
        .quality = take_quality(row, 16),
    };
    take_text(row, 17, minute->chain, sizeof minute->chain); /* NULL gives "" */
    minute->night_dose_umol_m2 = take_real(row, 18);
    minute->night_longest_s = take_real(row, 19);
    minute->night_possible_umol_m2 = take_real(row, 20);
    take_text(row, 21, minute->space, sizeof minute->space);
    return 0;
}

/* CROSS JOIN keeps this order: the minutes by their key, the name beside them. A file of an earlier
 * schema is read as it lies: a reader changes nothing. */
#define MINUTES_SQL(later)                                                                         \
    "SELECT wall_s, space_id, light_day, ppfd_umol, lamp_umol, daylight_umol, level, drive,"       \
    " limiter, heatsink_c, air_c, humidity_percent, watts, delivered_mol, target_mol,"             \
    " price_per_kwh, quality, " later ", name"                                                     \
    " FROM minute CROSS JOIN space ON space.id = space_id"                                         \
    " WHERE (wall_s, space_id) > (?1, ?2) AND wall_s < ?3 AND (?4 IS NULL OR name = ?4)"           \
    " ORDER BY wall_s, space_id LIMIT 256"
static const char minutes_sql[] =
    MINUTES_SQL("chain, night_dose_umol_m2, night_longest_s, night_possible_umol_m2");
static const char minutes_of_2_sql[] = MINUTES_SQL("NULL, NULL, NULL, NULL");

int journal_read_minutes(struct journal_reader *reader, const struct journal_range *range,
                         int (*row)(const struct journal_minute *, void *), void *context,
                         struct err *err)
{
    struct walk walk =
        walk_from(reader, reader->has_chains ? minutes_sql : minutes_of_2_sql, range);
    int count = JOURNAL_READ_PAGE;
    while (count == JOURNAL_READ_PAGE) {
        count = fetch(&walk, take_minute, err);
        for (int i = 0; i < count; i++) {
            int result = row(&reader->page.minutes[i], context);
            if (result != 0) {
                return result;
            }
        }
    }
    return count < 0 ? count : 0;
}

static int take_event(struct journal_reader *reader, sqlite3_stmt *row, int index, struct err *err)
{
    (void)err;
    struct journal_event *event = &reader->page.events[index];
    *event = (struct journal_event){
        .wall_s = take_time(row, 0),
        .light_day = take_int(row, 2, -719162, 2932896),
        .class = (enum journal_class)take_int(row, 4, JOURNAL_INFO, JOURNAL_ALARM),
        .a = take_real(row, 6),
        .b = take_real(row, 7),
    };
    take_text(row, 3, event->fixture, sizeof event->fixture);
    take_text(row, 5, event->kind, sizeof event->kind);
    take_text(row, 8, event->text, sizeof event->text);
    take_text(row, 9, event->space, sizeof event->space);
    return 0;
}

int journal_read_events(struct journal_reader *reader, const struct journal_range *range,
                        int (*row)(const struct journal_event *, void *), void *context,
                        struct err *err)
{
    static const char sql[] =
        "SELECT wall_s, event.id, light_day, fixture, class, kind, a, b, text, name"
        " FROM event CROSS JOIN space ON space.id = space_id"
        " WHERE (wall_s, event.id) > (?1, ?2) AND wall_s < ?3 AND (?4 IS NULL OR name = ?4)"
        " ORDER BY wall_s, event.id LIMIT 256";
    struct walk walk = walk_from(reader, sql, range);
    int count = JOURNAL_READ_PAGE;
    while (count == JOURNAL_READ_PAGE) {
        count = fetch(&walk, take_event, err);
        for (int i = 0; i < count; i++) {
            int result = row(&reader->page.events[i], context);
            if (result != 0) {
                return result;
            }
        }
    }
    return count < 0 ? count : 0;
}

/* A limiter that this program does not know is left out. */
static int take_missing(struct journal_reader *reader, int64_t light_day, int64_t space_id,
                        struct account *account, struct err *err)
{
    sqlite3_stmt *rows = NULL;
    int result = journal_read_prepare(
        reader, "SELECT limiter, mol FROM day_missing WHERE light_day = ?1 AND space_id = ?2",
        &rows, err);
    if (result != 0) {
        return result;
    }
    (void)sqlite3_bind_int64(rows, 1, light_day); /* it has these two parameters */
    (void)sqlite3_bind_int64(rows, 2, space_id);
    int code;
    while ((code = sqlite3_step(rows)) == SQLITE_ROW) {
        char name[JOURNAL_NAME_MAX];
        take_text(rows, 0, name, sizeof name);
        enum limiter limiter = limiter_find(name);
        if (limiter < LIMITER_COUNT) {
            account->missing_mol[limiter] = take_real(rows, 1);
        }
    }
    if (code != SQLITE_DONE) {
        result = journal_read_fail(reader, code, err);
    }
    (void)sqlite3_finalize(rows); /* repeats the error of the step */
    return result;
}

static int take_day(struct journal_reader *reader, sqlite3_stmt *row, int index, struct err *err)
{
    struct journal_day *day = &reader->page.days[index];
    *day = (struct journal_day){
        .begin_s = take_time(row, 2),
        .utc_offset_s = take_int(row, 3, -50400, 50400),
        .is_closed = sqlite3_column_int(row, 4) != 0,
        .summary =
            {
                .light_day = take_int(row, 0, -719162, 2932896),
                .stage_index = take_int(row, 6, -1, INT32_MAX),
                .stage_day = take_int(row, 7, INT32_MIN, INT32_MAX),
                .account =
                    {
                        .target_mol = take_real(row, 9),
                        .delivered_mol = take_real(row, 10),
                        .to_come_mol = take_real(row, 11),
                        .surplus_mol = take_real(row, 12),
                    },
                .integral =
                    {
                        .lamp_mol = take_real(row, 13),
                        .daylight_mol = take_real(row, 14),
                        .bridged_mol = take_real(row, 15),
                        .measured_s = take_real(row, 16),
                        .bridged_s = take_real(row, 17),
                        .lost_s = take_real(row, 18),
                    },
                .reach_mol = take_real(row, 19),
                .is_feasible = sqlite3_column_int(row, 20) != 0,
                .energy_kwh = take_real(row, 21),
                .cost = take_real(row, 22),
                .lights_on_s = take_time(row, 23),
                .lights_off_s = take_time(row, 24),
                .switch_operations = take_count(row, 25),
                .lamp_cost = take_real(row, 32),
                .bound_cost = take_real(row, 33),
                .even_cost = take_real(row, 34),
                .heatsink_max_c = take_real(row, 26),
                .heat_trips = take_count(row, 27),
                .driver_trips = take_count(row, 28),
                .night_dose_umol_m2 = take_real(row, 29),
                .night_longest_s = take_real(row, 30),
                .night_breaks = take_count(row, 31),
                .night_possible_umol_m2 = take_real(row, 35),
            },
    };
    take_text(row, 5, day->stage, sizeof day->stage);
    take_text(row, 8, day->currency, sizeof day->currency);
    take_text(row, 36, day->space, sizeof day->space);
    return take_missing(reader, sqlite3_column_int64(row, 0), sqlite3_column_int64(row, 1),
                        &day->summary.account, err);
}

#define DAYS_SQL(later)                                                                            \
    "SELECT light_day, space_id, begin_s, utc_offset_s, is_closed, stage, stage_index,"            \
    " stage_day, currency, target_mol, delivered_mol, to_come_mol, surplus_mol, lamp_mol,"         \
    " daylight_mol, bridged_mol, measured_s, bridged_s, lost_s, reach_mol, is_feasible,"           \
    " energy_kwh, cost, lights_on_s, lights_off_s, switch_operations, heatsink_max_c,"             \
    " heat_trips, driver_trips, night_dose_umol_m2, night_longest_s, night_breaks, " later         \
    ", name"                                                                                       \
    " FROM day CROSS JOIN space ON space.id = space_id"                                            \
    " WHERE (light_day, space_id) > (?1, ?2) AND light_day < ?3 AND (?4 IS NULL OR name = ?4)"     \
    " ORDER BY light_day, space_id LIMIT 256"
static const char days_sql[] = DAYS_SQL("lamp_cost, bound_cost, even_cost, night_possible_umol_m2");
static const char days_of_1_sql[] = DAYS_SQL("NULL, NULL, NULL, NULL");

int journal_read_days(struct journal_reader *reader, const struct journal_range *range,
                      int (*row)(const struct journal_day *, void *), void *context,
                      struct err *err)
{
    struct walk walk = walk_from(reader, reader->has_costs ? days_sql : days_of_1_sql, range);
    int count = JOURNAL_READ_PAGE;
    while (count == JOURNAL_READ_PAGE) {
        count = fetch(&walk, take_day, err);
        for (int i = 0; i < count; i++) {
            int result = row(&reader->page.days[i], context);
            if (result != 0) {
                return result;
            }
        }
    }
    return count < 0 ? count : 0;
}
