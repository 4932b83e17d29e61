/* SPDX-License-Identifier: Apache-2.0 */
#include "lightmap.h"

#include "err.h"
#include "lightmap_parts.h"
#include "parse.h"
#include "table.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CM_PER_IN   2.54
#define PPFD_MAX    5000.0
#define PLACE_MAX   100000.0
#define DISAGREE_UM 5.0 /* less is noise of the sensor */

static int read_height(const struct table *table, struct lightmap *map, struct err *err)
{
    double inches = UNITS_NONE;
    map->height_cm = UNITS_NONE;
    if (table_note(table, "height_cm") && table_note(table, "height_in")) {
        return err_fail(err, EINVAL, "%s: one of height_cm and height_in", table->name);
    }
    if (table_note_number(table, "height_cm", 0.1, 1000, &map->height_cm, err) < 0 ||
        table_note_number(table, "height_in", 0.1, 400, &inches, err) < 0) {
        return -EINVAL;
    }
    if (units_known(inches)) {
        map->height_cm = inches * CM_PER_IN;
    }
    if (!units_known(map->height_cm)) {
        return err_fail(err, EINVAL,
                        "%s: a line \"# height_cm: 45\" is missing above the columns: how high the "
                        "fixture hung over the canopy",
                        table->name);
    }
    return 0;
}

/* "120 x 60" */
static int read_canopy(const struct table *table, struct lightmap *map, struct err *err)
{
    const struct table_note *note = table_note(table, "canopy_cm");
    char width[96];
    map->width_cm = map->depth_cm = UNITS_NONE;
    if (!note) {
        return 0;
    }
    (void)snprintf(width, sizeof width, "%s", note->value);
    char *depth = strchr(width, 'x');
    int rc = 0;
    if (depth) {
        *depth++ = '\0';
        width[strcspn(width, " ")] = '\0';
        rc = parse_real(width, 1, PLACE_MAX, &map->width_cm, err);
        if (rc == 0) {
            rc = parse_real(depth + strspn(depth, " "), 1, PLACE_MAX, &map->depth_cm, err);
        }
    } else {
        rc = err_fail(err, EINVAL, "\"%s\" is not like \"120 x 60\"", note->value);
    }
    if (rc < 0) {
        err_prefix(err, "%s:%d: canopy_cm", table->name, note->line);
    }
    return rc < 0 ? -EINVAL : 0;
}

static int read_notes(const struct table *table, struct lightmap *map, double *ret_dark,
                      struct err *err)
{
    (void)snprintf(map->name, sizeof map->name, "%s", table->name);
    const struct table_note *fixture = table_note(table, "fixture");
    parse_quote(fixture ? fixture->value : "", map->fixture, sizeof map->fixture);
    map->drive = map->fixture_w = map->ppf_umol_s = UNITS_NONE;
    map->level = 1;
    map->has_level = table_note(table, "level") != NULL;
    if (read_height(table, map, err) < 0 || read_canopy(table, map, err) < 0 ||
        table_note_number(table, "drive", 0.01, 1, &map->drive, err) < 0 ||
        table_note_number(table, "level", 0.01, 1, &map->level, err) < 0 ||
        table_note_number(table, "fixture_w", 0.1, 100000, &map->fixture_w, err) < 0 ||
        table_note_number(table, "ppf_umol_s", 0.1, 1e6, &map->ppf_umol_s, err) < 0 ||
        table_note_number(table, "dark_umol", 0, PPFD_MAX, ret_dark, err) < 0) {
        return -EINVAL;
    }
    return 0;
}

struct columns {
    int x, y, umol;
    double cm; /* of a unit of x and y */
};

static int find_columns(const struct table *table, struct columns *ret, struct err *err)
{
    const int x_in = table_column(table, "x_in");
    const int y_in = table_column(table, "y_in");
    *ret = (struct columns){table_column(table, "x_cm"), table_column(table, "y_cm"),
                            table_column(table, "ppfd_umol"), 1};
    if ((x_in >= 0 || y_in >= 0) && (ret->x >= 0 || ret->y >= 0)) {
        return err_fail(err, EINVAL, "%s:%d: centimetres and inches in one map", table->name,
                        table->columns_line);
    }
    if (x_in >= 0 || y_in >= 0) {
        *ret = (struct columns){x_in, y_in, ret->umol, CM_PER_IN};
    }
    if (ret->x < 0 || ret->y < 0 || ret->umol < 0) {
        const char *missing = ret->umol < 0 ? "ppfd_umol" : ret->x < 0 ? "x_cm" : "y_cm";
        return err_fail(err, EINVAL,
                        "%s:%d: there is no column %s (x_cm, y_cm, ppfd_umol; or x_in, y_in)",
                        table->name, table->columns_line, missing);
    }
    return 0;
}

struct range {
    double low, high;
    const char *unit;
};

static int check_cell(const struct table *table, size_t row, int column, const struct range *range,
                      struct err *err)
{
    const double value = table_cell(table, row, column);
    if (value >= range->low && value <= range->high) {
        return 0;
    }
    if (!units_known(value)) {
        return err_fail(err, EINVAL, "%s:%d: %s is empty", table->name, table->lines[row],
                        table->columns[column]);
    }
    return err_fail(err, EINVAL, "%s:%d: %s of %g is out of range (%g … %g, %s)", table->name,
                    table->lines[row], table->columns[column], value, range->low, range->high,
                    range->unit);
}

/* Places closer than LIGHTMAP_NEAR_CM in y share a line: found once, compared often. */
static int line_of(double y_cm)
{
    return (int)lround(y_cm / LIGHTMAP_NEAR_CM);
}

static int take_points(const struct table *table, const struct columns *columns, double dark_umol,
                       struct lightmap *map, struct err *err)
{
    const struct range place = {-PLACE_MAX, PLACE_MAX, columns->cm == 1 ? "cm" : "in"};
    const struct range light = {0, PPFD_MAX, "µmol m⁻² s⁻¹"};
    map->points = malloc(table->row_count * sizeof *map->points);
    if (!map->points) {
        return err_fail(err, ENOMEM, "no memory for %zu points", table->row_count);
    }
    for (size_t row = 0; row < table->row_count; row++) {
        if (check_cell(table, row, columns->x, &place, err) < 0 ||
            check_cell(table, row, columns->y, &place, err) < 0) {
            return -EINVAL;
        }
        const double umol = table_cell(table, row, columns->umol);
        if (!units_known(umol)) {
            continue;
        }
        if (check_cell(table, row, columns->umol, &light, err) < 0) {
            return -EINVAL;
        }
        map->points[map->count++] = (struct lightmap_point){
            .x_cm = table_cell(table, row, columns->x) * columns->cm,
            .y_cm = table_cell(table, row, columns->y) * columns->cm,
            .umol = fmax(umol - dark_umol, 0),
            .line = line_of(table_cell(table, row, columns->y) * columns->cm),
            .repeats = 1,
        };
    }
    return 0;
}

/* By line, then x. */
static int by_place(const void *left, const void *right)
{
    const struct lightmap_point *a = left;
    const struct lightmap_point *b = right;
    if (a->line != b->line) {
        return a->line < b->line ? -1 : 1;
    }
    return (a->x_cm > b->x_cm) - (a->x_cm < b->x_cm);
}

/* Most maps are written row by row. */
static bool is_in_place(const struct lightmap *map)
{
    for (size_t i = 1; i < map->count; i++) {
        if (by_place(&map->points[i - 1], &map->points[i]) > 0) {
            return false;
        }
    }
    return true;
}

static bool is_same_place(const struct lightmap_point *a, const struct lightmap_point *b)
{
    return fabs(a->x_cm - b->x_cm) < LIGHTMAP_NEAR_CM && fabs(a->y_cm - b->y_cm) < LIGHTMAP_NEAR_CM;
}

/* Readings at one place, from `first` up to before `end`, become one point. */
static int join(struct lightmap *map, size_t first, size_t end, size_t to, struct err *err)
{
    struct lightmap_point point = map->points[first];
    double low = (double)INFINITY;
    double high = 0;
    double sum = 0;
    for (size_t i = first; i < end; i++) {
        const double umol = map->points[i].umol;
        low = fmin(low, umol);
        high = fmax(high, umol);
        sum += umol;
    }
    point.repeats = (int)(end - first);
    point.umol = sum / point.repeats;
    if (high - low > fmax(LIGHTMAP_DISAGREE * point.umol, DISAGREE_UM)) {
        return err_fail(err, EINVAL,
                        "%s: readings of %g and %g µmol m⁻² s⁻¹ at one place (%g, %g cm)",
                        map->name, low, high, point.x_cm, point.y_cm);
    }
    map->repeated += point.repeats > 1;
    map->points[to] = point;
    return 0;
}

static int join_repeats(struct lightmap *map, struct err *err)
{
    size_t kept = 0;
    if (!is_in_place(map)) {
        qsort(map->points, map->count, sizeof *map->points, by_place);
    }
    for (size_t first = 0; first < map->count;) {
        size_t end = first + 1;
        while (end < map->count && is_same_place(&map->points[first], &map->points[end])) {
            end++;
        }
        const int rc = join(map, first, end, kept++, err);
        if (rc < 0) {
            return rc;
        }
        first = end;
    }
    map->count = kept;
    return 0;
}

/* The canopy: as it was said, or up to the outermost points. */
static int lay_canopy(struct lightmap *map, struct err *err)
{
    double low_x = (double)INFINITY;
    double high_x = -(double)INFINITY;
    double low_y = (double)INFINITY;
    double high_y = -(double)INFINITY;
    for (size_t i = 0; i < map->count; i++) {
        low_x = fmin(low_x, map->points[i].x_cm);
        high_x = fmax(high_x, map->points[i].x_cm);
        low_y = fmin(low_y, map->points[i].y_cm);
        high_y = fmax(high_y, map->points[i].y_cm);
    }
    if (!units_known(map->width_cm)) {
        map->left_cm = low_x;
        map->front_cm = low_y;
        map->width_cm = high_x - low_x;
        map->depth_cm = high_y - low_y;
        if (!(map->width_cm > 0 && map->depth_cm > 0)) {
            return err_fail(err, EINVAL,
                            "%s: all points lie on one line; say how large the canopy is: \"# "
                            "canopy_cm: 120 x 60\"",
                            map->name);
        }
        return 0;
    }
    const bool is_centred = low_x < 0 || low_y < 0;
    map->left_cm = is_centred ? -map->width_cm / 2 : 0;
    map->front_cm = is_centred ? -map->depth_cm / 2 : 0;
    const double near = LIGHTMAP_NEAR_CM;
    if (low_x < map->left_cm - near || high_x > map->left_cm + map->width_cm + near ||
        low_y < map->front_cm - near || high_y > map->front_cm + map->depth_cm + near) {
        return err_fail(err, EINVAL,
                        "%s: points from (%g, %g) to (%g, %g) cm lie outside the canopy of %g x %g "
                        "cm",
                        map->name, low_x, low_y, high_x, high_y, map->width_cm, map->depth_cm);
    }
    return 0;
}

static bool is_lit(const struct lightmap *map)
{
    for (size_t i = 0; i < map->count; i++) {
        if (map->points[i].umol > 0) {
            return true;
        }
    }
    return false;
}

static int make(const struct table *table, struct lightmap *map, struct err *err)
{
    struct columns columns;
    double dark_umol = 0;
    int rc = read_notes(table, map, &dark_umol, err);
    if (rc == 0) {
        rc = find_columns(table, &columns, err);
    }
    if (rc == 0) {
        rc = take_points(table, &columns, dark_umol, map, err);
    }
    if (rc == 0) {
        rc = join_repeats(map, err);
    }
    if (rc == 0 && map->count < LIGHTMAP_LEAST) {
        rc = err_fail(err, EINVAL, "%s: %zu point%s; a map has %d at least", map->name, map->count,
                      map->count == 1 ? "" : "s", LIGHTMAP_LEAST);
    }
    if (rc == 0 && !is_lit(map)) {
        rc = err_fail(err, EINVAL,
                      "%s: there is no light at any point%s; was the lamp lit, and not covered?",
                      map->name, dark_umol > 0 ? " above dark_umol" : "");
    }
    if (rc == 0) {
        rc = lay_canopy(map, err);
    }
    if (rc == 0) {
        rc = lightmap_find_grid(map, err);
    }
    return rc == 0 ? lightmap_share_area(map, err) : rc;
}

int lightmap_of(const struct table *table, struct lightmap *ret, struct err *err)
{
    struct lightmap map = {0};
    const int rc = make(table, &map, err);
    if (rc < 0) {
        lightmap_free(&map);
        return rc;
    }
    *ret = map;
    return 0;
}

int lightmap_read(const char *path, struct lightmap *ret, struct err *err)
{
    struct table table;
    int rc = table_read(path, &table, err);
    if (rc == 0) {
        rc = lightmap_of(&table, ret, err);
        table_free(&table);
    }
    return rc;
}

void lightmap_free(struct lightmap *map)
{
    if (map) {
        free(map->points);
        free(map->column_cm);
        free(map->row_cm);
        free(map->at);
        *map = (struct lightmap){0};
    }
}
