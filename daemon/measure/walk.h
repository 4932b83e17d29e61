/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A walk with a light sensor over the points of a grid: which one is next, what was read where, and
 * the rows of the file (lightmap.h) that keep it. Neither clock nor file: whoever walks stores the
 * rows after each step, and begins again from them.
 *
 * Column 0, row 0 is the left front corner, at the margin from both walls; x grows to the right, y
 * to the back. Points are numbered along the walk, from 0.
 */
#ifndef LAMPWARDEN_WALK_H
#define LAMPWARDEN_WALK_H

#include <stdbool.h>

#define WALK_SIDE_MAX   1000
#define WALK_POINTS_MAX 10000
#define WALK_ROW_MAX    160

struct err;
struct table;

struct walk_grid {
    int columns, rows;     /* 2 … WALK_SIDE_MAX each, together up to WALK_POINTS_MAX */
    double step_x, step_y; /* > 0, in the unit below */
    double margin;         /* ≥ 0: of the outermost points from the walls */
    bool is_in_inches;     /* else centimetres */
};

enum walk_mark { WALK_OPEN, WALK_MEASURED, WALK_LEFT_OUT };

struct walk_reading {
    double umol, spread_umol; /* mean and sample standard deviation */
    int samples;
};

struct walk_point {
    enum walk_mark mark;
    struct walk_reading reading; /* of a measured one */
};

struct walk_spot {
    int column, row;
    double x, y; /* in the grid's unit */
};

/* Made by walk_begin or walk_resume, freed by walk_free; zeroed before. */
struct walk {
    struct walk_grid grid;
    bool is_one_way; /* every row from the left; else to and fro, which is the shortest way */
    int count;
    int at;     /* the point to measure now; `count`: every point is done */
    int latest; /* the point that was measured last; −1: none yet */
    struct walk_point *points;
    struct { /* before the last walk_accept or walk_skip */
        int at, latest;
        struct walk_point point;
    } before;
};

/* -EINVAL with the allowed range, -ENOMEM. */
int walk_begin(const struct walk_grid *grid, bool is_one_way, struct walk *ret, struct err *err);

/* From a file that walk_notes, walk_columns and walk_row made: the grid by its notes, and the walk
 * goes on at the first open point. -EINVAL with the place. */
int walk_resume(const struct table *table, bool is_one_way, struct walk *ret, struct err *err);

void walk_free(struct walk *walk); /* NULL and zeroed are fine */

bool walk_is_over(const struct walk *walk);
int walk_number_of(const struct walk *walk, enum walk_mark mark); /* of points with that mark */

struct walk_spot walk_spot(const struct walk *walk, int index);
int walk_index(const struct walk *walk, int column, int row);

/* The reading is that of the present point, an earlier one of it is forgotten; the next open point
 * follows, those before the present one last. */
void walk_accept(struct walk *walk, const struct walk_reading *reading);

/* Goes on the same way without measuring: a point that has a reading keeps it, another is left out.
 */
void walk_skip(struct walk *walk);

/* Takes back the last walk_accept or walk_skip, once: it could not be stored. */
void walk_undo(struct walk *walk);

/* The present point becomes the one before, the one measured last, any. False: there is none. */
bool walk_back(struct walk *walk);
bool walk_repeat(struct walk *walk);
bool walk_go(struct walk *walk, int index);

/* Two grids have the same points at the same places. */
bool walk_is_same_grid(const struct walk_grid *a, const struct walk_grid *b);

const char *walk_unit(const struct walk_grid *grid); /* "cm" or "in" */

/* "9 x 5 points 15 cm apart" */
void walk_grid_words(const struct walk_grid *grid, char *buffer, unsigned size);

/* "# grid: …" and so on, whole lines that say where the points lie; at least 3 × WALK_ROW_MAX. */
void walk_notes(const struct walk_grid *grid, char *buffer, unsigned size);

/* "x_cm,y_cm,…" and a newline. */
const char *walk_columns(const struct walk_grid *grid);

/* The row of one point and a newline; "" of an open one. At least WALK_ROW_MAX. */
void walk_row(const struct walk *walk, int index, char *buffer, unsigned size);

#endif
