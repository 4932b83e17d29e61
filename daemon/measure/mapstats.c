/* SPDX-License-Identifier: Apache-2.0 */
#include "mapstats.h"

#include "units.h"

#include <math.h>

#define RING       0.1  /* of width or depth: points that lie so near to the outermost are edge */
#define INNER      0.25 /* … and so far from the walls are centre */
#define CM2_PER_M2 1e4

/* As fmin, but the compiler knows them and a million points are looked at; there is no NaN. */
static double lesser(double a, double b)
{
    return a < b ? a : b;
}

static double greater(double a, double b)
{
    return a > b ? a : b;
}

static double ratio(double a, double b)
{
    return b > 0 ? a / b : UNITS_NONE;
}

/* Two passes: a large mean does not hide a small spread. */
static void spread(const struct lightmap *map, struct mapstats *ret)
{
    double sum = 0;
    ret->min_umol = (double)INFINITY;
    for (size_t i = 0; i < map->count; i++) {
        const double umol = map->points[i].umol;
        sum += umol;
        ret->min_umol = lesser(ret->min_umol, umol);
        ret->max_umol = greater(ret->max_umol, umol);
    }
    const double count = (double)map->count;
    ret->count = map->count;
    ret->mean_umol = sum / count;
    double squares = 0;
    double rest = 0;
    for (size_t i = 0; i < map->count; i++) {
        const double away = map->points[i].umol - ret->mean_umol;
        squares += away * away;
        rest += away;
    }
    squares = fmax(squares - rest * rest / count, 0);
    const double deviation = sqrt(squares / (count - 1));
    ret->mean_se_umol = deviation / sqrt(count);
    ret->cv_sample = ratio(deviation, ret->mean_umol);
    ret->cv_population = ratio(sqrt(squares / count), ret->mean_umol);
    ret->min_over_max = ratio(ret->min_umol, ret->max_umol);
    ret->min_over_mean = ratio(ret->min_umol, ret->mean_umol);
}

static void over_the_canopy(const struct lightmap *map, struct mapstats *ret)
{
    double area = 0;
    double light = 0;
    double near_10 = 0;
    double near_20 = 0;
    for (size_t i = 0; i < map->count; i++) {
        const struct lightmap_point *point = &map->points[i];
        const double away = fabs(point->umol / ret->mean_umol - 1);
        area += point->area_cm2;
        light += point->area_cm2 * point->umol;
        near_10 += away <= 0.1 ? point->area_cm2 : 0;
        near_20 += away <= 0.2 ? point->area_cm2 : 0;
    }
    ret->area_mean_umol = light / area;
    ret->within_10 = near_10 / area;
    ret->within_20 = near_20 / area;
    ret->photons_umol_s = ret->area_mean_umol * map->width_cm * map->depth_cm / CM2_PER_M2;
    ret->utilisation = ret->photons_umol_s / map->ppf_umol_s;
    ret->photons_per_j = ret->photons_umol_s / map->fixture_w;
}

/* Distance from the nearest wall, as a share of width or depth: 0 … 0.5. */
static double from_wall(const struct lightmap *map, const struct lightmap_point *point)
{
    const double x = (point->x_cm - map->left_cm) / map->width_cm;
    const double y = (point->y_cm - map->front_cm) / map->depth_cm;
    return lesser(lesser(x, 1 - x), lesser(y, 1 - y));
}

static double edge_over_centre(const struct lightmap *map)
{
    double least = (double)INFINITY;
    double most = -(double)INFINITY;
    for (size_t i = 0; i < map->count; i++) {
        const double away = from_wall(map, &map->points[i]);
        least = lesser(least, away);
        most = greater(most, away);
    }
    double edge = 0;
    double edge_area = 0;
    double centre = 0;
    double centre_area = 0;
    for (size_t i = 0; i < map->count; i++) {
        const struct lightmap_point *point = &map->points[i];
        const double away = from_wall(map, point);
        if (away <= least + RING) {
            edge += point->umol * point->area_cm2;
            edge_area += point->area_cm2;
        }
        if (away >= fmin(INNER, most)) {
            centre += point->umol * point->area_cm2;
            centre_area += point->area_cm2;
        }
    }
    return ratio(edge / edge_area, centre / centre_area);
}

/* Weighted least squares of light = a + b x + c y, x and y from the middle as shares of the sides.
 */
static void fit_plane(const struct lightmap *map, struct mapstats *ret)
{
    double w = 0, x = 0, y = 0, e = 0;
    for (size_t i = 0; i < map->count; i++) {
        const struct lightmap_point *point = &map->points[i];
        w += point->area_cm2;
        x += point->area_cm2 * point->x_cm;
        y += point->area_cm2 * point->y_cm;
        e += point->area_cm2 * point->umol;
    }
    x /= w;
    y /= w;
    e /= w;
    double xx = 0, xy = 0, yy = 0, xe = 0, ye = 0;
    for (size_t i = 0; i < map->count; i++) {
        const struct lightmap_point *point = &map->points[i];
        const double dx = (point->x_cm - x) / map->width_cm;
        const double dy = (point->y_cm - y) / map->depth_cm;
        const double de = point->umol - e;
        xx += point->area_cm2 * dx * dx;
        xy += point->area_cm2 * dx * dy;
        yy += point->area_cm2 * dy * dy;
        xe += point->area_cm2 * dx * de;
        ye += point->area_cm2 * dy * de;
    }
    const double det = xx * yy - xy * xy;
    const bool is_plane = det > 1e-9 * xx * yy;
    ret->across = ratio(is_plane ? (xe * yy - ye * xy) / det : xx > 0 ? xe / xx : 0, e);
    ret->along = ratio(is_plane ? (ye * xx - xe * xy) / det : yy > 0 ? ye / yy : 0, e);
}

void mapstats_of(const struct lightmap *map, struct mapstats *ret)
{
    *ret = (struct mapstats){0};
    spread(map, ret);
    over_the_canopy(map, ret);
    ret->edge_over_centre = edge_over_centre(map);
    fit_plane(map, ret);
}
