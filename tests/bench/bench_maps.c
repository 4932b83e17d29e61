/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A light map of a million points, on a grid and anywhere, with noise: CPU time to read the text
 * into a table, and to make of the table all that `lampwarden survey` says of it.
 */
#include "cpu.h"
#include "err.h"
#include "height.h"
#include "spot.h"
#include "table.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

enum { SIDE = 1000 };

static double unit(uint64_t *seed)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (double)(*seed >> 11) * 0x1p-53;
}

/* The caller's; NULL: no memory. */
static char *write_map(bool is_grid)
{
    char *text = malloc((size_t)SIDE * SIDE * 40 + 200);
    char *p = text;
    uint64_t seed = 7;
    if (!text) {
        return NULL;
    }
    p +=
        sprintf(p, "# height_cm: 60\n# fixture_w: 300\n# canopy_cm: %d x %d\nx_cm,y_cm,ppfd_umol\n",
                SIDE, SIDE);
    for (int i = 0; i < SIDE * SIDE; i++) {
        const double x = is_grid ? i % SIDE : SIDE * unit(&seed);
        const double y = is_grid ? (int)(i / SIDE) : SIDE * unit(&seed);
        const double square = 1 + pow((x - 500) / 500, 2) + pow((y - 500) / 500, 2);
        const double umol = 600 / (square * square) * (0.98 + 0.04 * unit(&seed));
        p += is_grid ? sprintf(p, "%.0f,%.0f,%.2f\n", x, y, umol)
                     : sprintf(p, "%.3f,%.3f,%.2f\n", x, y, umol);
    }
    return text;
}

/* 0, or 1 after a word on stderr. */
static int measure(const char *name, bool is_grid)
{
    static struct height_choice choice;
    const struct height_wish wish = {14, 16, (double)INFINITY, 0, 1, NULL};
    struct err err = {0};
    struct table table;
    struct lightmap map = {0};
    const struct lightmap *list[] = {&map};
    struct height_fall fall;
    struct mapstats stats;
    struct spot spots[3];
    char *text = write_map(is_grid);
    const double begin = cpu_s();
    if (!text || table_parse("map.csv", text, &table, &err) < 0) {
        (void)fprintf(stderr, "%s: %s\n", name, err.text);
        free(text);
        return 1;
    }
    const double read = cpu_s();
    const int rc = lightmap_of(&table, &map, &err);
    if (rc == 0) {
        mapstats_of(&map, &stats);
        height_fall_of(list, 1, &fall);
    }
    const bool is_done = rc == 0 && height_choose(list, 1, &wish, 5, &choice, &err) == 0 &&
                         spot_best(list, 1, spots, 3) == 3;
    const double end = cpu_s();
    if (is_done) {
        (void)printf("map.read_s.%s %.3f s\nmap.analysis_s.%s %.3f s\nmap.ratio.%s %.2f -\n", name,
                     read - begin, name, end - read, name, (end - read) / (read - begin));
    } else {
        (void)fprintf(stderr, "%s: %s\n", name, err.text);
    }
    lightmap_free(&map);
    table_free(&table);
    free(text);
    return !is_done;
}

int main(void)
{
    const int grid = measure("grid", true);
    return measure("anywhere", false) + grid;
}
