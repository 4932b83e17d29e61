/* SPDX-License-Identifier: Apache-2.0 */
#include "walk.h"

#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

static int check(const struct walk_grid *grid, struct err *err)
{
    const bool is_wide_enough = grid->columns >= 2 && grid->rows >= 2;
    if (!is_wide_enough || grid->columns > WALK_SIDE_MAX || grid->rows > WALK_SIDE_MAX) {
        return err_fail(err, EINVAL,
                        "a grid of %d x %d points is out of range (2 x 2 … %d x %d, together "
                        "%d at most)",
                        grid->columns, grid->rows, WALK_SIDE_MAX, WALK_SIDE_MAX, WALK_POINTS_MAX);
    }
    if (grid->columns * grid->rows > WALK_POINTS_MAX) {
        return err_fail(err, EINVAL, "a grid of %d x %d has %d points; %d at most", grid->columns,
                        grid->rows, grid->columns * grid->rows, WALK_POINTS_MAX);
    }
    if (!(grid->step_x > 0 && grid->step_y > 0 && grid->margin >= 0)) {
        return err_fail(err, EINVAL, "points %g and %g apart, %g from the walls: no grid",
                        grid->step_x, grid->step_y, grid->margin);
    }
    return 0;
}

int walk_begin(const struct walk_grid *grid, bool is_one_way, struct walk *ret, struct err *err)
{
    const int rc = check(grid, err);
    if (rc < 0) {
        return rc;
    }
    struct walk walk = {.grid = *grid,
                        .is_one_way = is_one_way,
                        .count = grid->columns * grid->rows,
                        .latest = -1,
                        .before = {.at = -1}};
    walk.points = calloc((size_t)walk.count, sizeof *walk.points);
    if (!walk.points) {
        return err_fail(err, ENOMEM, "no memory for %d points", walk.count);
    }
    *ret = walk;
    return 0;
}

void walk_free(struct walk *walk)
{
    if (walk) {
        free(walk->points);
        *walk = (struct walk){0};
    }
}

bool walk_is_over(const struct walk *walk)
{
    return walk->at == walk->count;
}

int walk_number_of(const struct walk *walk, enum walk_mark mark)
{
    int number = 0;
    for (int i = 0; i < walk->count; i++) {
        number += walk->points[i].mark == mark;
    }
    return number;
}

/* To and fro: odd rows run from the right. The same turns a column into a place and back. */
static int turn(const struct walk *walk, int column, int row)
{
    const bool is_from_right = !walk->is_one_way && row % 2 == 1;
    return is_from_right ? walk->grid.columns - 1 - column : column;
}

struct walk_spot walk_spot(const struct walk *walk, int index)
{
    const struct walk_grid *grid = &walk->grid;
    const int row = index / grid->columns;
    const int column = turn(walk, index % grid->columns, row);
    return (struct walk_spot){column, row, grid->margin + column * grid->step_x,
                              grid->margin + row * grid->step_y};
}

int walk_index(const struct walk *walk, int column, int row)
{
    return row * walk->grid.columns + turn(walk, column, row);
}

static int next_open(const struct walk *walk)
{
    for (int i = 1; i <= walk->count; i++) {
        const int index = (walk->at + i) % walk->count;
        if (walk->points[index].mark == WALK_OPEN) {
            return index;
        }
    }
    return walk->count;
}

static void remember(struct walk *walk)
{
    walk->before.at = walk->at;
    walk->before.latest = walk->latest;
    walk->before.point = walk->points[walk->at];
}

void walk_accept(struct walk *walk, const struct walk_reading *reading)
{
    if (walk_is_over(walk)) {
        return;
    }
    remember(walk);
    walk->points[walk->at] = (struct walk_point){WALK_MEASURED, *reading};
    walk->latest = walk->at;
    walk->at = next_open(walk);
}

void walk_skip(struct walk *walk)
{
    if (walk_is_over(walk)) {
        return;
    }
    remember(walk);
    if (walk->points[walk->at].mark == WALK_OPEN) {
        walk->points[walk->at].mark = WALK_LEFT_OUT;
    }
    walk->at = next_open(walk);
}

void walk_undo(struct walk *walk)
{
    if (walk->before.at >= 0) {
        walk->at = walk->before.at;
        walk->latest = walk->before.latest;
        walk->points[walk->at] = walk->before.point;
        walk->before.at = -1;
    }
}

bool walk_back(struct walk *walk)
{
    return walk_go(walk, walk->at - 1);
}

bool walk_repeat(struct walk *walk)
{
    return walk_go(walk, walk->latest);
}

bool walk_go(struct walk *walk, int index)
{
    if (index < 0 || index >= walk->count) {
        return false;
    }
    walk->at = index;
    return true;
}

static bool is_near(double a, double b)
{
    return fabs(a - b) < 1e-6;
}

bool walk_is_same_grid(const struct walk_grid *a, const struct walk_grid *b)
{
    return a->columns == b->columns && a->rows == b->rows && a->is_in_inches == b->is_in_inches &&
           is_near(a->step_x, b->step_x) && is_near(a->step_y, b->step_y) &&
           is_near(a->margin, b->margin);
}
