/* SPDX-License-Identifier: Apache-2.0 */
#include "dimcurve.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

/* An inverse is good when its level is off by no more than this; Newton gets there in about 5
 * steps, the bisection that guards it in at most 50. */
static const double LEVEL_TOLERANCE = 1e-12;
static const int INVERSE_STEPS_MAX = 60;

static bool is_within(double value, double low, double high)
{
    return value >= low && value <= high;
}

static enum dimcurve_fault check_point(const struct dimcurve_point *point,
                                       const struct dimcurve_point *before)
{
    if (!is_within(point->drive, 0.0, 1.0) || !is_within(point->level, 0.0, 1.0) ||
        !is_within(point->watts, 0.0, DIMCURVE_WATTS_MAX)) {
        return DIMCURVE_OUT_OF_RANGE;
    }
    if (before && point->drive - before->drive < DIMCURVE_DRIVE_GAP_MIN) {
        return DIMCURVE_DRIVE_ORDER;
    }
    if (before && point->level < before->level) {
        return DIMCURVE_LEVEL_ORDER;
    }
    return DIMCURVE_OK;
}

static enum dimcurve_fault check_points(const struct dimcurve_point *points, int count,
                                        int *ret_bad)
{
    *ret_bad = -1;
    if (count < 2) {
        return DIMCURVE_TOO_FEW;
    }
    if (count > DIMCURVE_POINTS_MAX) {
        return DIMCURVE_TOO_MANY;
    }
    for (int i = 0; i < count; i++) {
        enum dimcurve_fault fault = check_point(&points[i], i > 0 ? &points[i - 1] : NULL);
        if (fault != DIMCURVE_OK) {
            *ret_bad = i;
            return fault;
        }
    }
    if (!(points[count - 1].level > 0.0)) {
        return DIMCURVE_NEVER_LIT;
    }
    if (points[count - 1].level < 1.0) {
        *ret_bad = count - 1;
        return DIMCURVE_NO_FULL;
    }
    return DIMCURVE_OK;
}

/* Secants of one value over the drive, and from them the slopes; see the header for the sources. */
struct secants {
    int count; /* ≥ 1 */
    double width[DIMCURVE_POINTS_MAX];
    double slope[DIMCURVE_POINTS_MAX];
};

static bool have_same_sign(double a, double b)
{
    return (a > 0.0 && b > 0.0) || (a < 0.0 && b < 0.0);
}

static double inner_slope(const struct secants *s, int i)
{
    double before = s->slope[i - 1];
    double after = s->slope[i];
    if (!have_same_sign(before, after)) {
        return 0.0;
    }
    double w1 = 2.0 * s->width[i] + s->width[i - 1];
    double w2 = s->width[i] + 2.0 * s->width[i - 1];
    return (w1 + w2) / (w1 / before + w2 / after);
}

/* At an end: `near` is the outermost secant, `next` the one beside it. */
static double end_slope(const struct secants *s, int near, int next)
{
    double slope = ((2.0 * s->width[near] + s->width[next]) * s->slope[near] -
                    s->width[near] * s->slope[next]) /
                   (s->width[near] + s->width[next]);
    if (!have_same_sign(slope, s->slope[near])) {
        return 0.0;
    }
    bool turns = !have_same_sign(s->slope[near], s->slope[next]);
    if (turns && fabs(slope) > 3.0 * fabs(s->slope[near])) {
        return 3.0 * s->slope[near];
    }
    return slope;
}

static void set_slopes(const struct secants *s, double *ret_slopes)
{
    int last = s->count - 1;
    if (last == 0) {
        ret_slopes[0] = ret_slopes[1] = s->slope[0];
        return;
    }
    ret_slopes[0] = end_slope(s, 0, 1);
    for (int i = 1; i <= last; i++) {
        ret_slopes[i] = inner_slope(s, i);
    }
    ret_slopes[last + 1] = end_slope(s, last, last - 1);
}

static void set_level_slopes(struct dimcurve *curve)
{
    const struct dimcurve_point *lit = &curve->points[curve->first_lit];
    struct secants s = {.count = curve->count - curve->first_lit - 1};
    for (int i = 0; i < s.count; i++) {
        s.width[i] = lit[i + 1].drive - lit[i].drive;
        s.slope[i] = (lit[i + 1].level - lit[i].level) / s.width[i];
    }
    if (s.count > 0) {
        set_slopes(&s, &curve->level_slope[curve->first_lit]);
    }
}

static void set_watts_slopes(struct dimcurve *curve)
{
    const struct dimcurve_point *points = curve->points;
    struct secants s = {.count = curve->count - 1};
    for (int i = 0; i < s.count; i++) {
        s.width[i] = points[i + 1].drive - points[i].drive;
        s.slope[i] = (points[i + 1].watts - points[i].watts) / s.width[i];
    }
    set_slopes(&s, curve->watts_slope);
}

/* One segment as y = y0 + t·(c1 + t·(c2 + t·c3)), t = 0 … 1. */
struct cubic {
    double y0, y1, c1, c2, c3;
};

static struct cubic cubic_of(double y0, double y1, double rise0, double rise1)
{
    double rise = y1 - y0;
    return (struct cubic){
        .y0 = y0,
        .y1 = y1,
        .c1 = rise0,
        .c2 = 3.0 * rise - 2.0 * rise0 - rise1,
        .c3 = rise0 + rise1 - 2.0 * rise,
    };
}

static double cubic_at(const struct cubic *cubic, double t)
{
    double y = cubic->y0 + t * (cubic->c1 + t * (cubic->c2 + t * cubic->c3));
    /* Monotone by construction; this takes off the rounding at the ends. */
    return fmax(fmin(cubic->y0, cubic->y1), fmin(fmax(cubic->y0, cubic->y1), y));
}

/* t of a rising segment at which it reaches y; Newton, kept inside a shrinking bracket. */
static double cubic_find(const struct cubic *cubic, double y)
{
    double low = 0.0;
    double high = 1.0;
    double t = (y - cubic->y0) / (cubic->y1 - cubic->y0);
    for (int i = 0; i < INVERSE_STEPS_MAX; i++) {
        double miss = cubic_at(cubic, t) - y;
        if (fabs(miss) <= LEVEL_TOLERANCE) {
            break;
        }
        if (miss < 0.0) {
            low = t;
        } else {
            high = t;
        }
        double slope = cubic->c1 + t * (2.0 * cubic->c2 + t * 3.0 * cubic->c3);
        double next = t - miss / slope;
        t = next > low && next < high ? next : 0.5 * (low + high);
    }
    return t;
}

static struct cubic level_segment(const struct dimcurve *curve, int i)
{
    const struct dimcurve_point *p = &curve->points[i];
    double width = p[1].drive - p[0].drive;
    return cubic_of(p[0].level, p[1].level, width * curve->level_slope[i],
                    width * curve->level_slope[i + 1]);
}

/* The last point at or below a drive; the first point for drives below all (and NaN). */
static int find_drive(const struct dimcurve *curve, double drive)
{
    int low = 0;
    int high = curve->count;
    if (drive >= curve->points[high - 1].drive) {
        return high - 1; /* full drive is what is asked most often */
    }
    while (high - low > 1) {
        int middle = (low + high) / 2;
        if (curve->points[middle].drive <= drive) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}

/* The first lit point at or above a level ≤ 1. */
static int find_level(const struct dimcurve *curve, double level)
{
    int below = curve->first_lit - 1;
    int at = curve->count - 1;
    while (at - below > 1) {
        int middle = (below + at) / 2;
        if (curve->points[middle].level < level) {
            below = middle;
        } else {
            at = middle;
        }
    }
    return at;
}

enum dimcurve_fault dimcurve_init(struct dimcurve *ret, const struct dimcurve_point *points,
                                  int count, int *ret_bad)
{
    int bad;
    enum dimcurve_fault fault = check_points(points, count, &bad);
    if (ret_bad) {
        *ret_bad = bad;
    }
    if (fault != DIMCURVE_OK) {
        return fault;
    }
    struct dimcurve curve = {.count = count};
    for (int i = 0; i < count; i++) {
        curve.points[i] = points[i];
    }
    while (!(points[curve.first_lit].level > 0.0)) {
        curve.first_lit++;
    }
    set_level_slopes(&curve);
    set_watts_slopes(&curve);
    *ret = curve;
    return DIMCURVE_OK;
}

double dimcurve_min_level(const struct dimcurve *curve)
{
    return curve->points[curve->first_lit].level;
}

double dimcurve_min_drive(const struct dimcurve *curve)
{
    return curve->points[curve->first_lit].drive;
}

double dimcurve_level(const struct dimcurve *curve, double drive)
{
    int i = find_drive(curve, drive);
    const struct dimcurve_point *p = &curve->points[i];
    if (i < curve->first_lit) {
        return 0.0;
    }
    if (i == curve->count - 1 || !(drive > p->drive)) {
        return p->level;
    }
    struct cubic segment = level_segment(curve, i);
    return cubic_at(&segment, (drive - p[0].drive) / (p[1].drive - p[0].drive));
}

double dimcurve_drive(const struct dimcurve *curve, double level)
{
    if (!(level > 0.0)) {
        return curve->points[0].drive;
    }
    int i = find_level(curve, fmin(level, 1.0));
    const struct dimcurve_point *p = &curve->points[i];
    if (i == curve->first_lit || p->level <= level) {
        return p->drive;
    }
    struct cubic segment = level_segment(curve, i - 1);
    return p[-1].drive + (p[0].drive - p[-1].drive) * cubic_find(&segment, level);
}

double dimcurve_watts(const struct dimcurve *curve, double drive)
{
    int i = find_drive(curve, drive);
    const struct dimcurve_point *p = &curve->points[i];
    if (i == curve->count - 1 || !(drive > p->drive)) {
        return p->watts;
    }
    double width = p[1].drive - p[0].drive;
    struct cubic segment = cubic_of(p[0].watts, p[1].watts, width * curve->watts_slope[i],
                                    width * curve->watts_slope[i + 1]);
    return cubic_at(&segment, (drive - p[0].drive) / width);
}
