/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A light map: PPFD readings over a canopy, taken at one hanging height of one fixture.
 *
 * The file is a table (table.h) with the columns x_cm, y_cm, ppfd_umol (or x_in, y_in) and notes:
 *   fixture      name of the fixture; maps of different ones are compared side by side
 *   height_cm (or height_in)  fixture above the canopy; needed
 *   drive        share of the output's range that the readings were taken at
 *   level        … and the share of full light that it is; 1 when left out
 *   fixture_w    wall power meanwhile
 *   ppf_umol_s   photons that leave the fixture in a second meanwhile
 *   canopy_cm    "120 x 60": width (x) and depth (y); left out: the outermost points lie at the
 *                walls. Its corner is at 0, 0, or its middle when a coordinate is below 0
 *   dark_umol    reading with the lamp off, taken away from all others
 *
 * Points at the same place (within LIGHTMAP_NEAR_CM) are one point with their mean; readings that
 * differ by more than LIGHTMAP_DISAGREE of it are an error. Empty PPFD cells are points that were
 * left out. Points on the lines of a grid make a grid, with holes or not; others stand for the part
 * of the canopy that is nearest to them.
 */
#ifndef LAMPWARDEN_LIGHTMAP_H
#define LAMPWARDEN_LIGHTMAP_H

#include <stdbool.h>
#include <stddef.h>

#define LIGHTMAP_NEAR_CM  0.1
#define LIGHTMAP_DISAGREE 0.2
#define LIGHTMAP_LEAST    4 /* points; fewer say nothing of a canopy */

struct err;
struct table;

struct lightmap_point {
    double x_cm, y_cm;
    double umol;
    double area_cm2; /* part of the canopy that it stands for */
    int line;        /* of LIGHTMAP_NEAR_CM in y: its place in the order */
    int repeats;     /* readings that were made one, ≥ 1 */
};

/* Made by lightmap_read or lightmap_of, freed by lightmap_free; zeroed before. */
struct lightmap {
    char name[128];   /* of the file */
    char fixture[96]; /* "": not said */
    double height_cm;
    double drive;                 /* NaN: not said */
    double level;                 /* 1 unless said */
    bool has_level;               /* … by the file */
    double fixture_w, ppf_umol_s; /* NaN: not said */
    double left_cm, front_cm;     /* least x and y of the canopy */
    double width_cm, depth_cm;
    size_t count;
    struct lightmap_point *points; /* by y, then x */
    int repeated;                  /* points with more than one reading */
    bool is_grid;
    int columns, rows, holes; /* of the grid; 0 without one */
    double *column_cm, *row_cm;
    int *at; /* rows × columns: index of the point, −1 a hole */
};

/* 0; -EINVAL with "FILE:LINE: …" or "FILE: …"; what table_read says. */
int lightmap_read(const char *path, struct lightmap *ret, struct err *err);
int lightmap_of(const struct table *table, struct lightmap *ret, struct err *err);

void lightmap_free(struct lightmap *map); /* NULL and zeroed are fine */

#endif
