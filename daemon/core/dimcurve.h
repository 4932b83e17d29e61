/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The measured dimming curve of one fixture: drive → level → watts, exact at the measured points.
 *
 * Between points a monotone cubic (Fritsch & Carlson, SIAM J. Numer. Anal. 17, 1980, 238–246). The
 * lowest point with level > 0 is the minimum level: below it the fixture is only off. A flat part has
 * no inverse: the lowest drive that gives the level is taken. No allocation after init, no I/O.
 */
#ifndef LAMPWARDEN_DIMCURVE_H
#define LAMPWARDEN_DIMCURVE_H

#define DIMCURVE_POINTS_MAX 32

struct dimcurve_point {
    double drive; /* 0 … 1 of the output's range */
    double level; /* 0 … 1 of full light, in photons */
    double watts; /* at the wall, ≥ 0 */
};

struct dimcurve {
    int count;
    struct dimcurve_point points[DIMCURVE_POINTS_MAX]; /* drive strictly rising, level not falling */
    double level_slope[DIMCURVE_POINTS_MAX];           /* dlevel/ddrive at the points */
    double watts_slope[DIMCURVE_POINTS_MAX];           /* dwatts/ddrive at the points */
    int first_lit;                                     /* index of the minimum level's point */
};

enum dimcurve_fault {
    DIMCURVE_OK,
    DIMCURVE_TOO_FEW,       /* fewer than 2 points */
    DIMCURVE_TOO_MANY,
    DIMCURVE_OUT_OF_RANGE,  /* a value not finite or outside its range */
    DIMCURVE_DRIVE_ORDER,   /* drive not strictly rising */
    DIMCURVE_LEVEL_ORDER,   /* level falls: measure again or smooth it first */
    DIMCURVE_NO_FULL,       /* the last point must have level 1 */
    DIMCURVE_NEVER_LIT,     /* no point with level > 0 */
};

/* ret_bad (may be NULL) gets the index of the offending point, or −1. *ret untouched on a fault. */
enum dimcurve_fault dimcurve_init(struct dimcurve *ret, const struct dimcurve_point *points,
                                  int count, int *ret_bad);

double dimcurve_min_level(const struct dimcurve *curve); /* > 0 */
double dimcurve_min_drive(const struct dimcurve *curve); /* drive of the minimum level */

/* Level of a drive; drives outside the points are clamped; 0 below the minimum level's drive. */
double dimcurve_level(const struct dimcurve *curve, double drive);

/* Lowest drive that gives the level, to 1e-9. Levels are clamped to [min level, 1]; level ≤ 0 gives the
 * lowest measured drive. */
double dimcurve_drive(const struct dimcurve *curve, double level);

/* Wall power at a drive; 0 points of watts give 0. */
double dimcurve_watts(const struct dimcurve *curve, double drive);

#endif
