/* SPDX-License-Identifier: Apache-2.0 */
#include "height.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#define CM_PER_M   100.0
#define S_PER_H    3600.0
#define LEAST_UMOL 0.01 /* stands for darkness among logarithms */

enum { INTERPOLATED_MAX = HEIGHT_OFFERS_MAX - HEIGHT_MAPS_MAX };

static double full_mean(const struct lightmap *map)
{
    struct mapstats stats;
    mapstats_of(map, &stats);
    return stats.area_mean_umol / map->level;
}

void height_fall_of(const struct lightmap *const *maps, int count, struct height_fall *ret)
{
    double x = 0;
    double y = 0;
    double xx = 0;
    double xy = 0;
    double yy = 0;
    *ret = (struct height_fall){count, UNITS_NONE, UNITS_NONE, UNITS_NONE};
    for (int i = 0; i < count; i++) {
        x += log(maps[i]->height_cm / CM_PER_M) / count;
        y += log(fmax(full_mean(maps[i]), LEAST_UMOL)) / count;
    }
    for (int i = 0; i < count; i++) {
        const double dx = log(maps[i]->height_cm / CM_PER_M) - x;
        const double dy = log(fmax(full_mean(maps[i]), LEAST_UMOL)) - y;
        xx += dx * dx;
        xy += dx * dy;
        yy += dy * dy;
    }
    if (!(xx > 0)) {
        return;
    }
    const double slope = xy / xx;
    ret->exponent = -slope;
    ret->at_one_m_umol = exp(y - slope * x);
    if (count > 2) {
        ret->exponent_se = sqrt(fmax(yy - slope * xy, 0) / (count - 2) / xx);
    }
}

/* Highest first. */
static void sort(const struct lightmap *const *maps, int count, const struct lightmap **ret)
{
    for (int i = 0; i < count; i++) {
        int place = i;
        while (place > 0 && ret[place - 1]->height_cm < maps[i]->height_cm) {
            ret[place] = ret[place - 1];
            place--;
        }
        ret[place] = maps[i];
    }
}

static bool have_same_points(const struct lightmap *a, const struct lightmap *b)
{
    if (a->count != b->count || fabs(a->width_cm - b->width_cm) > LIGHTMAP_NEAR_CM ||
        fabs(a->depth_cm - b->depth_cm) > LIGHTMAP_NEAR_CM) {
        return false;
    }
    for (size_t i = 0; i < a->count; i++) {
        if (fabs(a->points[i].x_cm - b->points[i].x_cm) > LIGHTMAP_NEAR_CM ||
            fabs(a->points[i].y_cm - b->points[i].y_cm) > LIGHTMAP_NEAR_CM) {
            return false;
        }
    }
    return true;
}

double height_lowest_level(const struct height_wish *wish)
{
    return wish->lamp ? dimcurve_min_level(&wish->lamp->curve) : 0;
}

double height_highest_level(const struct height_wish *wish)
{
    const struct height_lamp *lamp = wish->lamp;
    return lamp ? fmin(wish->highest_level, dimcurve_level(&lamp->curve, lamp->drive_ceiling))
                : wish->highest_level;
}

static double watts_at(const struct height_wish *wish, double level, double full_w)
{
    if (!wish->lamp || !wish->lamp->has_watts) {
        return full_w * level;
    }
    const struct dimcurve *curve = &wish->lamp->curve;
    return level <= 1 ? dimcurve_watts(curve, dimcurve_drive(curve, level)) : UNITS_NONE;
}

static void judge(const struct height_wish *wish, struct height_offer *offer)
{
    const double mol_of_a_umol = wish->lit_h * S_PER_H / 1e6;
    const double full_mol = offer->stats.area_mean_umol * mol_of_a_umol;
    offer->level = fmax(wish->target_mol / full_mol, height_lowest_level(wish));
    offer->mol = offer->level * full_mol;
    offer->watts = watts_at(wish, offer->level, offer->watts);
    offer->brightest_umol = offer->stats.max_umol * offer->level;
    if (!(offer->level <= height_highest_level(wish))) {
        offer->verdict = HEIGHT_TOO_WEAK;
    } else if (offer->brightest_umol > wish->ceiling_umol) {
        offer->verdict = HEIGHT_TOO_BRIGHT;
    } else if (!(offer->stats.min_over_mean >= wish->min_over_mean)) {
        offer->verdict = HEIGHT_TOO_UNEVEN;
    } else {
        offer->verdict = HEIGHT_FITS;
    }
}

/* A map's figures at full light. */
static void offer_map(const struct lightmap *map, struct height_offer *ret)
{
    struct mapstats *stats = &ret->stats;
    mapstats_of(map, stats);
    stats->mean_umol /= map->level;
    stats->mean_se_umol /= map->level;
    stats->area_mean_umol /= map->level;
    stats->min_umol /= map->level;
    stats->max_umol /= map->level;
    stats->photons_umol_s /= map->level;
    ret->height_cm = map->height_cm;
    ret->watts = map->fixture_w / map->level;
}

static double between(double low, double high, double share)
{
    return low + (high - low) * share;
}

/* Overwrites the points of `scratch`, which has those of both, with what a height between them
 * would show. */
static void interpolate(const struct lightmap *high, const struct lightmap *low, double height_cm,
                        struct lightmap *scratch)
{
    const double share = log(height_cm / low->height_cm) / log(high->height_cm / low->height_cm);
    struct lightmap_point *points = scratch->points;
    *scratch = *low;
    scratch->points = points;
    for (size_t i = 0; i < low->count; i++) {
        const double at_low = log(fmax(low->points[i].umol / low->level, LEAST_UMOL));
        const double at_high = log(fmax(high->points[i].umol / high->level, LEAST_UMOL));
        points[i] = low->points[i];
        points[i].umol = exp(between(at_low, at_high, share));
    }
    scratch->level = 1;
    scratch->height_cm = height_cm;
    scratch->fixture_w = between(low->fixture_w / low->level, high->fixture_w / high->level, share);
    scratch->ppf_umol_s =
        between(low->ppf_umol_s / low->level, high->ppf_umol_s / high->level, share);
}

static int offer_between(const struct lightmap *high, const struct lightmap *low, double step_cm,
                         struct height_choice *ret, struct err *err)
{
    if (!(step_cm > 0) || !have_same_points(high, low)) {
        return 0;
    }
    struct lightmap scratch = {.points = malloc(low->count * sizeof *scratch.points)};
    if (!scratch.points) {
        return err_fail(err, ENOMEM, "no memory for %zu points", low->count);
    }
    int step = (int)ceil(high->height_cm / step_cm - 1 - 1e-9);
    while (step * step_cm > low->height_cm + 1e-9 && ret->count < INTERPOLATED_MAX) {
        struct height_offer *offer = &ret->offers[ret->count++];
        *offer = (struct height_offer){.is_interpolated = true};
        interpolate(high, low, step * step_cm, &scratch);
        offer_map(&scratch, offer);
        step--;
    }
    free(scratch.points);
    return 0;
}

/* Less power wins; of the same power (or where nobody knows it: of the same level) the more even.
 */
static bool is_better(const struct height_offer *a, const struct height_offer *b)
{
    const double a_cost = units_known(a->watts) && units_known(b->watts) ? a->watts : a->level;
    const double b_cost = units_known(a->watts) && units_known(b->watts) ? b->watts : b->level;
    if (fabs(a_cost - b_cost) > 1e-9 * b_cost) {
        return a_cost < b_cost;
    }
    return a->stats.min_over_mean > b->stats.min_over_mean;
}

int height_choose(const struct lightmap *const *maps, int count, const struct height_wish *wish,
                  double step_cm, struct height_choice *ret, struct err *err)
{
    const struct lightmap *sorted[HEIGHT_MAPS_MAX];
    if (count < 1 || count > HEIGHT_MAPS_MAX) {
        return err_fail(err, EINVAL, "%d maps are out of range (1 … %d)", count, HEIGHT_MAPS_MAX);
    }
    sort(maps, count, sorted);
    ret->count = 0;
    ret->chosen = -1;
    for (int i = 0; i < count; i++) {
        if (i > 0 && sorted[i - 1]->height_cm - sorted[i]->height_cm < LIGHTMAP_NEAR_CM) {
            return err_fail(err, EINVAL, "%s and %s were taken at one height, %g cm",
                            sorted[i - 1]->name, sorted[i]->name, sorted[i]->height_cm);
        }
        if (i > 0 && offer_between(sorted[i - 1], sorted[i], step_cm, ret, err) < 0) {
            return -ENOMEM;
        }
        struct height_offer *offer = &ret->offers[ret->count++];
        *offer = (struct height_offer){0};
        offer_map(sorted[i], offer);
    }
    for (int i = 0; i < ret->count; i++) {
        judge(wish, &ret->offers[i]);
        if (ret->offers[i].verdict == HEIGHT_FITS &&
            (ret->chosen < 0 || is_better(&ret->offers[i], &ret->offers[ret->chosen]))) {
            ret->chosen = i;
        }
    }
    return 0;
}
