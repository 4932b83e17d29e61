/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The measured dimming curve of one fixture: drive → level → watts, exact at the measured points.
 *
 * Between points a piecewise cubic Hermite polynomial, monotone wherever the points are (the
 * condition of F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17, 1980, 238–246). Slopes at
 * inner points: weighted harmonic mean of the neighbouring secants, 0 at a turn or flat part (F. N.
 * Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5, 1984, 300–304); at the ends the three-point
 * formula, limited to keep the shape: together the variant known as PCHIP. Two points give a
 * straight line.
 *
 * The lowest point with level > 0 is the minimum level: below its drive the fixture is only off,
 * and the jump from off to there is no part of the interpolated level. A flat part has no inverse:
 * the lowest drive that gives the level is taken. No allocation, no I/O.
 */
#ifndef LAMPWARDEN_DIMCURVE_H
#define LAMPWARDEN_DIMCURVE_H

#define DIMCURVE_POINTS_MAX    32
#define DIMCURVE_DRIVE_GAP_MIN 1e-6    /* between neighbouring points; keeps every slope finite */
#define DIMCURVE_WATTS_MAX     20000.0 /* more than any one lamp body */

struct dimcurve_point {
    double drive; /* 0 … 1 of the output's range */
    double level; /* 0 … 1 of full light, in photons */
    double watts; /* at the wall, 0 … DIMCURVE_WATTS_MAX */
};

struct dimcurve {
    int count;
    struct dimcurve_point
        points[DIMCURVE_POINTS_MAX];         /* drive strictly rising, level not falling */
    double level_slope[DIMCURVE_POINTS_MAX]; /* dlevel/ddrive at the lit points */
    double watts_slope[DIMCURVE_POINTS_MAX]; /* dwatts/ddrive at the points */
    int first_lit;                           /* index of the minimum level's point */
};

enum dimcurve_fault {
    DIMCURVE_OK,
    DIMCURVE_TOO_FEW, /* fewer than 2 points */
    DIMCURVE_TOO_MANY,
    DIMCURVE_OUT_OF_RANGE, /* a value not finite or outside its range */
    DIMCURVE_DRIVE_ORDER,  /* drive does not rise by DIMCURVE_DRIVE_GAP_MIN or more */
    DIMCURVE_LEVEL_ORDER,  /* level falls: measure again or smooth it first */
    DIMCURVE_NO_FULL,      /* the last point must have level 1 */
    DIMCURVE_NEVER_LIT,    /* no point with level > 0 */
};

/* ret_bad (may be NULL) gets the index of the offending point, or −1. *ret untouched on a fault. */
enum dimcurve_fault dimcurve_init(struct dimcurve *ret, const struct dimcurve_point *points,
                                  int count, int *ret_bad);

double dimcurve_min_level(const struct dimcurve *curve); /* > 0 */
double dimcurve_min_drive(const struct dimcurve *curve); /* drive of the minimum level */

/* Level of a drive; 0 below the minimum level's drive, unless that is the first point of all:
 * drives outside the points are clamped to them. */
double dimcurve_level(const struct dimcurve *curve, double drive);

/* Lowest drive that gives the level, to 1e-9 of level. Levels are clamped to [min level, 1]; level
 * ≤ 0 (or NaN) gives the lowest measured drive. */
double dimcurve_drive(const struct dimcurve *curve, double level);

/* Wall power at a drive, the switch closed; drives outside the points are clamped. */
double dimcurve_watts(const struct dimcurve *curve, double drive);

#endif
