/* SPDX-License-Identifier: Apache-2.0 */
/* Putting records: statements, bindings, transactions, retention. */
#include "journal_store.h"
#include "journal_store_sql.h"

#include <sqlite3.h>
#include <stdio.h>
#include <string.h>

#define DROP_STEP_S 21600 /* six hours a transaction: some hundred rows for a small house */

static const char *const sql[STORE_STATEMENT_COUNT] = {
    [STORE_PUT_MINUTE] = "INSERT OR REPLACE INTO minute (wall_s, space_id, light_day, ppfd_umol,"
                         " lamp_umol, daylight_umol, level, drive, limiter, heatsink_c, air_c,"
                         " humidity_percent, watts, delivered_mol, target_mol, price_per_kwh,"
                         " quality, chain, night_dose_umol_m2, night_longest_s,"
                         " night_possible_umol_m2)"
                         " VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
    [STORE_PUT_EVENT] = "INSERT INTO event (wall_s, light_day, space_id, fixture, class, kind, a,"
                        " b, text) VALUES (?,?,?,?,?,?,?,?,?)",
    [STORE_PUT_DAY] =
        "INSERT OR REPLACE INTO day (light_day, space_id, begin_s, utc_offset_s, is_closed, stage,"
        " stage_index, stage_day, currency, target_mol, delivered_mol, to_come_mol, surplus_mol,"
        " lamp_mol, daylight_mol, bridged_mol, measured_s, bridged_s, lost_s, reach_mol,"
        " is_feasible, energy_kwh, cost, lights_on_s, lights_off_s, switch_operations,"
        " heatsink_max_c, heat_trips, driver_trips, night_dose_umol_m2, night_longest_s,"
        " night_breaks, lamp_cost, bound_cost, even_cost, night_possible_umol_m2) VALUES"
        " (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
    [STORE_DROP_MISSING] = "DELETE FROM day_missing WHERE light_day = ? AND space_id = ?",
    [STORE_PUT_MISSING] =
        "INSERT INTO day_missing (light_day, space_id, limiter, mol) VALUES (?,?,?,?)",
    [STORE_PUT_STATE] = "INSERT OR REPLACE INTO state (space_id, wall_s, data) VALUES (?,?,?)",
    [STORE_PUT_SPACE] = "INSERT OR IGNORE INTO space (name) VALUES (?)",
    [STORE_FIND_SPACE] = "SELECT id FROM space WHERE name = ?",
};

enum store_result journal_store_prepare(struct journal_store *store)
{
    for (int i = 0; i < STORE_STATEMENT_COUNT; i++) {
        int code = sqlite3_prepare_v3(store->db, sql[i], -1, SQLITE_PREPARE_PERSISTENT,
                                      &store->statements[i], NULL);
        if (code != SQLITE_OK) {
            return journal_store_result(store, code);
        }
    }
    return STORE_OK;
}

/* Binds parameters in order; remembers the first failure. */
struct binder {
    sqlite3_stmt *statement;
    int next;
    int code;
};

static struct binder bind_to(struct journal_store *store, enum store_statement which)
{
    return (struct binder){.statement = store->statements[which], .next = 1, .code = SQLITE_OK};
}

static void note(struct binder *binder, int code)
{
    binder->next++;
    if (binder->code == SQLITE_OK) {
        binder->code = code;
    }
}

static void bind_int(struct binder *binder, int64_t value)
{
    note(binder, sqlite3_bind_int64(binder->statement, binder->next, value));
}

static void bind_real(struct binder *binder, double value)
{
    note(binder,
         sqlite3_bind_double(binder->statement, binder->next, value)); /* NaN becomes NULL */
}

/* A moment whose 0 means: never. */
static void bind_moment(struct binder *binder, int64_t value)
{
    note(binder, value == 0 ? sqlite3_bind_null(binder->statement, binder->next)
                            : sqlite3_bind_int64(binder->statement, binder->next, value));
}

/* The text outlives the step. */
static void bind_text(struct binder *binder, const char *text, size_t room)
{
    note(binder, sqlite3_bind_text(binder->statement, binder->next, text, (int)strnlen(text, room),
                                   SQLITE_STATIC));
}

static enum store_result run(struct journal_store *store, const struct binder *binder)
{
    int code = binder->code;
    if (code == SQLITE_OK) {
        code = sqlite3_step(binder->statement);
    }
    enum store_result result = journal_store_result(store, code);
    (void)sqlite3_reset(binder->statement); /* repeats the error of the step */
    return result;
}

static enum store_result find_space(struct journal_store *store, const char *name, int64_t *ret_id)
{
    for (int i = 0; i < store->space_count; i++) {
        if (strncmp(store->spaces[i].name, name, JOURNAL_NAME_MAX) == 0) {
            *ret_id = store->spaces[i].id;
            return STORE_OK;
        }
    }
    struct binder put = bind_to(store, STORE_PUT_SPACE);
    bind_text(&put, name, JOURNAL_NAME_MAX);
    enum store_result result = run(store, &put);
    if (result != STORE_OK) {
        return result;
    }
    struct binder find = bind_to(store, STORE_FIND_SPACE);
    bind_text(&find, name, JOURNAL_NAME_MAX);
    int code = find.code == SQLITE_OK ? sqlite3_step(find.statement) : find.code;
    result = journal_store_result(store, code);
    int64_t id = code == SQLITE_ROW ? sqlite3_column_int64(find.statement, 0) : 0;
    (void)sqlite3_reset(find.statement); /* repeats the error of the step */
    if (result != STORE_OK) {
        return result;
    }
    if (store->space_count < STORE_SPACES_MAX) {
        (void)snprintf(store->spaces[store->space_count].name, JOURNAL_NAME_MAX, "%s", name);
        store->spaces[store->space_count++].id = id;
    }
    *ret_id = id;
    return STORE_OK;
}

static enum store_result put_minute(struct journal_store *store,
                                    const struct journal_minute *minute, int64_t space_id)
{
    struct binder binder = bind_to(store, STORE_PUT_MINUTE);
    bind_int(&binder, minute->wall_s);
    bind_int(&binder, space_id);
    bind_int(&binder, minute->light_day);
    bind_real(&binder, minute->ppfd_umol);
    bind_real(&binder, minute->lamp_umol);
    bind_real(&binder, minute->daylight_umol);
    bind_real(&binder, minute->level);
    bind_real(&binder, minute->drive);
    bind_text(&binder, limiter_name(minute->limiter), JOURNAL_NAME_MAX);
    bind_real(&binder, minute->heatsink_c);
    bind_real(&binder, minute->air_c);
    bind_real(&binder, minute->humidity_percent);
    bind_real(&binder, minute->watts);
    bind_real(&binder, minute->delivered_mol);
    bind_real(&binder, minute->target_mol);
    bind_real(&binder, minute->price_per_kwh);
    bind_text(&binder, journal_quality_name(minute->quality), JOURNAL_NAME_MAX);
    if (minute->chain[0]) {
        bind_text(&binder, minute->chain, sizeof minute->chain);
    } else {
        note(&binder, sqlite3_bind_null(binder.statement, binder.next));
    }
    bind_real(&binder, minute->night_dose_umol_m2);
    bind_real(&binder, minute->night_longest_s);
    bind_real(&binder, minute->night_possible_umol_m2);
    return run(store, &binder);
}

static enum store_result put_event(struct journal_store *store, const struct journal_event *event,
                                   int64_t space_id)
{
    struct binder binder = bind_to(store, STORE_PUT_EVENT);
    bind_int(&binder, event->wall_s);
    bind_int(&binder, event->light_day);
    bind_int(&binder, space_id);
    bind_text(&binder, event->fixture, sizeof event->fixture);
    bind_int(&binder, (int64_t)event->class);
    bind_text(&binder, event->kind, sizeof event->kind);
    bind_real(&binder, event->a);
    bind_real(&binder, event->b);
    bind_text(&binder, event->text, sizeof event->text);
    enum store_result result = run(store, &binder);
    if (result == STORE_OK) {
        store->event_id = sqlite3_last_insert_rowid(store->db);
    }
    return result;
}

static void bind_summary(struct binder *binder, const struct day_summary *summary)
{
    bind_real(binder, summary->account.target_mol);
    bind_real(binder, summary->account.delivered_mol);
    bind_real(binder, summary->account.to_come_mol);
    bind_real(binder, summary->account.surplus_mol);
    bind_real(binder, summary->integral.lamp_mol);
    bind_real(binder, summary->integral.daylight_mol);
    bind_real(binder, summary->integral.bridged_mol);
    bind_real(binder, summary->integral.measured_s);
    bind_real(binder, summary->integral.bridged_s);
    bind_real(binder, summary->integral.lost_s);
    bind_real(binder, summary->reach_mol);
    bind_int(binder, summary->is_feasible);
    bind_real(binder, summary->energy_kwh);
    bind_real(binder, summary->cost);
    bind_moment(binder, summary->lights_on_s);
    bind_moment(binder, summary->lights_off_s);
    bind_int(binder, summary->switch_operations);
    bind_real(binder, summary->heatsink_max_c);
    bind_int(binder, summary->heat_trips);
    bind_int(binder, summary->driver_trips);
    bind_real(binder, summary->night_dose_umol_m2);
    bind_real(binder, summary->night_longest_s);
    bind_int(binder, summary->night_breaks);
    bind_real(binder, summary->lamp_cost);
    bind_real(binder, summary->bound_cost);
    bind_real(binder, summary->even_cost);
    bind_real(binder, summary->night_possible_umol_m2);
}

static enum store_result put_missing(struct journal_store *store, const struct day_summary *summary,
                                     int64_t space_id)
{
    struct binder drop = bind_to(store, STORE_DROP_MISSING);
    bind_int(&drop, summary->light_day);
    bind_int(&drop, space_id);
    enum store_result result = run(store, &drop);
    for (unsigned i = 0; i < LIMITER_COUNT && result == STORE_OK; i++) {
        double mol = summary->account.missing_mol[i];
        if (!(mol > 0 || mol < 0)) {
            continue; /* most limiters took nothing */
        }
        struct binder put = bind_to(store, STORE_PUT_MISSING);
        bind_int(&put, summary->light_day);
        bind_int(&put, space_id);
        bind_text(&put, limiter_name((enum limiter)i), JOURNAL_NAME_MAX);
        bind_real(&put, mol);
        result = run(store, &put);
    }
    return result;
}

static enum store_result put_day(struct journal_store *store, const struct journal_day *day,
                                 int64_t space_id)
{
    struct binder binder = bind_to(store, STORE_PUT_DAY);
    bind_int(&binder, day->summary.light_day);
    bind_int(&binder, space_id);
    bind_int(&binder, day->begin_s);
    bind_int(&binder, day->utc_offset_s);
    bind_int(&binder, day->is_closed);
    bind_text(&binder, day->stage, sizeof day->stage);
    bind_int(&binder, day->summary.stage_index);
    bind_int(&binder, day->summary.stage_day);
    bind_text(&binder, day->currency, sizeof day->currency);
    bind_summary(&binder, &day->summary);
    enum store_result result = run(store, &binder);
    return result == STORE_OK ? put_missing(store, &day->summary, space_id) : result;
}

/* Leaves the transaction for good; ids given in it are forgotten. */
static enum store_result undo(struct journal_store *store, enum store_result result)
{
    if (!sqlite3_get_autocommit(store->db)) {
        (void)sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL); /* fails when undone already */
    }
    store->space_count = 0;
    return result;
}

static enum store_result checked(struct journal_store *store, enum store_result result)
{
    return result == STORE_OK || result == STORE_REFUSED ? result : undo(store, result);
}

enum store_result journal_store_begin(struct journal_store *store)
{
    int has_moved = 0; /* somebody replaced or removed the file: what we write would be lost */
    (void)sqlite3_file_control(store->db, "main", SQLITE_FCNTL_HAS_MOVED, &has_moved);
    if (has_moved) {
        return journal_store_say(store, STORE_RETRY, "its file was moved or removed");
    }
    return checked(store, journal_store_exec(store, "BEGIN IMMEDIATE"));
}

enum store_result journal_store_put(struct journal_store *store,
                                    const struct journal_record *record)
{
    int64_t space_id = 0;
    enum store_result result = STORE_OK;
    switch (record->kind) {
    case JOURNAL_MINUTE:
        result = find_space(store, record->minute.space, &space_id);
        result = result == STORE_OK ? put_minute(store, &record->minute, space_id) : result;
        break;
    case JOURNAL_EVENT:
        result = find_space(store, record->event.space, &space_id);
        result = result == STORE_OK ? put_event(store, &record->event, space_id) : result;
        break;
    case JOURNAL_DAY:
        result = find_space(store, record->day.space, &space_id);
        result = result == STORE_OK ? put_day(store, &record->day, space_id) : result;
        break;
    case JOURNAL_KIND_COUNT:
        break;
    }
    return checked(store, result);
}

enum store_result journal_store_put_state(struct journal_store *store,
                                          const struct journal_state *state)
{
    int64_t space_id = 0;
    enum store_result result = find_space(store, state->space, &space_id);
    if (result == STORE_OK) {
        struct binder binder = bind_to(store, STORE_PUT_STATE);
        bind_int(&binder, space_id);
        bind_int(&binder, state->wall_s);
        note(&binder, sqlite3_bind_blob64(binder.statement, binder.next, state->data, state->size,
                                          SQLITE_STATIC));
        result = run(store, &binder);
    }
    return checked(store, result);
}

enum store_result journal_store_commit(struct journal_store *store)
{
    return checked(store, journal_store_exec(store, "COMMIT"));
}

static enum store_result drop_until(struct journal_store *store, int64_t oldest_s,
                                    int64_t before_day)
{
    char words[320];
    (void)snprintf(words, sizeof words,
                   "DELETE FROM minute WHERE wall_s < %lld AND light_day < %lld;"
                   "DELETE FROM event WHERE wall_s < %lld AND light_day < %lld;",
                   (long long)oldest_s + DROP_STEP_S, (long long)before_day,
                   (long long)oldest_s + DROP_STEP_S, (long long)before_day);
    enum store_result result = journal_store_begin(store);
    if (result == STORE_OK) {
        result = checked(store, journal_store_exec(store, words));
    }
    return result == STORE_OK ? journal_store_commit(store) : result;
}

enum store_result journal_store_drop_oldest(struct journal_store *store, int keep_days,
                                            bool *ret_dropped)
{
    /* Counted in days that have a summary, not by the calendar: a clock that once ran years ahead
     * does not make the record of the years before it old. */
    static const char oldest[] =
        "SELECT wall_s, before_day FROM"
        " (SELECT wall_s, light_day FROM minute ORDER BY wall_s LIMIT 1),"
        " (SELECT light_day AS before_day FROM (SELECT DISTINCT light_day FROM day)"
        "  ORDER BY light_day DESC LIMIT 1 OFFSET ?1 - 1)"
        " WHERE light_day < before_day";
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(store->db, oldest, -1, &statement, NULL);
    if (code == SQLITE_OK) {
        code = sqlite3_bind_int(statement, 1, keep_days);
    }
    if (code == SQLITE_OK) {
        code = sqlite3_step(statement);
    }
    enum store_result result = journal_store_result(store, code);
    bool has_old = code == SQLITE_ROW;
    int64_t oldest_s = has_old ? sqlite3_column_int64(statement, 0) : 0;
    int64_t before_day = has_old ? sqlite3_column_int64(statement, 1) : 0;
    (void)sqlite3_finalize(statement); /* repeats the error of the step */
    if (result == STORE_OK && has_old) {
        result = drop_until(store, oldest_s, before_day);
    }
    if (result == STORE_OK) {
        *ret_dropped = has_old;
    }
    return result;
}
