/* SPDX-License-Identifier: Apache-2.0 */
/* What a walk leaves in its file, and how it is found there again. */
#include "walk.h"

#include "err.h"
#include "parse.h"
#include "table.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define CM_PER_IN 2.54
#define STEP_MAX  100000.0
#define UMOL_MAX  5000.0
#define NEAR      0.05 /* of a step: a place that was written down, to six digits */

const char *walk_unit(const struct walk_grid *grid)
{
    return grid->is_in_inches ? "in" : "cm";
}

void walk_grid_words(const struct walk_grid *grid, char *buffer, unsigned size)
{
    char steps[64];
    char margin[64] = "";
    if (grid->step_x < grid->step_y || grid->step_x > grid->step_y) {
        (void)snprintf(steps, sizeof steps, "%g x %g", grid->step_x, grid->step_y);
    } else {
        (void)snprintf(steps, sizeof steps, "%g", grid->step_x);
    }
    if (grid->margin > 0) {
        (void)snprintf(margin, sizeof margin, ", %g %s from the walls", grid->margin,
                       walk_unit(grid));
    }
    (void)snprintf(buffer, size, "%d x %d points %s %s apart%s", grid->columns, grid->rows, steps,
                   walk_unit(grid), margin);
}

void walk_notes(const struct walk_grid *grid, char *buffer, unsigned size)
{
    const double cm = grid->is_in_inches ? CM_PER_IN : 1;
    const double width = (grid->columns - 1) * grid->step_x + 2 * grid->margin;
    const double depth = (grid->rows - 1) * grid->step_y + 2 * grid->margin;
    (void)snprintf(buffer, size,
                   "# grid: %d x %d\n"
                   "# spacing_%s: %.9g x %.9g\n"
                   "# margin_%s: %.9g\n"
                   "# canopy_cm: %.9g x %.9g\n",
                   grid->columns, grid->rows, walk_unit(grid), grid->step_x, grid->step_y,
                   walk_unit(grid), grid->margin, width * cm, depth * cm);
}

const char *walk_columns(const struct walk_grid *grid)
{
    return grid->is_in_inches ? "x_in,y_in,ppfd_umol,spread_umol,samples\n"
                              : "x_cm,y_cm,ppfd_umol,spread_umol,samples\n";
}

void walk_row(const struct walk *walk, int index, char *buffer, unsigned size)
{
    const struct walk_point *point = &walk->points[index];
    const struct walk_spot spot = walk_spot(walk, index);
    switch (point->mark) {
    case WALK_OPEN:
        buffer[0] = '\0';
        break;
    case WALK_LEFT_OUT:
        (void)snprintf(buffer, size, "%.9g,%.9g,,,\n", spot.x, spot.y);
        break;
    case WALK_MEASURED:
        (void)snprintf(buffer, size, "%.9g,%.9g,%.6g,%.3g,%d\n", spot.x, spot.y,
                       point->reading.umol, point->reading.spread_umol, point->reading.samples);
        break;
    }
}

/* "9 x 5": two numbers of a note. */
static int read_pair(const struct table *table, const char *key, double low, double *ret_a,
                     double *ret_b, struct err *err)
{
    const struct table_note *note = table_note(table, key);
    char words[96];
    if (!note) {
        return -ENOENT;
    }
    (void)snprintf(words, sizeof words, "%s", note->value);
    char *second = strstr(words, " x ");
    int rc = 0;
    if (second) {
        *second = '\0';
        second += 3;
        rc = parse_real(words, low, STEP_MAX, ret_a, err);
        rc = rc == 0 ? parse_real(second, low, STEP_MAX, ret_b, err) : rc;
    } else {
        rc = err_fail(err, EINVAL, "\"%s\" is not like \"9 x 5\"", note->value);
    }
    if (rc < 0) {
        err_prefix(err, "%s:%d: %s", table->name, note->line, key);
    }
    return rc < 0 ? -EINVAL : 0;
}

static int read_grid(const struct table *table, struct walk_grid *grid, struct err *err)
{
    double columns = 0, rows = 0;
    grid->is_in_inches = table_note(table, "spacing_in") != NULL;
    const char *spacing = grid->is_in_inches ? "spacing_in" : "spacing_cm";
    const char *margin = grid->is_in_inches ? "margin_in" : "margin_cm";
    int rc = read_pair(table, "grid", 1, &columns, &rows, err);
    if (rc == 0) {
        rc = read_pair(table, spacing, 1e-3, &grid->step_x, &grid->step_y, err);
    }
    if (rc == -ENOENT) {
        return err_fail(err, EINVAL,
                        "%s is no survey that --live began: it has no notes \"# grid: …\" and \"# "
                        "%s: …\"",
                        table->name, spacing);
    }
    if (rc == 0 && (columns > floor(columns) || rows > floor(rows))) {
        return err_fail(err, EINVAL, "%s: a grid has whole numbers of points, not %g x %g",
                        table->name, columns, rows);
    }
    grid->columns = (int)columns;
    grid->rows = (int)rows;
    return rc == 0 ? table_note_number(table, margin, 0, STEP_MAX, &grid->margin, err) : rc;
}

struct cells {
    int x, y, umol, spread, samples;
};

static int find_cells(const struct table *table, const struct walk_grid *grid, struct cells *ret,
                      struct err *err)
{
    *ret = (struct cells){
        .x = table_column(table, grid->is_in_inches ? "x_in" : "x_cm"),
        .y = table_column(table, grid->is_in_inches ? "y_in" : "y_cm"),
        .umol = table_column(table, "ppfd_umol"),
        .spread = table_column(table, "spread_umol"),
        .samples = table_column(table, "samples"),
    };
    if (ret->x < 0 || ret->y < 0 || ret->umol < 0 || ret->spread < 0 || ret->samples < 0) {
        return err_fail(err, EINVAL, "%s:%d: the columns are not %.*s", table->name,
                        table->columns_line, (int)strlen(walk_columns(grid)) - 1,
                        walk_columns(grid));
    }
    return 0;
}

/* −1: between the lines, or outside. */
static int find_line(double at, double margin, double step, int count)
{
    const double place = (at - margin) / step;
    return place > -0.5 && place < count && fabs(place - round(place)) < NEAR ? (int)lround(place)
                                                                              : -1;
}

static int take_row(const struct table *table, size_t row, const struct cells *cells,
                    struct walk *walk, struct err *err)
{
    const struct walk_grid *grid = &walk->grid;
    const double x = table_cell(table, row, cells->x);
    const double y = table_cell(table, row, cells->y);
    const double umol = table_cell(table, row, cells->umol);
    const int column = find_line(x, grid->margin, grid->step_x, grid->columns);
    const int line = find_line(y, grid->margin, grid->step_y, grid->rows);
    if (column < 0 || column >= grid->columns || line < 0 || line >= grid->rows) {
        return err_fail(err, EINVAL, "%s:%d: (%g, %g) is no point of this grid", table->name,
                        table->lines[row], x, y);
    }
    struct walk_point *point = &walk->points[walk_index(walk, column, line)];
    if (point->mark != WALK_OPEN) {
        return err_fail(err, EINVAL, "%s:%d: (%g, %g) is there twice", table->name,
                        table->lines[row], x, y);
    }
    point->mark = units_known(umol) ? WALK_MEASURED : WALK_LEFT_OUT;
    if (point->mark == WALK_LEFT_OUT) {
        return 0;
    }
    const double samples = table_cell(table, row, cells->samples);
    const double spread = table_cell(table, row, cells->spread);
    if (!(umol >= 0 && umol <= UMOL_MAX)) {
        return err_fail(err, EINVAL, "%s:%d: ppfd_umol of %g is out of range (0 … %g)", table->name,
                        table->lines[row], umol, UMOL_MAX);
    }
    if (!(samples >= 1 && samples <= 1e6 && spread >= 0)) {
        return err_fail(err, EINVAL, "%s:%d: spread_umol and samples of (%g, %g) say nothing",
                        table->name, table->lines[row], x, y);
    }
    point->reading = (struct walk_reading){umol, spread, (int)samples};
    return 0;
}

int walk_resume(const struct table *table, bool is_one_way, struct walk *ret, struct err *err)
{
    struct walk_grid grid = {0};
    struct walk walk = {0};
    struct cells cells = {0};
    int rc = read_grid(table, &grid, err);
    if (rc == 0) {
        rc = find_cells(table, &grid, &cells, err);
    }
    if (rc == 0) {
        rc = walk_begin(&grid, is_one_way, &walk, err);
    }
    for (size_t row = 0; rc == 0 && row < table->row_count; row++) {
        rc = take_row(table, row, &cells, &walk, err);
    }
    if (rc < 0) {
        walk_free(&walk);
        return rc;
    }
    while (walk.at < walk.count && walk.points[walk.at].mark != WALK_OPEN) {
        walk.at++;
    }
    *ret = walk;
    return 0;
}
