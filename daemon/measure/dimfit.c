/* SPDX-License-Identifier: Apache-2.0 */
#include "dimfit.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define KNEE_REACH 0.1   /* of the drive below the flat part that tells its slope */
#define FLAT_LEAST 0.015 /* of the drive: less is no saturation */

/* Readings of one drive in one. */
struct knot {
    double drive, umol, watts, weight;
    double watts_weight; /* 0: none of them had watts */
};

struct knots {
    int count;
    struct knot at[DIMFIT_READINGS_MAX];
};

static int check(const struct dimfit_reading *readings, int count, struct err *err)
{
    if (count > DIMFIT_READINGS_MAX) {
        return err_fail(err, EINVAL, "%d readings (at most %d)", count, DIMFIT_READINGS_MAX);
    }
    for (int i = 0; i < count; i++) {
        const struct dimfit_reading *r = &readings[i];
        if (!(r->drive >= 0 && r->drive <= 1)) {
            return err_fail(err, EINVAL, "drive %g is out of range (0 … 1)", r->drive);
        }
        if (!isfinite(r->umol) || !(r->weight > 0)) {
            return err_fail(err, EINVAL, "no light reading at drive %g", r->drive);
        }
        if (units_known(r->watts) && !(r->watts >= 0 && r->watts <= DIMCURVE_WATTS_MAX)) {
            return err_fail(err, EINVAL, "%g W at drive %g is out of range (0 … %g)", r->watts,
                            r->drive, DIMCURVE_WATTS_MAX);
        }
    }
    return 0;
}

static int by_drive(const void *a, const void *b)
{
    const struct dimfit_reading *x = a;
    const struct dimfit_reading *y = b;
    return (x->drive > y->drive) - (x->drive < y->drive);
}

static void add(struct knots *knots, const struct dimfit_reading *r)
{
    struct knot *knot = knots->count > 0 ? &knots->at[knots->count - 1] : NULL;
    if (!knot || r->drive - knot->drive > DIMFIT_SAME_DRIVE) {
        knot = &knots->at[knots->count++];
        *knot = (struct knot){.drive = r->drive};
    }
    knot->umol += (r->umol - knot->umol) * r->weight / (knot->weight + r->weight);
    knot->weight += r->weight;
    if (units_known(r->watts)) {
        knot->watts += (r->watts - knot->watts) * r->weight / (knot->watts_weight + r->weight);
        knot->watts_weight += r->weight;
    }
}

static double most_light(const struct dimfit_reading *readings, int count)
{
    double most = 0;
    for (int i = 0; i < count; i++) {
        most = fmax(most, readings[i].umol);
    }
    return most;
}

/* Pool adjacent violators over one value of the knots. */
static void pool(double *values, const double *weights, int count)
{
    double mean[DIMFIT_READINGS_MAX];
    double weight[DIMFIT_READINGS_MAX];
    int length[DIMFIT_READINGS_MAX];
    int blocks = 0;
    for (int i = 0; i < count; i++) {
        mean[blocks] = values[i];
        weight[blocks] = weights[i];
        length[blocks++] = 1;
        for (; blocks > 1 && mean[blocks - 2] > mean[blocks - 1]; blocks--) {
            const int a = blocks - 2;
            const double sum = weight[a] + weight[a + 1];
            mean[a] = (mean[a] * weight[a] + mean[a + 1] * weight[a + 1]) / sum;
            weight[a] = sum;
            length[a] += length[a + 1];
        }
    }
    for (int block = 0, i = 0; block < blocks; block++) {
        for (int end = i + length[block]; i < end; i++) {
            values[i] = mean[block];
        }
    }
}

static void pool_knots(struct knots *lit, bool has_watts)
{
    double value[DIMFIT_READINGS_MAX];
    double weight[DIMFIT_READINGS_MAX] = {0};
    for (int i = 0; i < lit->count; i++) {
        value[i] = lit->at[i].umol;
        weight[i] = lit->at[i].weight;
    }
    pool(value, weight, lit->count);
    for (int i = 0; i < lit->count; i++) {
        lit->at[i].umol = value[i];
        value[i] = lit->at[i].watts;
    }
    pool(value, weight, lit->count);
    for (int i = 0; i < lit->count; i++) {
        lit->at[i].watts = has_watts ? value[i] : 0;
    }
}

/* Where a line through what lies below the flat part meets full light. */
static double find_knee(const struct knots *lit, double full)
{
    int last = lit->count - 1;
    while (last >= 0 && lit->at[last].umol > (1 - DIMFIT_FLAT_SHARE) * full) {
        last--;
    }
    if (lit->count - 1 - last < 2) {
        return UNITS_NONE; /* one drive alone is no flat part */
    }
    int first = last;
    while (first > 0 && lit->at[last].drive - lit->at[first - 1].drive <= KNEE_REACH) {
        first--;
    }
    if (first > 0 && last - first < 1) {
        first--; /* readings far apart: the last two */
    }
    if (last - first < 1) {
        return UNITS_NONE;
    }
    const double n = last - first + 1;
    double x = 0, y = 0, xx = 0, xy = 0;
    for (int i = first; i <= last; i++) {
        const double dx = lit->at[i].drive - lit->at[last].drive;
        x += dx;
        y += lit->at[i].umol;
        xx += dx * dx;
        xy += dx * lit->at[i].umol;
    }
    const double slope = (n * xy - x * y) / (n * xx - x * x);
    const double knee = lit->at[last].drive + (full - (y - slope * x) / n) / slope;
    const double top = lit->at[lit->count - 1].drive;
    return slope > 0 && knee <= top - FLAT_LEAST ? fmax(knee, lit->at[last].drive) : UNITS_NONE;
}

/* The curve of the chosen knots, a dark one before them when there is one. */
static bool make_curve(const struct knots *lit, const bool *is_chosen, const struct knot *dark,
                       struct dimcurve *ret)
{
    struct dimcurve_point points[DIMCURVE_POINTS_MAX];
    const double full = lit->at[lit->count - 1].umol;
    int count = 0;
    if (dark) {
        points[count++] = (struct dimcurve_point){dark->drive, 0, dark->watts};
    }
    for (int i = 0; i < lit->count && count < DIMCURVE_POINTS_MAX; i++) {
        if (is_chosen[i]) {
            points[count++] =
                (struct dimcurve_point){lit->at[i].drive, lit->at[i].umol / full, lit->at[i].watts};
        }
    }
    return dimcurve_init(ret, points, count, NULL) == DIMCURVE_OK;
}

/* The knot that the curve misses most, −1 when all are close enough. */
static int worst_knot(const struct knots *lit, const struct dimcurve *curve)
{
    const struct knot *top = &lit->at[lit->count - 1];
    double worst = DIMFIT_CLOSE;
    int index = -1;
    for (int i = 0; i < lit->count; i++) {
        const struct knot *knot = &lit->at[i];
        double off = fabs(dimcurve_level(curve, knot->drive) - knot->umol / top->umol);
        if (top->watts > 0) {
            off = fmax(off, fabs(dimcurve_watts(curve, knot->drive) - knot->watts) / top->watts);
        }
        if (off > worst) {
            worst = off;
            index = i;
        }
    }
    return index;
}

static int choose(const struct knots *lit, const struct knot *dark, struct dimcurve *ret,
                  struct err *err)
{
    bool is_chosen[DIMFIT_READINGS_MAX] = {false};
    int count = dark ? 3 : 2;
    is_chosen[0] = is_chosen[lit->count - 1] = true;
    for (;; count++) {
        if (!make_curve(lit, is_chosen, dark, ret)) {
            return err_fail(err, EDOM, "these readings give no dimming curve");
        }
        const int worst = worst_knot(lit, ret);
        if (worst < 0 || is_chosen[worst] || count == DIMCURVE_POINTS_MAX) {
            return 0;
        }
        is_chosen[worst] = true;
    }
}

double dimfit_residual(const struct dimfit *fit, const struct dimfit_reading *reading)
{
    return reading->umol / fit->full_umol - dimcurve_level(&fit->curve, reading->drive);
}

static void measure_residuals(const struct dimfit_reading *readings, int count, double dark_umol,
                              struct dimfit *fit)
{
    double squares = 0, watt_squares = 0;
    int n = 0, watts_n = 0;
    fit->worst_level = fit->worst_w = 0;
    for (int i = 0; i < count; i++) {
        const struct dimfit_reading *r = &readings[i];
        if (r->drive < fit->lights_drive - DIMFIT_SAME_DRIVE || r->umol <= dark_umol) {
            continue;
        }
        const double off = fabs(dimfit_residual(fit, r));
        fit->worst_level = fmax(fit->worst_level, off);
        squares += off * off;
        n++;
        if (fit->has_watts && units_known(r->watts)) {
            const double off_w = fabs(r->watts - dimcurve_watts(&fit->curve, r->drive));
            fit->worst_w = fmax(fit->worst_w, off_w);
            watt_squares += off_w * off_w;
            watts_n++;
        }
    }
    fit->rms_level = sqrt(squares / fmax(n, 1));
    fit->rms_w = watts_n > 0 ? sqrt(watt_squares / watts_n) : UNITS_NONE;
    fit->worst_w = watts_n > 0 ? fit->worst_w : UNITS_NONE;
}

/* Sorted readings into lit knots and one dark knot, the lowest. Tells where which begins. */
static void part(const struct dimfit_reading *sorted, int count, double dark_umol,
                 struct knots *lit, struct knots *dark)
{
    lit->count = dark->count = 0;
    for (int i = 0; i < count; i++) {
        add(sorted[i].umol > dark_umol ? lit : dark, &sorted[i]);
    }
}

static void find_ends(const struct knots *lit, const struct knots *dark, struct dimfit *fit)
{
    fit->holds_drive = lit->at[0].drive;
    fit->dead_below = UNITS_NONE;
    fit->lights_drive = lit->at[0].drive;
    for (int i = 0; i < dark->count; i++) {
        if (dark->at[i].drive < fit->holds_drive) {
            fit->dead_below = dark->at[i].drive;
        }
    }
    const double highest_dark = dark->count > 0 ? dark->at[dark->count - 1].drive : -1;
    for (int i = 0; i < lit->count && fit->lights_drive <= highest_dark; i++) {
        fit->lights_drive = lit->at[i].drive;
    }
}

/* What is below lights_drive does not belong to the curve. */
static void cut(struct knots *lit, double lights_drive)
{
    int below = 0;
    while (below < lit->count && lit->at[below].drive < lights_drive) {
        below++;
    }
    lit->count -= below;
    memmove(lit->at, lit->at + below, (size_t)lit->count * sizeof lit->at[0]);
}

/* Straight on through two knots that have watts. */
static double watts_at(const struct knot *a, const struct knot *b, double drive)
{
    return a->watts + (b->watts - a->watts) * (drive - a->drive) / (b->drive - a->drive);
}

/* Watts that are missing here and there, as when a person reads the meter: straight between the
 * known, straight on below them, level above. False: fewer than two are known. */
static bool fill_watts(struct knots *lit)
{
    const struct knot *known[DIMFIT_READINGS_MAX];
    int count = 0;
    for (int i = 0; i < lit->count; i++) {
        if (lit->at[i].watts_weight > 0) {
            known[count++] = &lit->at[i];
        }
    }
    for (int i = 0, next = 0; count >= 2 && i < lit->count; i++) {
        struct knot *knot = &lit->at[i];
        while (next < count && known[next]->drive < knot->drive) {
            next++;
        }
        if (knot->watts_weight > 0) {
            continue;
        }
        const int right = next < 1 ? 1 : next;
        knot->watts = right < count ? fmax(0, watts_at(known[right - 1], known[right], knot->drive))
                                    : known[count - 1]->watts;
    }
    return count >= 2;
}

static int fit_sorted(const struct dimfit_reading *sorted, int count, struct knots parts[2],
                      struct dimfit *fit, struct err *err)
{
    struct knots *lit = &parts[0];
    const struct knots *dark = &parts[1];
    const double dark_umol = DIMFIT_DARK_SHARE * most_light(sorted, count);
    part(sorted, count, dark_umol, lit, &parts[1]);
    if (lit->count < 2) {
        return err_fail(err, ENODATA, "light at %d of %d drives: no curve", lit->count,
                        lit->count + dark->count);
    }
    find_ends(lit, dark, fit);
    if (dark->count > 0 && dark->at[dark->count - 1].drive >= lit->at[lit->count - 1].drive) {
        return err_fail(err, EDOM, "dark at drive %.3f, lit at %.3f: not a curve of one lamp",
                        dark->at[dark->count - 1].drive, fit->holds_drive);
    }
    fit->has_watts = fill_watts(lit);
    pool_knots(lit, fit->has_watts);
    const double holds_umol = lit->at[0].umol;
    cut(lit, fit->lights_drive);
    if (lit->count < 2) {
        return err_fail(err, ENODATA, "only one drive above the highest dark one: no curve");
    }
    fit->full_umol = lit->at[lit->count - 1].umol;
    fit->holds_level = holds_umol / fit->full_umol;
    fit->saturated_above = find_knee(lit, fit->full_umol);
    struct knot below;
    const bool has_dark =
        dark->count > 0 && dark->at[0].drive < fit->lights_drive - DIMFIT_SAME_DRIVE;
    if (has_dark) {
        below = dark->at[0];
        below.watts = fit->has_watts ? fmin(below.watts, lit->at[0].watts) : 0;
    }
    const int rc = choose(lit, has_dark ? &below : NULL, &fit->curve, err);
    if (rc == 0) {
        measure_residuals(sorted, count, dark_umol, fit);
    }
    return rc;
}

int dimfit_of(const struct dimfit_reading *readings, int count, double worst, struct dimfit *ret,
              struct err *err)
{
    int rc = check(readings, count, err);
    if (rc < 0) {
        return rc;
    }
    struct dimfit_reading *sorted = calloc((size_t)count + 1, sizeof *sorted);
    struct knots *parts = calloc(2, sizeof *parts);
    struct dimfit fit = {0};
    if (sorted && parts) {
        memcpy(sorted, readings, (size_t)count * sizeof *sorted);
        qsort(sorted, (size_t)count, sizeof *sorted, by_drive);
        rc = fit_sorted(sorted, count, parts, &fit, err);
    } else {
        rc = err_fail(err, ENOMEM, "no memory for %d readings", count);
    }
    free(sorted);
    free(parts);
    if (rc == 0 && !(fit.worst_level <= worst)) {
        rc = err_fail(err, EDOM,
                      "the readings contradict each other by %.1f %% of full light (at most %.0f)",
                      fit.worst_level * 100, worst * 100);
    }
    if (rc == 0) {
        *ret = fit;
    }
    return rc;
}
