/* SPDX-License-Identifier: Apache-2.0 */
/* Readings taken by hand, from a file. */
#include "err.h"
#include "parse.h"
#include "sweep_parts.h"
#include "table.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#define UMOL_MAX    5000.0
#define LOOKS_LEAST 3 /* so many readings at one drive tell what the warm lamp loses */

struct columns {
    int drive, umol, watts; /* watts −1: none */
};

static int find_columns(const struct table *table, struct columns *ret, struct err *err)
{
    *ret = (struct columns){table_column(table, "drive"), table_column(table, "ppfd_umol"),
                            table_column(table, "watts")};
    const char *missing = ret->drive < 0 ? "drive" : ret->umol < 0 ? "ppfd_umol" : NULL;
    if (missing) {
        return err_fail(err, EINVAL, "%s:%d: the column %s is missing (drive, ppfd_umol, watts)",
                        table->name, table->columns_line, missing);
    }
    if (table->column_count > 2 + (ret->watts >= 0)) {
        return err_fail(err, EINVAL, "%s:%d: columns are drive, ppfd_umol and watts, no others",
                        table->name, table->columns_line);
    }
    return 0;
}

static void note_text(const struct table *table, const char *key, char *buffer, size_t size)
{
    const struct table_note *note = table_note(table, key);
    if (note) {
        parse_quote(note->value, buffer, (unsigned)size);
    }
}

static int refuse(const struct table *table, size_t row, const char *what, double value,
                  const char *range, struct err *err)
{
    return err_fail(err, EINVAL, "%s:%d: %s %g is out of range (%s)", table->name,
                    table->lines[row], what, value, range);
}

static int take_row(const struct table *table, const struct columns *columns, size_t row,
                    double dark_umol, struct sweep_result *result, struct err *err)
{
    const double drive = table_cell(table, row, columns->drive);
    const double umol = table_cell(table, row, columns->umol);
    const double watts = columns->watts >= 0 ? table_cell(table, row, columns->watts) : UNITS_NONE;
    if (isnan(drive) || isnan(umol)) {
        return err_fail(err, EINVAL, "%s:%d: %s is missing", table->name, table->lines[row],
                        isnan(drive) ? "drive" : "ppfd_umol");
    }
    if (!(drive >= 0 && drive <= 1)) {
        return refuse(table, row, "drive", drive, "0 … 1", err);
    }
    if (!(umol >= 0 && umol <= UMOL_MAX)) {
        return refuse(table, row, "ppfd_umol", umol, "0 … 5000", err);
    }
    if (!isnan(watts) && !(watts >= 0 && watts <= DIMCURVE_WATTS_MAX)) {
        return refuse(table, row, "watts", watts, "0 … 20000", err);
    }
    if (result->count == SWEEP_STEPS_MAX) {
        return err_fail(err, EINVAL, "%s: more than %d readings", table->name, SWEEP_STEPS_MAX);
    }
    result->readings[result->count++] =
        (struct dimfit_reading){drive, fmax(0, umol - dark_umol), watts, 1};
    return 0;
}

static bool is_at(const struct dimfit_reading *reading, double drive)
{
    return fabs(reading->drive - drive) <= DIMFIT_SAME_DRIVE && reading->umol > 0;
}

static int looks_at(const struct sweep_result *result, double drive)
{
    int looks = 0;
    for (int i = 0; i < result->count; i++) {
        looks += is_at(&result->readings[i], drive);
    }
    return looks;
}

/* A drive that was read again and again tells what the lamp lost meanwhile, as it warmed up: rows
 * between two such looks are brought to the light of the last. */
static void take_droop(struct sweep_result *result)
{
    double drive = UNITS_NONE;
    int most = LOOKS_LEAST - 1;
    for (int i = 0; i < result->count; i++) {
        const int looks = looks_at(result, result->readings[i].drive);
        if (looks > most) {
            most = looks;
            drive = result->readings[i].drive;
        }
    }
    if (!units_known(drive)) {
        return;
    }
    double seen[SWEEP_STEPS_MAX] = {0}; /* at that drive, by the time of each row */
    double first = 0, last = 0;
    int looked = -1;
    for (int i = 0; i < result->count; i++) {
        if (is_at(&result->readings[i], drive)) {
            const double now = result->readings[i].umol;
            for (int k = looked + 1; k <= i; k++) {
                const double share = looked < 0 ? 1 : (double)(k - looked) / (i - looked);
                seen[k] = looked < 0 ? now : last + (now - last) * share;
            }
            first = looked < 0 ? now : first;
            last = now;
            looked = i;
        }
    }
    if (first > 0) {
        result->droop = 1 - last / first;
    }
    for (int i = 0; i < looked; i++) {
        result->readings[i].umol *= seen[i] > 0 ? last / seen[i] : 1;
    }
}

static int take_table(const struct table *table, struct sweep_finding *ret, struct err *err)
{
    struct columns columns;
    struct sweep_result *result = &ret->result;
    double dark_umol = 0;
    int rc = find_columns(table, &columns, err);
    if (rc == 0) {
        rc = table_note_number(table, "dark_umol", 0, UMOL_MAX, &dark_umol, err);
    }
    if (rc == 0) {
        rc = table_note_number(table, "temperature_c", -40, 150, &ret->hot_c, err);
    }
    for (size_t row = 0; rc == 0 && row < table->row_count; row++) {
        rc = take_row(table, &columns, row, dark_umol, result, err);
    }
    if (rc < 0) {
        return rc;
    }
    ret->cold_c = result->warm_c = ret->hot_c;
    result->dark_least = result->dark_most = dark_umol;
    note_text(table, "space", ret->space, sizeof ret->space);
    note_text(table, "fixture", ret->fixture, sizeof ret->fixture);
    note_text(table, "date", ret->date, sizeof ret->date);
    note_text(table, "sensor", ret->sensor, sizeof ret->sensor);
    take_droop(result);
    rc = dimfit_of(result->readings, result->count, SWEEP_WORST, &result->fit, err);
    if (rc < 0) {
        err_prefix(err, "%s", table->name);
    }
    return rc;
}

int sweep_read(const char *path, struct sweep_finding *ret, struct err *err)
{
    struct table table = {0};
    memset(ret, 0, sizeof *ret);
    ret->cold_c = ret->hot_c = ret->ceiling = ret->cap_today = UNITS_NONE;
    ret->ceiling_heat_c = ret->ceiling_margin = UNITS_NONE;
    ret->result.warm_c = ret->result.droop_per_k = ret->result.off_drive = ret->result.on_drive =
        UNITS_NONE;
    int rc = table_read(path, &table, err);
    if (rc == 0) {
        rc = take_table(&table, ret, err);
    }
    table_free(&table);
    if (rc == 0 && units_known(ret->result.fit.dead_below)) {
        ret->result.off_drive = ret->result.fit.holds_drive;
        ret->result.on_drive = ret->result.fit.lights_drive;
    }
    return rc;
}
