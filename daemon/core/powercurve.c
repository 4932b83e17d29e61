/* SPDX-License-Identifier: Apache-2.0 */
#include "powercurve.h"

#include "units.h"

#include <math.h>

#define SLOPE_LEAST 1e-6 /* W per unit of level: keeps its logarithm finite */

static double log_slope(const struct lampcurve *lamp, int from, int to)
{
    const double rise =
        (lamp->watts[to] - lamp->watts[from]) / (lamp->level[to] - lamp->level[from]);
    return log(fmax(rise, SLOPE_LEAST));
}

/* Every n-th point of the chain, and the best one: chords of a convex chain are convex. */
void powercurve_init(struct powercurve *ret, const struct lampcurve *lamp)
{
    *ret = (struct powercurve){.lamp = lamp, .best_level = lamp->level[lamp->best]};
    const int segments = lamp->count - 1;
    const int stride = (segments + POWERCURVE_STEPS_MAX - 2) / (POWERCURVE_STEPS_MAX - 1);
    for (int from = 0; from < segments;) {
        int to = from + stride < segments ? from + stride : segments;
        if (from < lamp->best && lamp->best < to) {
            to = lamp->best;
        }
        ret->step[ret->count] = lamp->level[to] - lamp->level[from];
        ret->log_slope[ret->count] = log_slope(lamp, from, to);
        ret->count++;
        ret->best += to <= lamp->best;
        from = to;
    }
    ret->best_log =
        log(fmax((lamp->watts[lamp->best] - lamp->off_w) / ret->best_level, SLOPE_LEAST));
}

/* Share of a step that is taken. */
static double share(double log_worth, double log_slope, double spread)
{
    return units_clamp(0.5 + (log_worth - log_slope) / (2 * spread), 0, 1);
}

double powercurve_level(const struct powercurve *curve, double log_worth, double spread,
                        const struct powercurve_limits *limits)
{
    const double least = lampcurve_min_level(curve->lamp);
    if (!(limits->high >= least) || log_worth < -1e6) {
        return limits->high >= least && limits->low > 0 ? fmax(limits->low, least) : 0;
    }
    const bool is_forced = limits->low > 0;
    double level = least;
    if (!is_forced) {
        const double best_log = limits->high >= curve->best_level
                                    ? curve->best_log
                                    : log(lampcurve_threshold_w(curve->lamp, limits->high));
        level = fmin(curve->best_level, limits->high) * share(log_worth, best_log, spread);
    }
    int i = is_forced ? 0 : curve->best;
    for (; i < curve->count && curve->log_slope[i] <= log_worth - spread; i++) {
        level += curve->step[i];
    }
    for (; i < curve->count && curve->log_slope[i] < log_worth + spread; i++) {
        level += curve->step[i] * share(log_worth, curve->log_slope[i], spread);
    }
    return units_clamp(level, is_forced ? fmax(limits->low, least) : 0, limits->high);
}

double powercurve_watts(const struct powercurve *curve, double level,
                        const struct powercurve_limits *limits)
{
    const double from = fmin(curve->best_level, limits->high);
    if (!(level > 0)) {
        return 0;
    }
    return limits->low > 0 || level >= from ? lampcurve_watts(curve->lamp, level)
                                            : lampcurve_watts(curve->lamp, from) * level / from;
}
