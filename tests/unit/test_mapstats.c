/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Figures of maps whose truth is known: nine points by hand, a point source (inverse square and
 * cosine, Lambert 1760) and a plane, a panel that radiates evenly.
 */
#include "mapstats.h"

#include "err.h"
#include "near.h"
#include "table.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void make_map(const char *notes, int columns, int rows, double step_cm,
                     double (*light)(double x_cm, double y_cm), struct lightmap *ret)
{
    const size_t size = 200 + (size_t)columns * (size_t)rows * 48;
    char *text = malloc(size);
    assert_non_null(text);
    char *p = text + sprintf(text, "%s\nx_cm,y_cm,ppfd_umol\n", notes);
    for (int row = 0; row < rows; row++) {
        for (int column = 0; column < columns; column++) {
            const double x = column * step_cm;
            const double y = row * step_cm;
            p += sprintf(p, "%.3f,%.3f,%.9f\n", x, y, light(x, y));
        }
    }
    struct table table;
    struct err err;
    if (table_parse("map.csv", text, &table, &err) < 0 || lightmap_of(&table, ret, &err) < 0) {
        fail_msg("%s", err.text);
    }
    table_free(&table);
    free(text);
}

static const double nine[] = {180, 210, 190, 220, 250, 230, 170, 205, 185};

static double nine_points(double x_cm, double y_cm)
{
    return nine[lround(y_cm / 40) * 3 + lround(x_cm / 40)];
}

/* By hand: mean 1840/9; deviations' squares sum to 5372.22. */
static void nine_points_by_hand(void **state)
{
    (void)state;
    struct lightmap map;
    struct mapstats stats;
    make_map("# height_cm: 45\n# ppf_umol_s: 700\n# fixture_w: 280", 3, 3, 40, nine_points, &map);
    map.left_cm = map.front_cm = -20; /* the middles of nine cells of 40 cm */
    map.width_cm = map.depth_cm = 120;
    for (size_t i = 0; i < map.count; i++) {
        map.points[i].area_cm2 = 1600;
    }
    mapstats_of(&map, &stats);
    assert_int_equal(stats.count, 9);
    assert_near(stats.mean_umol, 204.4444, 1e-4);
    assert_near(stats.area_mean_umol, 204.4444, 1e-4);
    assert_near(stats.min_over_mean, 0.83152, 1e-5);
    assert_near(stats.min_over_max, 0.68, 1e-12);
    assert_near(stats.cv_population, 0.11950, 1e-5);
    assert_near(stats.cv_sample, 0.12675, 1e-5);
    assert_near(stats.mean_se_umol, 25.9139 / 3, 1e-4);
    assert_near(stats.utilisation, 0.42057, 1e-5);
    assert_near(stats.photons_umol_s, 294.4, 1e-9);
    assert_near(stats.photons_per_j, 294.4 / 280, 1e-9);
    assert_near(stats.within_10, 5.0 / 9, 1e-12); /* 210, 190, 220, 205, 185: 184 to 224.9 */
    assert_near(stats.within_20, 8.0 / 9, 1e-12); /* all but 250: 163.6 to 245.3 */
    lightmap_free(&map);
}

/* 1000 µmol s⁻¹ sr⁻¹ straight down, falling with the cosine, 50 cm above the middle of 2 x 2 m. */
static double point_source(double x_cm, double y_cm)
{
    const double x = (x_cm - 100) / 100;
    const double y = (y_cm - 100) / 100;
    const double square = x * x + y * y + 0.25;
    return 1000 * 0.25 / (square * square); /* I cos θ · cos θ / r², cos θ = h / r */
}

/* How much of a Lambertian point's light falls on a square of half side a, h below it: four times
 * the configuration factor of a small plate to a rectangle over its corner,
 *     F = (A atan(B) + B atan(A)) / 2π  with  A = B = a / √(a² + h²) when the sides are equal
 * (Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-4, from memory). */
static void a_point_source(void **state)
{
    (void)state;
    struct lightmap map;
    struct mapstats stats;
    const double pi = acos(-1);
    char notes[80];
    (void)snprintf(notes, sizeof notes, "# height_cm: 50\n# ppf_umol_s: %.9f", 1000 * pi);
    make_map(notes, 81, 81, 2.5, point_source, &map);
    mapstats_of(&map, &stats);
    const double side = 1 / sqrt(1 + 0.25); /* a 1 m, h 0.5 m */
    const double view = 4 * 2 * side * atan(side) / (2 * pi);
    assert_near(stats.utilisation / view, 1, 0.005);
    assert_near(stats.max_umol, 4000, 1e-6);
    assert_near(stats.across, 0, 1e-9);
    assert_near(stats.along, 0, 1e-9);
    assert_true(stats.edge_over_centre < 0.25);
    lightmap_free(&map);
}

/* A plane: 10 % more at the right wall than at the left, 4 % less at the back. */
static double plane(double x_cm, double y_cm)
{
    return 300 * (1 + 0.10 * (x_cm / 120 - 0.5) - 0.04 * (y_cm / 60 - 0.5));
}

static void a_fixture_hung_askew(void **state)
{
    (void)state;
    struct lightmap map;
    struct mapstats stats;
    make_map("# height_cm: 50", 13, 7, 10, plane, &map);
    mapstats_of(&map, &stats);
    assert_near(stats.across, 0.10, 1e-9);
    assert_near(stats.along, -0.04, 1e-9);
    assert_near(stats.area_mean_umol, 300, 1e-9);
    assert_near(stats.within_10, 1, 1e-12);
    assert_true(isnan(stats.utilisation));
    assert_true(isnan(stats.photons_per_j));
    lightmap_free(&map);
}

/* The same plane through points along a diagonal, where neither direction is seen alone. */
static void askew_by_points_anywhere(void **state)
{
    (void)state;
    static const double places[][2] = {{0, 0},    {60, 30}, {120, 60}, {0, 20},
                                       {100, 60}, {20, 10}, {90, 40}};
    char text[1024] = "# height_cm: 50\nx_cm,y_cm,ppfd_umol\n";
    struct table table;
    struct err err;
    struct lightmap map;
    struct mapstats stats;
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        const size_t used = strlen(text);
        (void)snprintf(text + used, sizeof text - used, "%g,%g,%.9f\n", places[i][0], places[i][1],
                       plane(places[i][0], places[i][1]));
    }
    assert_int_equal(table_parse("map.csv", text, &table, &err), 0);
    assert_int_equal(lightmap_of(&table, &map, &err), 0);
    table_free(&table);
    mapstats_of(&map, &stats);
    assert_near(stats.across * stats.area_mean_umol, 30, 1e-6);
    assert_near(stats.along * stats.area_mean_umol, -12, 1e-6);
    lightmap_free(&map);
}

/* Half and quarter parts at the walls: the trapezoid rule, exact for a straight fall. Plain mean of
 * 1, 0, 1 is 2/3, of the canopy 1/2. */
static double valley(double x_cm, double y_cm)
{
    (void)y_cm;
    return 100 * fabs(x_cm - 60) / 60;
}

static void walls_weigh_less(void **state)
{
    (void)state;
    struct lightmap map;
    struct mapstats stats;
    make_map("# height_cm: 50", 3, 3, 60, valley, &map);
    mapstats_of(&map, &stats);
    assert_near(stats.mean_umol, 200.0 / 3, 1e-9);
    assert_near(stats.area_mean_umol, 50, 1e-9);
    lightmap_free(&map);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(askew_by_points_anywhere), cmocka_unit_test(nine_points_by_hand),
        cmocka_unit_test(a_point_source),           cmocka_unit_test(a_fixture_hung_askew),
        cmocka_unit_test(walls_weigh_less),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
