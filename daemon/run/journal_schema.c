/* SPDX-License-Identifier: Apache-2.0 */
#include "journal_schema.h"

#include "journal.h"

const char journal_schema_create[] =
    "CREATE TABLE meta (key TEXT PRIMARY KEY, value ANY NOT NULL) STRICT, WITHOUT ROWID;"
    "CREATE TABLE space (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;"
    "CREATE TABLE minute ("
    " wall_s INTEGER NOT NULL, space_id INTEGER NOT NULL, light_day INTEGER NOT NULL,"
    " ppfd_umol REAL, lamp_umol REAL, daylight_umol REAL, level REAL, drive REAL,"
    " limiter TEXT NOT NULL, heatsink_c REAL, air_c REAL, humidity_percent REAL, watts REAL,"
    " delivered_mol REAL, target_mol REAL, price_per_kwh REAL, quality TEXT NOT NULL,"
    " chain TEXT, night_dose_umol_m2 REAL, night_longest_s REAL, night_possible_umol_m2 REAL,"
    " PRIMARY KEY (wall_s, space_id)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE event ("
    " id INTEGER PRIMARY KEY, wall_s INTEGER NOT NULL, light_day INTEGER NOT NULL,"
    " space_id INTEGER NOT NULL, fixture TEXT NOT NULL, class INTEGER NOT NULL,"
    " kind TEXT NOT NULL, a REAL, b REAL, text TEXT NOT NULL) STRICT;"
    "CREATE INDEX event_by_time ON event (wall_s);"
    "CREATE TABLE day ("
    " light_day INTEGER NOT NULL, space_id INTEGER NOT NULL, begin_s INTEGER NOT NULL,"
    " utc_offset_s INTEGER NOT NULL, is_closed INTEGER NOT NULL, stage TEXT NOT NULL,"
    " stage_index INTEGER NOT NULL, stage_day INTEGER NOT NULL, currency TEXT NOT NULL,"
    " target_mol REAL, delivered_mol REAL, to_come_mol REAL, surplus_mol REAL,"
    " lamp_mol REAL, daylight_mol REAL, bridged_mol REAL,"
    " measured_s REAL, bridged_s REAL, lost_s REAL, reach_mol REAL, is_feasible INTEGER NOT NULL,"
    " energy_kwh REAL, cost REAL, lights_on_s INTEGER, lights_off_s INTEGER,"
    " switch_operations INTEGER NOT NULL, heatsink_max_c REAL,"
    " heat_trips INTEGER NOT NULL, driver_trips INTEGER NOT NULL,"
    " night_dose_umol_m2 REAL, night_longest_s REAL, night_breaks INTEGER NOT NULL,"
    " lamp_cost REAL, bound_cost REAL, even_cost REAL, night_possible_umol_m2 REAL,"
    " PRIMARY KEY (light_day, space_id)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE day_missing ("
    " light_day INTEGER NOT NULL, space_id INTEGER NOT NULL, limiter TEXT NOT NULL, mol REAL,"
    " PRIMARY KEY (light_day, space_id, limiter)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE state (space_id INTEGER PRIMARY KEY, wall_s INTEGER NOT NULL,"
    " data BLOB NOT NULL) STRICT;";

const char *const journal_schema_changes[JOURNAL_SCHEMA_VERSION] = {
    [1] = "ALTER TABLE day ADD COLUMN lamp_cost REAL;"
          "ALTER TABLE day ADD COLUMN bound_cost REAL;"
          "ALTER TABLE day ADD COLUMN even_cost REAL;"
          "ALTER TABLE day ADD COLUMN night_possible_umol_m2 REAL;"
          "UPDATE meta SET value = 2 WHERE key = 'schema_version';"
          "PRAGMA user_version = 2;",
    [2] = "ALTER TABLE minute ADD COLUMN chain TEXT;"
          "ALTER TABLE minute ADD COLUMN night_dose_umol_m2 REAL;"
          "ALTER TABLE minute ADD COLUMN night_longest_s REAL;"
          "ALTER TABLE minute ADD COLUMN night_possible_umol_m2 REAL;"
          "UPDATE meta SET value = 3 WHERE key = 'schema_version';"
          "PRAGMA user_version = 3;",
};

const char *journal_class_name(enum journal_class class)
{
    switch (class) {
    case JOURNAL_INFO:
        return "info";
    case JOURNAL_NOTICE:
        return "notice";
    case JOURNAL_ALARM:
        break;
    }
    return "alarm";
}

const char *journal_quality_name(enum reading_quality quality)
{
    switch (quality) {
    case READING_GOOD:
        return "good";
    case READING_SUSPECT:
        return "suspect";
    case READING_STALE:
        return "stale";
    case READING_LOST:
        break;
    }
    return "lost";
}
