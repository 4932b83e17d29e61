/* SPDX-License-Identifier: Apache-2.0 */
#include "spot.h"

#include "mapstats.h"
#include "units.h"

#include <math.h>

#define AROUND 1.6 /* of the distance to the nearest point: its neighbours */
#define LOOKS  2e7 /* at points around a spot, over all */

enum { CLOSE_LEAST = 16, CLOSE_MAX = 512 };

/* The index in a map of the point at a place, −1: none. Points are sorted by y, then x. */
static int point_at(const struct lightmap *map, double x_cm, double y_cm)
{
    size_t low = 0;
    size_t high = map->count;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if (map->points[middle].y_cm < y_cm - LIGHTMAP_NEAR_CM) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    for (size_t i = low; i < map->count && map->points[i].y_cm <= y_cm + LIGHTMAP_NEAR_CM; i++) {
        if (fabs(map->points[i].x_cm - x_cm) <= LIGHTMAP_NEAR_CM) {
            return (int)i;
        }
    }
    return -1;
}

static double square(const struct lightmap_point *a, const struct lightmap_point *b)
{
    const double dx = a->x_cm - b->x_cm;
    const double dy = a->y_cm - b->y_cm;
    return dx * dx + dy * dy;
}

/* How steeply the light changes around a point: worst share per SPOT_SLIP_CM among neighbours. */
static double slip_at(const struct lightmap *map, int index)
{
    const struct lightmap_point *here = &map->points[index];
    double nearest = (double)INFINITY;
    for (size_t i = 0; i < map->count; i++) {
        if ((int)i != index) {
            nearest = fmin(nearest, square(here, &map->points[i]));
        }
    }
    double worst = 0;
    for (size_t i = 0; i < map->count; i++) {
        const double away = square(here, &map->points[i]);
        if ((int)i != index && away <= AROUND * AROUND * nearest) {
            const double change = fabs(map->points[i].umol - here->umol) / fmax(here->umol, 1e-9);
            worst = fmax(worst, change * SPOT_SLIP_CM / sqrt(away));
        }
    }
    return worst;
}

static double score(const struct spot *spot)
{
    const double off = log(spot->factor);
    const double spread = spot->factor_spread / spot->factor;
    return sqrt(off * off + spread * spread + spot->slip * spot->slip);
}

/* The point `first` of maps[0] over all maps. False: some map has no light there, or no such point.
 */
static bool judge(const struct lightmap *const *maps, const double *means, int count, int first,
                  struct spot *spot)
{
    double sum = 0;
    double squares = 0;
    for (int i = 0; i < count; i++) {
        const int at = i == 0 ? first : point_at(maps[i], spot->x_cm, spot->y_cm);
        if (at < 0 || !(maps[i]->points[at].umol > 0)) {
            return false;
        }
        const double factor = means[i] / maps[i]->points[at].umol;
        const double before = i > 0 ? sum / i : 0;
        sum += factor;
        squares += (factor - before) * (factor - sum / (i + 1));
    }
    spot->factor = sum / count;
    spot->factor_spread = count > 1 ? sqrt(fmax(squares, 0) / (count - 1)) : 0;
    return true;
}

static void insert(const struct spot *spot, struct spot *best, int *count, int most)
{
    int place = *count;
    while (place > 0 && score(spot) < score(&best[place - 1])) {
        place--;
    }
    if (place >= most) {
        return;
    }
    *count += *count < most;
    for (int i = *count - 1; i > place; i--) {
        best[i] = best[i - 1];
    }
    best[place] = *spot;
}

int spot_best(const struct lightmap *const *maps, int count, struct spot *ret, int most)
{
    double means[64];
    int near = 0;
    int found = 0;
    if (count < 1 || count > (int)(sizeof means / sizeof means[0])) {
        return 0;
    }
    for (int i = 0; i < count; i++) {
        struct mapstats stats;
        mapstats_of(maps[i], &stats);
        means[i] = stats.area_mean_umol;
    }
    /* The slip is dear to find and only makes a spot worse: those with the best factors first. */
    struct spot close[CLOSE_MAX];
    const int looks = (int)units_clamp(LOOKS / (double)maps[0]->count, CLOSE_LEAST, CLOSE_MAX);
    for (size_t i = 0; i < maps[0]->count; i++) {
        struct spot spot = {.x_cm = maps[0]->points[i].x_cm, .y_cm = maps[0]->points[i].y_cm};
        if (judge(maps, means, count, (int)i, &spot)) {
            insert(&spot, close, &near, looks);
        }
    }
    for (int i = 0; i < near; i++) {
        close[i].slip = slip_at(maps[0], point_at(maps[0], close[i].x_cm, close[i].y_cm));
        insert(&close[i], ret, &found, most);
    }
    return found;
}
