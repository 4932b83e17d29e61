/* SPDX-License-Identifier: Apache-2.0 */
#include "lampcurve.h"

#include "units.h"

#include <math.h>

/* Slopes closer than this are one straight line: well above LAMPCURVE_TIE, so that two stretches
 * of a chain never tie. */
static const double SLOPE_SAME = 1e-9;
/* Of photons this equally cheap the one with the lowest level is the best: the smallest jump. */
static const double PHOTON_SAME = 1e-9;
/* Less than this between the lowest level and full light is no room to dim in. */
static const double ROOM_MIN = 1e-6;

/* Lower convex hull by the monotone chain of A. M. Andrew, Inf. Process. Lett. 9 (1979) 216–219. */
static void add_point(struct lampcurve *curve, double level, double watts)
{
    double slope = 0;
    while (curve->count > 0) {
        const int last = curve->count - 1;
        slope = (watts - curve->watts[last]) / (level - curve->level[last]);
        if (last == 0 ||
            slope > curve->slope[last - 1] + SLOPE_SAME * fabs(curve->slope[last - 1])) {
            curve->slope[last] = slope;
            break;
        }
        curve->count--;
    }
    curve->level[curve->count] = level;
    curve->watts[curve->count] = watts;
    curve->count++;
}

static double photon_w(const struct lampcurve *curve, int i)
{
    return (curve->watts[i] - curve->off_w) / curve->level[i];
}

static int find_best(const struct lampcurve *curve)
{
    double least = photon_w(curve, 0);
    for (int i = 1; i < curve->count; i++) {
        least = fmin(least, photon_w(curve, i));
    }
    int best = 0;
    while (photon_w(curve, best) > least * (1 + PHOTON_SAME)) {
        best++;
    }
    return best;
}

void lampcurve_of(struct lampcurve *ret, const double *level, const double *watts, int count,
                  double off_w)
{
    *ret = (struct lampcurve){.off_w = units_clamp(off_w, 0, watts[0])};
    for (int i = 0; i < count; i++) {
        add_point(ret, level[i], watts[i]);
    }
    ret->best = find_best(ret);
}

/* All fixtures at a common level, each at its own minimum at least. */
static void sample(const struct lampcurve_part *parts, int count, double common, double *ret_level,
                   double *ret_watts)
{
    double full = 0;
    double umol = 0;
    double watts = 0;
    for (int i = 0; i < count; i++) {
        const double level = fmax(common, dimcurve_min_level(parts[i].curve));
        full += parts[i].full_umol;
        umol += parts[i].full_umol * level;
        watts += dimcurve_watts(parts[i].curve, dimcurve_drive(parts[i].curve, level));
    }
    *ret_level = umol / full;
    *ret_watts = watts;
}

void lampcurve_join(struct lampcurve *ret, const struct lampcurve_part *parts, int count,
                    double off_w)
{
    double lowest = 1;
    for (int i = 0; i < count; i++) {
        lowest = fmin(lowest, dimcurve_min_level(parts[i].curve));
    }
    double level[LAMPCURVE_POINTS_MAX];
    double watts[LAMPCURVE_POINTS_MAX];
    sample(parts, count, lowest, &level[0], &watts[0]);
    if (1 - level[0] < ROOM_MIN) {
        sample(parts, count, 1, &level[0], &watts[0]);
        lampcurve_of(ret, level, watts, 1, off_w);
        return;
    }
    const int last = LAMPCURVE_POINTS_MAX - 1;
    for (int i = 1; i <= last; i++) {
        const double common = i == last ? 1 : lowest + (1 - lowest) * i / last;
        sample(parts, count, common, &level[i], &watts[i]);
    }
    lampcurve_of(ret, level, watts, LAMPCURVE_POINTS_MAX, off_w);
}

double lampcurve_min_level(const struct lampcurve *curve)
{
    return curve->level[0];
}

double lampcurve_watts(const struct lampcurve *curve, double level)
{
    if (!(level > 0)) {
        return curve->off_w;
    }
    int low = 0;
    int high = curve->count - 1;
    if (level <= curve->level[low]) {
        return curve->watts[low];
    }
    if (level >= curve->level[high]) {
        return curve->watts[high];
    }
    while (high - low > 1) {
        const int middle = (low + high) / 2;
        if (curve->level[middle] <= level) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return curve->watts[low] + curve->slope[low] * (level - curve->level[low]);
}

int lampcurve_point_at(const struct lampcurve *curve, double worth_w, int from, int to)
{
    const double most = worth_w * (1 + LAMPCURVE_TIE);
    if (from < to && curve->slope[to - 1] <= most) {
        return to; /* the ends are asked for most */
    }
    if (from < to && curve->slope[from] > most) {
        return from;
    }
    while (from < to) {
        const int middle = (from + to) / 2;
        if (curve->slope[middle] <= most) {
            from = middle + 1;
        } else {
            to = middle;
        }
    }
    return from;
}

static double cheapest_level(const struct lampcurve *curve, double high)
{
    return fmin(high, curve->level[curve->best]);
}

double lampcurve_threshold_w(const struct lampcurve *curve, double high)
{
    if (!(high >= curve->level[0])) {
        return (double)INFINITY;
    }
    if (high >= curve->level[curve->best]) {
        return photon_w(curve, curve->best);
    }
    return (lampcurve_watts(curve, high) - curve->off_w) / high;
}

/* A level that is right for the chain alone, brought between the limits or to off. */
static double within(const struct lampcurve *curve, double level, double worth_w, double low,
                     double high)
{
    if (!(high >= curve->level[0])) {
        return 0;
    }
    if (low > 0) {
        return units_clamp(fmax(level, low), curve->level[0], high);
    }
    if (!(worth_w * (1 + LAMPCURVE_TIE) >= lampcurve_threshold_w(curve, high))) {
        return 0;
    }
    return units_clamp(level, cheapest_level(curve, high), high);
}

double lampcurve_level_at(const struct lampcurve *curve, double worth_w, double low, double high)
{
    const int point = lampcurve_point_at(curve, worth_w, 0, curve->count - 1);
    return within(curve, curve->level[point], worth_w, low, high);
}

double lampcurve_level_below(const struct lampcurve *curve, double worth_w, double low, double high)
{
    int point = lampcurve_point_at(curve, worth_w, 0, curve->count - 1);
    if (point > 0 && curve->slope[point - 1] >= worth_w * (1 - LAMPCURVE_TIE)) {
        point--; /* slopes never tie with each other: one stretch at most */
    }
    return within(curve, curve->level[point], worth_w, low, high);
}
