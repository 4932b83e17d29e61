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

/* A small plate that looks straight up at a corner of a parallel rectangle of sides a and b at the
 * distance c sees of it (R. Siegel, J. R. Howell, "Thermal Radiation Heat Transfer", appendix of
 * configuration factors, "plane element to plane parallel rectangle; normal to element passes
 * through corner", from memory and checked by its limits below), A = a / c, B = b / c:
 *     F = (A / √(1 + A²) · atan(B / √(1 + A²)) + B / √(1 + B²) · atan(A / √(1 + B²))) / 2π
 * With either sign of a side, the corner may lie anywhere. */
static double corner(double a, double b)
{
    const double far_a = sqrt(1 + a * a);
    const double far_b = sqrt(1 + b * b);
    return (a / far_a * atan(b / far_a) + b / far_b * atan(a / far_b)) / (2 * acos(-1));
}

/* An evenly bright square panel of 60 cm; its light on a plane is its photons by its area times
 * the view that the place has of it. The canopy's middle is below the panel's. */
static double panel_h_cm, panel_middle_cm;
#define PANEL_CM  60.0
#define PANEL_PPF 700.0

static double panel(double x_cm, double y_cm)
{
    const double left = (panel_middle_cm - PANEL_CM / 2 - x_cm) / panel_h_cm;
    const double front = (panel_middle_cm - PANEL_CM / 2 - y_cm) / panel_h_cm;
    const double right = left + PANEL_CM / panel_h_cm;
    const double back = front + PANEL_CM / panel_h_cm;
    const double view =
        corner(right, back) - corner(left, back) - corner(right, front) + corner(left, front);
    return PANEL_PPF / (PANEL_CM * PANEL_CM * 1e-4) * view;
}

/* Far away it is a point with a cosine; close to a large one a plate sees nothing else. */
static void the_view_of_a_panel(void **state)
{
    (void)state;
    assert_near(4 * corner(1e6, 1e6), 1, 1e-5);
    assert_near(corner(1e-3, 1e-3), 1e-6 / acos(-1), 1e-11);
    panel_middle_cm = 0;
    panel_h_cm = 1000;
    assert_near(panel(0, 0), PANEL_PPF / acos(-1) / 100, 0.01); /* PPF / π straight ahead, 10 m */
    assert_near(panel(1000, 0) / panel(0, 0), 0.25, 0.001);     /* cos⁴ 45° */
}

/* Over a plane forty times as wide as the panel hangs high all of its photons are found, but for
 * what passes its rim: of a point with a cosine a disk of radius R catches R² / (R² + h²). */
static void a_panel_over_a_large_plane(void **state)
{
    (void)state;
    struct lightmap map;
    struct mapstats stats;
    char notes[80];
    panel_h_cm = 20;
    panel_middle_cm = 400;
    (void)snprintf(notes, sizeof notes, "# height_cm: 20\n# ppf_umol_s: %g", PANEL_PPF);
    make_map(notes, 161, 161, 5, panel, &map);
    mapstats_of(&map, &stats);
    assert_near(stats.photons_umol_s / PANEL_PPF, 1, 0.005);
    assert_true(stats.photons_umol_s < PANEL_PPF * (4.0 * 4.0 * 2) / (4.0 * 4.0 * 2 + 0.2 * 0.2));
    assert_near(stats.across, 0, 1e-9);
    lightmap_free(&map);
}

/* Two equal squares opposite one another at the distance of their side: 0.1998 (F. P. Incropera, D.
 * P. DeWitt, "Fundamentals of Heat and Mass Transfer", table 13.2, aligned parallel rectangles,
 * X = Y = 1). The same here by the map of the one under the other. */
static void a_panel_over_its_own_shadow(void **state)
{
    (void)state;
    struct lightmap map;
    struct mapstats stats;
    char notes[80];
    panel_h_cm = PANEL_CM;
    panel_middle_cm = PANEL_CM / 2;
    (void)snprintf(notes, sizeof notes, "# height_cm: 60\n# ppf_umol_s: %g", PANEL_PPF);
    make_map(notes, 31, 31, 2, panel, &map);
    mapstats_of(&map, &stats);
    assert_near(stats.utilisation / 0.1998, 1, 0.001);
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

/* A map of nothing but these numbers: places do not matter to their mean and spread. */
static void spread_of(const double *umol, int count, double *ret_mean, double *ret_deviation)
{
    struct lightmap_point *points = calloc((size_t)count, sizeof *points);
    struct lightmap map = {.width_cm = 1, .depth_cm = 1, .level = 1, .points = points};
    struct mapstats stats;
    assert_non_null(points);
    map.count = (size_t)count;
    for (int i = 0; i < count; i++) {
        points[i] = (struct lightmap_point){
            .x_cm = i / (double)count, .y_cm = 0.5, .umol = umol[i], .area_cm2 = 1, .repeats = 1};
    }
    mapstats_of(&map, &stats);
    *ret_mean = stats.mean_umol;
    *ret_deviation = stats.mean_se_umol * sqrt(count);
    assert_near(*ret_deviation, stats.cv_sample * stats.mean_umol, 1e-12 * *ret_mean);
    assert_near(stats.cv_population, stats.cv_sample * sqrt((count - 1.0) / count), 1e-12);
    free(points);
}

/* How many digits of a certified value were found. */
static double digits(double found, double certified)
{
    return found == certified ? 15 : -log10(fabs(found / certified - 1));
}

/* Certified means and standard deviations of the Statistical Reference Datasets of NIST
 * (itl.nist.gov/div898/strd/univ): Michelso, 100 speeds of light of 1879, and the made-up NumAcc1
 * to 4, whose rule and certified values are given from memory: a first value, then 500 times
 * one below and one above it. NumAcc4's numbers are no doubles: of 0.1 beside 1e7 eight digits are
 * left at best. */
static void certified_spreads(void **state)
{
    (void)state;
    static const double michelso[] = {
        299.85, 299.74, 299.90, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88,
        300.00, 299.98, 299.93, 299.65, 299.76, 299.81, 300.00, 300.00, 299.96, 299.96,
        299.96, 299.94, 299.96, 299.94, 299.88, 299.80, 299.85, 299.88, 299.90, 299.84,
        299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.80, 299.79, 299.76, 299.80,
        299.88, 299.88, 299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95,
        299.88, 299.91, 299.85, 299.87, 299.84, 299.84, 299.85, 299.84, 299.84, 299.84,
        299.89, 299.81, 299.81, 299.82, 299.80, 299.77, 299.76, 299.74, 299.75, 299.76,
        299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85, 299.85, 299.78,
        299.89, 299.84, 299.78, 299.81, 299.76, 299.81, 299.79, 299.81, 299.82, 299.85,
        299.87, 299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.80, 299.81, 299.87};
    static const struct {
        double first, low, high, deviation, digits;
        int count;
    } made[] = {
        {10000002, 10000001, 10000003, 1, 14, 3}, /* NumAcc1 has three values */
        {1.2, 1.1, 1.3, 0.1, 13, 1001},
        {1000000.2, 1000000.1, 1000000.3, 0.1, 8.5, 1001},
        {10000000.2, 10000000.1, 10000000.3, 0.1, 7.5, 1001},
    };
    double mean = 0;
    double deviation = 0;
    spread_of(michelso, 100, &mean, &deviation);
    assert_true(digits(mean, 299.852400000000) > 14);
    assert_true(digits(deviation, 0.0790105478190518) > 12);
    for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
        double umol[1001] = {made[i].first};
        for (int j = 1; j < made[i].count; j++) {
            umol[j] = j % 2 ? made[i].low : made[i].high;
        }
        spread_of(umol, made[i].count, &mean, &deviation);
        assert_true(digits(mean, made[i].first) > 14);
        assert_true(digits(deviation, made[i].deviation) > made[i].digits);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(askew_by_points_anywhere),
        cmocka_unit_test(nine_points_by_hand),
        cmocka_unit_test(a_point_source),
        cmocka_unit_test(a_fixture_hung_askew),
        cmocka_unit_test(walls_weigh_less),
        cmocka_unit_test(the_view_of_a_panel),
        cmocka_unit_test(a_panel_over_a_large_plane),
        cmocka_unit_test(a_panel_over_its_own_shadow),
        cmocka_unit_test(certified_spreads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
