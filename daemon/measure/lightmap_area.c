/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What part of the canopy each point stands for. On a grid: up to the middle between it and its
 * neighbours, or the wall; a hole's part goes to the points around it. Elsewhere: what is nearest
 * to it (Thiessen 1911), counted on a fine raster.
 */
#include "err.h"
#include "lightmap_parts.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

enum { RASTER = 1000 };

/* --- a grid ----------------------------------------------------------------------------------- */

static double breadth(const double *lines, int count, int i, double low, double high)
{
    const double from = i == 0 ? low : (lines[i - 1] + lines[i]) / 2;
    const double to = i == count - 1 ? high : (lines[i] + lines[i + 1]) / 2;
    return to - from;
}

struct holes {
    const struct lightmap *map;
    double *area; /* of each crossing */
    int *far;     /* steps to the nearest point */
    int *queue;   /* crossings by their distance */
};

/* Up to four crossings around one. */
static int neighbours(const struct lightmap *map, int cell, int ret[4])
{
    const int column = cell % map->columns;
    const int row = cell / map->columns;
    int count = 0;
    if (column > 0) {
        ret[count++] = cell - 1;
    }
    if (column < map->columns - 1) {
        ret[count++] = cell + 1;
    }
    if (row > 0) {
        ret[count++] = cell - map->columns;
    }
    if (row < map->rows - 1) {
        ret[count++] = cell + map->columns;
    }
    return count;
}

/* Breadth first from all points. Returns how many crossings were reached: all of them. */
static int measure_distance(struct holes *holes)
{
    const struct lightmap *map = holes->map;
    int end = 0;
    for (int i = 0; i < map->columns * map->rows; i++) {
        holes->far[i] = map->at[i] >= 0 ? 0 : -1;
        if (map->at[i] >= 0) {
            holes->queue[end++] = i;
        }
    }
    for (int begin = 0; begin < end; begin++) {
        int around[4];
        const int cell = holes->queue[begin];
        const int count = neighbours(map, cell, around);
        for (int i = 0; i < count; i++) {
            if (holes->far[around[i]] < 0) {
                holes->far[around[i]] = holes->far[cell] + 1;
                holes->queue[end++] = around[i];
            }
        }
    }
    return end;
}

/* From the farthest hole on, each hands its area to the neighbours that are nearer to a point. */
static void hand_over(struct holes *holes, int reached)
{
    for (int i = reached - 1; i >= 0 && holes->far[holes->queue[i]] > 0; i--) {
        int around[4];
        int nearer = 0;
        const int cell = holes->queue[i];
        const int count = neighbours(holes->map, cell, around);
        for (int j = 0; j < count; j++) {
            nearer += holes->far[around[j]] < holes->far[cell];
        }
        for (int j = 0; j < count; j++) {
            if (holes->far[around[j]] < holes->far[cell]) {
                holes->area[around[j]] += holes->area[cell] / nearer;
            }
        }
    }
}

static int share_grid(struct lightmap *map, struct err *err)
{
    const size_t cells = (size_t)map->columns * (size_t)map->rows;
    struct holes holes = {map, calloc(cells, sizeof(double)), calloc(cells, sizeof(int)),
                          calloc(cells, sizeof(int))};
    int rc = 0;
    if (!holes.area || !holes.far || !holes.queue) {
        rc = err_fail(err, ENOMEM, "no memory for %zu parts of a canopy", cells);
    } else {
        for (int row = 0; row < map->rows; row++) {
            const double depth =
                breadth(map->row_cm, map->rows, row, map->front_cm, map->front_cm + map->depth_cm);
            for (int column = 0; column < map->columns; column++) {
                const double width = breadth(map->column_cm, map->columns, column, map->left_cm,
                                             map->left_cm + map->width_cm);
                holes.area[row * map->columns + column] = width * depth;
            }
        }
        hand_over(&holes, measure_distance(&holes));
        for (size_t i = 0; i < cells; i++) {
            if (map->at[i] >= 0) {
                map->points[map->at[i]].area_cm2 = holes.area[i];
            }
        }
    }
    free(holes.area);
    free(holes.far);
    free(holes.queue);
    return rc;
}

/* --- points anywhere -------------------------------------------------------------------------- */

/* Boxes over the canopy, each with the list of the points in it. */
struct boxes {
    const struct lightmap *map;
    int across, along;
    int *first; /* of each box: a point, or −1 */
    int *next;  /* of each point */
};

static int box_of(double place, double low, double size, int count)
{
    return (int)units_clamp(floor((place - low) / size * count), 0, count - 1);
}

static int open_boxes(struct boxes *boxes, const struct lightmap *map, struct err *err)
{
    const int side = (int)units_clamp(sqrt((double)map->count), 1, 2000);
    const size_t cells = (size_t)side * (size_t)side;
    *boxes = (struct boxes){map, side, side, malloc(cells * sizeof(int)),
                            malloc(map->count * sizeof(int))};
    if (!boxes->first || !boxes->next) {
        return err_fail(err, ENOMEM, "no memory for %zu points", map->count);
    }
    for (size_t i = 0; i < cells; i++) {
        boxes->first[i] = -1;
    }
    for (size_t i = 0; i < map->count; i++) {
        const struct lightmap_point *point = &map->points[i];
        const int box = box_of(point->y_cm, map->front_cm, map->depth_cm, side) * side +
                        box_of(point->x_cm, map->left_cm, map->width_cm, side);
        boxes->next[i] = boxes->first[box];
        boxes->first[box] = (int)i;
    }
    return 0;
}

struct search {
    double x_cm, y_cm; /* of the place */
    int nearest;       /* so far */
    double cm2;        /* … and its distance squared */
};

static void look_into(const struct boxes *boxes, int column, int row, struct search *search)
{
    if (column < 0 || row < 0 || column >= boxes->across || row >= boxes->along) {
        return;
    }
    for (int i = boxes->first[row * boxes->across + column]; i >= 0; i = boxes->next[i]) {
        const double dx = boxes->map->points[i].x_cm - search->x_cm;
        const double dy = boxes->map->points[i].y_cm - search->y_cm;
        if (dx * dx + dy * dy < search->cm2) {
            search->cm2 = dx * dx + dy * dy;
            search->nearest = i;
        }
    }
}

/* Ring by ring around the place's own box, until no farther ring can hold a nearer point. */
static int nearest_to(const struct boxes *boxes, double x_cm, double y_cm)
{
    const struct lightmap *map = boxes->map;
    const int column = box_of(x_cm, map->left_cm, map->width_cm, boxes->across);
    const int row = box_of(y_cm, map->front_cm, map->depth_cm, boxes->along);
    const double least_cm = fmin(map->width_cm / boxes->across, map->depth_cm / boxes->along);
    struct search search = {x_cm, y_cm, 0, (double)INFINITY};
    for (int ring = 0; ring < boxes->across + boxes->along; ring++) {
        if (ring > 1 && search.cm2 <= (ring - 1) * least_cm * (ring - 1) * least_cm) {
            break;
        }
        for (int i = -ring; i <= ring; i++) {
            look_into(boxes, column + i, row - ring, &search);
            look_into(boxes, column + i, row + ring, &search);
            if (abs(i) < ring) {
                look_into(boxes, column - ring, row + i, &search);
                look_into(boxes, column + ring, row + i, &search);
            }
        }
    }
    return search.nearest;
}

static int share_nearest(struct lightmap *map, struct err *err)
{
    struct boxes boxes;
    const int rc = open_boxes(&boxes, map, err);
    const double part = map->width_cm * map->depth_cm / ((double)RASTER * RASTER);
    for (int row = 0; rc == 0 && row < RASTER; row++) {
        const double y_cm = map->front_cm + (row + 0.5) / RASTER * map->depth_cm;
        for (int column = 0; column < RASTER; column++) {
            const double x_cm = map->left_cm + (column + 0.5) / RASTER * map->width_cm;
            map->points[nearest_to(&boxes, x_cm, y_cm)].area_cm2 += part;
        }
    }
    free(boxes.first);
    free(boxes.next);
    return rc;
}

int lightmap_share_area(struct lightmap *map, struct err *err)
{
    return map->is_grid ? share_grid(map, err) : share_nearest(map, err);
}
