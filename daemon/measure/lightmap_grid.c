/* SPDX-License-Identifier: Apache-2.0 */
/* Points on the lines of a grid. */
#include "err.h"
#include "lightmap_parts.h"

#include <errno.h>
#include <stdlib.h>

static int by_value(const void *left, const void *right)
{
    const double a = *(const double *)left;
    const double b = *(const double *)right;
    return (a > b) - (a < b);
}

/* The different values of values[count], rising; those near one another are one line at the first
 * of them. Returns their number. */
static size_t lines_of(double *values, size_t count)
{
    size_t lines = 0;
    size_t rising = 1;
    while (rising < count && values[rising - 1] <= values[rising]) {
        rising++;
    }
    if (rising < count) {
        qsort(values, count, sizeof *values, by_value);
    }
    for (size_t i = 0; i < count; i++) {
        if (lines == 0 || values[i] - values[lines - 1] > LIGHTMAP_NEAR_CM) {
            values[lines++] = values[i];
        }
    }
    return lines;
}

/* Index of the line that a place lies on. */
static size_t line_at(const double *lines, size_t count, double place)
{
    size_t low = 0;
    size_t high = count - 1;
    while (low < high) {
        const size_t middle = (low + high + 1) / 2;
        if (lines[middle] <= place) {
            low = middle;
        } else {
            high = middle - 1;
        }
    }
    return low;
}

static void put_points(struct lightmap *map)
{
    const size_t columns = (size_t)map->columns;
    const size_t cells = columns * (size_t)map->rows;
    for (size_t i = 0; i < cells; i++) {
        map->at[i] = -1;
    }
    for (size_t i = 0; i < map->count; i++) {
        const size_t column = line_at(map->column_cm, columns, map->points[i].x_cm);
        const size_t row = line_at(map->row_cm, (size_t)map->rows, map->points[i].y_cm);
        map->at[row * columns + column] = (int)i;
    }
    for (size_t i = 0; i < cells; i++) {
        map->holes += map->at[i] < 0;
    }
}

int lightmap_find_grid(struct lightmap *map, struct err *err)
{
    double *x = malloc(map->count * sizeof *x);
    double *y = malloc(map->count * sizeof *y);
    for (size_t i = 0; x && y && i < map->count; i++) {
        x[i] = map->points[i].x_cm;
        y[i] = map->points[i].y_cm;
    }
    const size_t columns = x && y ? lines_of(x, map->count) : 0;
    const size_t rows = x && y ? lines_of(y, map->count) : 0;
    const bool is_grid = columns * rows <= 2 * map->count;
    if (x && y && is_grid) {
        map->at = malloc(columns * rows * sizeof *map->at);
    }
    if (!x || !y || (is_grid && !map->at)) {
        free(x);
        free(y);
        return err_fail(err, ENOMEM, "no memory for a grid of %zu points", map->count);
    }
    map->is_grid = is_grid;
    if (!is_grid) {
        free(x);
        free(y);
        return 0;
    }
    map->column_cm = x;
    map->row_cm = y;
    map->columns = (int)columns;
    map->rows = (int)rows;
    put_points(map);
    return 0;
}
