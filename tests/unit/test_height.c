/* SPDX-License-Identifier: Apache-2.0 */
/* The choice of a hanging height, on maps of a point source whose truth is known. */
#include "height.h"

#include "err.h"
#include "near.h"
#include "prng.h"
#include "table.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { SIDE = 9 };

/* 500 µmol s⁻¹ sr⁻¹ straight down with the cosine, over the middle of 1.2 x 1.2 m (Lambert 1760).
 */
static double lambert(double height_cm, double x_cm, double y_cm)
{
    const double h = height_cm / 100;
    const double square = pow((x_cm - 60) / 100, 2) + pow((y_cm - 60) / 100, 2) + h * h;
    return 500 * h * h / (square * square);
}

static void make_map(double height_cm, double level, double noise, struct prng *prng,
                     struct lightmap *ret)
{
    char text[4096];
    struct table table;
    struct err err;
    char *p = text + sprintf(text,
                             "# height_cm: %g\n# fixture_w: %g\n# level: %g\nx_cm,y_cm,"
                             "ppfd_umol\n",
                             height_cm, 300 * level, level);
    for (int row = 0; row < SIDE; row++) {
        for (int column = 0; column < SIDE; column++) {
            const double x = 15.0 * column;
            const double y = 15.0 * row;
            const double wrong = noise > 0 ? 1 + prng_real(prng, -noise, noise) : 1;
            p += sprintf(p, "%g,%g,%.6f\n", x, y, lambert(height_cm, x, y) * level * wrong);
        }
    }
    if (table_parse("map.csv", text, &table, &err) < 0 || lightmap_of(&table, ret, &err) < 0) {
        fail_msg("%s", err.text);
    }
    table_free(&table);
}

/* On a small canopy far below, the inverse square holds: exponent 2. */
static void a_power_of_height(void **state)
{
    (void)state;
    struct lightmap maps[3];
    const struct lightmap *list[3] = {&maps[0], &maps[1], &maps[2]};
    struct height_fall fall;
    for (int i = 0; i < 3; i++) {
        make_map(600 + 100 * i, 1, 0, NULL, &maps[i]);
    }
    height_fall_of(list, 3, &fall);
    assert_near(fall.exponent, 2, 0.05);
    assert_true(fall.exponent_se < 0.01);
    assert_near(fall.at_one_m_umol * pow(7, -fall.exponent), 500.0 / 49, 0.5);
    height_fall_of(list, 2, &fall);
    assert_true(isnan(fall.exponent_se));
    height_fall_of(list, 1, &fall);
    assert_true(isnan(fall.exponent));
    for (int i = 0; i < 3; i++) {
        lightmap_free(&maps[i]);
    }
}

static const struct height_wish lettuce = {
    .target_mol = 13, .lit_h = 16, .ceiling_umol = 500, .highest_level = 1};

/* Lower is cheaper until something stands against it; readings at another level are the same lamp.
 */
static void lowest_power_within_limits(void **state)
{
    (void)state;
    static const double heights[] = {40, 90, 60};
    static const double levels[] = {1, 0.5, 0.8};
    struct lightmap maps[3];
    const struct lightmap *list[3] = {&maps[0], &maps[1], &maps[2]};
    static struct height_choice choice;
    struct err err;
    for (int i = 0; i < 3; i++) {
        make_map(heights[i], levels[i], 0, NULL, &maps[i]);
    }
    struct height_wish wish = lettuce;
    wish.ceiling_umol = (double)INFINITY;
    assert_int_equal(height_choose(list, 3, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.count, 3);
    assert_near(choice.offers[0].height_cm, 90, 0);
    assert_near(choice.offers[2].height_cm, 40, 0);
    assert_int_equal(choice.chosen, 2);
    const struct height_offer *low = &choice.offers[2];
    assert_near(low->level * low->stats.area_mean_umol * 16 * 3600e-6, 13, 1e-9);
    assert_near(low->watts, 300 * low->level, 1e-9);
    assert_near(choice.offers[0].stats.max_umol, 500 / 0.81, 1e-3);
    for (int i = 0; i < 3; i++) { /* all at full light: photons are mean times area */
        const struct mapstats *stats = &choice.offers[i].stats;
        assert_near(stats->photons_umol_s, stats->area_mean_umol * 1.44, 1e-9);
    }
    wish.highest_level = 0.99 * low->level;
    assert_int_equal(height_choose(list, 3, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.offers[2].verdict, HEIGHT_TOO_WEAK);
    wish.highest_level = 1;
    assert_int_equal(height_choose(list, 3, &wish, 0, &choice, &err), 0);

    wish.min_over_mean = 0.4;
    assert_int_equal(height_choose(list, 3, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.offers[2].verdict, HEIGHT_TOO_UNEVEN);
    wish.min_over_mean = 0;
    wish.ceiling_umol = 0.99 * low->brightest_umol;
    assert_int_equal(height_choose(list, 3, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.offers[2].verdict, HEIGHT_TOO_BRIGHT);
    assert_int_equal(choice.chosen, 1);
    wish.target_mol = 60;
    wish.ceiling_umol = (double)INFINITY;
    assert_int_equal(height_choose(list, 3, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.chosen, -1);
    assert_int_equal(choice.offers[0].verdict, HEIGHT_TOO_WEAK);
    for (int i = 0; i < 3; i++) {
        lightmap_free(&maps[i]);
    }
}

/* Between 60 and 80 cm every 5: what would be measured there, to 2 %. */
static void between_two_heights(void **state)
{
    (void)state;
    struct lightmap maps[2];
    struct lightmap truth = {0};
    const struct lightmap *list[2] = {&maps[0], &maps[1]};
    static struct height_choice choice;
    struct err err;
    make_map(60, 0.8, 0, NULL, &maps[0]);
    make_map(80, 1, 0, NULL, &maps[1]);
    make_map(70, 1, 0, NULL, &truth);
    assert_int_equal(height_choose(list, 2, &lettuce, 5, &choice, &err), 0);
    assert_int_equal(choice.count, 5);
    const struct height_offer *offer = &choice.offers[2];
    struct mapstats stats;
    mapstats_of(&truth, &stats);
    assert_true(offer->is_interpolated);
    assert_false(choice.offers[0].is_interpolated);
    assert_false(choice.offers[4].is_interpolated);
    assert_near(offer->height_cm, 70, 1e-9);
    assert_near(offer->stats.area_mean_umol / stats.area_mean_umol, 1, 0.02);
    assert_near(offer->stats.min_over_mean / stats.min_over_mean, 1, 0.02);
    assert_near(offer->stats.max_umol / stats.max_umol, 1, 0.02);
    lightmap_free(&truth);

    maps[1].points[3].x_cm += 1; /* other points: nothing in between */
    assert_int_equal(height_choose(list, 2, &lettuce, 5, &choice, &err), 0);
    assert_int_equal(choice.count, 2);
    maps[1].height_cm = 60.05;
    assert_int_equal(height_choose(list, 2, &lettuce, 5, &choice, &err), -EINVAL);
    assert_non_null(strstr(err.text, "at one height"));
    lightmap_free(&maps[0]);
    lightmap_free(&maps[1]);
}

/* Four points with the same light but for the last: mean and evenness by hand. */
static void make_flat(double height_cm, double umol, double last_umol, struct lightmap *ret)
{
    char text[256];
    struct table table;
    struct err err;
    (void)snprintf(text, sizeof text,
                   "# height_cm: %g\n# fixture_w: 290\nx_cm,y_cm,ppfd_umol\n0,0,%g\n10,0,%g\n"
                   "0,10,%g\n10,10,%g\n",
                   height_cm, umol, umol, umol, last_umol);
    if (table_parse("map.csv", text, &table, &err) < 0 || lightmap_of(&table, ret, &err) < 0) {
        fail_msg("%s", err.text);
    }
    table_free(&table);
}

static struct height_lamp three_points(void)
{
    static const struct dimcurve_point points[] = {{0.1, 0.08, 30}, {0.5, 0.5, 145}, {1, 1, 300}};
    struct height_lamp lamp = {.has_watts = true, .drive_ceiling = 1};
    assert_int_equal(dimcurve_init(&lamp.curve, points, 3, NULL), DIMCURVE_OK);
    return lamp;
}

/* By hand: 11.52 mol in 16 h is 11.52e6 / 57600 = 200 µmol m⁻² s⁻¹. At 180 cm, where full light
 * gives 200, that is all of it and 300 W; at 100 cm, with 400, a half and the curve's 145 W (290 /
 * 2 in proportion). At 30 cm 4000 would need 5 %; the lamp holds 8 % (30 W), 320 µmol m⁻² s⁻¹ and
 * 18.432 mol. 20 cm, with 5000, needs no fewer watts and is less even. */
static void power_by_the_fixtures_own_curve(void **state)
{
    (void)state;
    static const double by_hand[4][4] = {/* cm, level, W, mol */
                                         {180, 1, 300, 11.52},
                                         {100, 0.5, 145, 11.52},
                                         {30, 0.08, 30, 18.432},
                                         {20, 0.08, 30, 4750 * 0.08 * 0.0576}};
    struct lightmap maps[4] = {{.count = 0}};
    const struct lightmap *list[4] = {&maps[0], &maps[1], &maps[2], &maps[3]};
    static struct height_choice choice;
    struct height_lamp lamp = three_points();
    struct height_wish wish = {11.52, 16, (double)INFINITY, 0, 1, &lamp};
    struct err err;
    make_flat(180, 200, 200, &maps[0]);
    make_flat(100, 400, 400, &maps[1]);
    make_flat(30, 4000, 4000, &maps[2]);
    make_flat(20, 5000, 4000, &maps[3]);
    assert_int_equal(height_choose(list, 4, &wish, 0, &choice, &err), 0);
    for (int i = 0; i < 4; i++) {
        const struct height_offer *offer = &choice.offers[i];
        assert_near(offer->height_cm, by_hand[i][0], 0);
        assert_near(offer->level, by_hand[i][1], 1e-12);
        assert_near(offer->watts, by_hand[i][2], 1e-6);
        assert_near(offer->mol, by_hand[i][3], 1e-9);
        assert_int_equal(offer->verdict, HEIGHT_FITS);
    }
    assert_int_equal(choice.chosen, 2);
    wish.ceiling_umol = 319; /* 30 cm is at 320: it cannot be dimmed below */
    assert_int_equal(height_choose(list, 4, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.offers[2].verdict, HEIGHT_TOO_BRIGHT);
    assert_int_equal(choice.chosen, 1);
    wish.target_mol = 12; /* more than full light gives at 180 cm: no curve says what that draws */
    lamp.drive_ceiling = 0.5;
    assert_int_equal(height_choose(list, 4, &wish, 0, &choice, &err), 0);
    assert_near(height_lowest_level(&wish), 0.08, 1e-12);
    assert_near(height_highest_level(&wish), 0.5, 1e-12);
    assert_int_equal(choice.offers[0].verdict, HEIGHT_TOO_WEAK);
    assert_true(isnan(choice.offers[0].watts));
    assert_int_equal(choice.offers[1].verdict, HEIGHT_TOO_WEAK);
    assert_int_equal(choice.chosen, -1);
    wish.highest_level = 0.3;
    assert_near(height_highest_level(&wish), 0.3, 1e-12);

    wish = (struct height_wish){11.52, 16, (double)INFINITY, 0, 1, NULL}; /* any level: 20 cm */
    assert_int_equal(height_choose(list, 4, &wish, 0, &choice, &err), 0);
    assert_int_equal(choice.chosen, 3);
    lamp = three_points();
    lamp.has_watts = false; /* bounds by the curve, power in proportion */
    wish.lamp = &lamp;
    assert_int_equal(height_choose(list, 4, &wish, 0, &choice, &err), 0);
    assert_near(choice.offers[2].watts, 0.08 * 290, 1e-9);
    assert_int_equal(choice.chosen, 2);
    for (int i = 0; i < 4; i++) {
        lightmap_free(&maps[i]);
    }
}

/* 3 % of noise on each reading: the exponent stays within four of its errors, and near the truth.
 */
static void noise(void **state)
{
    (void)state;
    struct prng prng = prng_start("noise");
    for (int round = 0; round < 100; round++) {
        struct lightmap maps[4];
        const struct lightmap *list[4] = {&maps[0], &maps[1], &maps[2], &maps[3]};
        struct height_fall fall;
        for (int i = 0; i < 4; i++) {
            make_map(600 + 100 * i, 1, 0.03, &prng, &maps[i]);
        }
        height_fall_of(list, 4, &fall);
        assert_near(fall.exponent, 1.98, 0.06);
        for (int i = 0; i < 4; i++) {
            lightmap_free(&maps[i]);
        }
    }
}

/* The line fit on Norris, a Statistical Reference Dataset of NIST (calibration of ozone monitors;
 * itl.nist.gov/div898/strd/lls/data/Norris.shtml), y over x as ln mean over ln height, both a two
 * hundredth so that heights stay numbers: slope and its standard deviation as certified. */
static void certified_line(void **state)
{
    (void)state;
    enum { COUNT = 36 };
    static const double norris[COUNT][2] = {
        {0.1, 0.2},     {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1},
        {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0},
        {559.2, 558.2}, {0.3, 0.4},     {0.1, 0.6},     {778.1, 775.5}, {668.8, 666.9},
        {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},   {557.7, 556.0}, {228.3, 228.1},
        {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},     {0.6, 0.3},
        {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0},
        {10.2, 11.1},   {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9},
        {0.2, 0.5}};
    static struct lightmap_point points[COUNT][4];
    static struct lightmap maps[COUNT];
    const struct lightmap *list[COUNT];
    struct height_fall fall;
    for (int i = 0; i < COUNT; i++) {
        for (int j = 0; j < 4; j++) {
            points[i][j] = (struct lightmap_point){.x_cm = j % 2,
                                                   .y_cm = j > 1,
                                                   .umol = exp(norris[i][0] / 200),
                                                   .area_cm2 = 1,
                                                   .repeats = 1};
        }
        maps[i] = (struct lightmap){.height_cm = 100 * exp(norris[i][1] / 200),
                                    .width_cm = 1,
                                    .depth_cm = 1,
                                    .level = 1,
                                    .count = 4,
                                    .points = points[i]};
        list[i] = &maps[i];
    }
    height_fall_of(list, COUNT, &fall);
    assert_int_equal(fall.count, COUNT);
    assert_near(-fall.exponent, 1.00211681802045, 1e-12);
    assert_near(200 * log(fall.at_one_m_umol), -0.262323073774029, 1e-10);
    assert_near(fall.exponent_se, 0.429796848199937E-03, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_power_of_height),
        cmocka_unit_test(lowest_power_within_limits),
        cmocka_unit_test(between_two_heights),
        cmocka_unit_test(power_by_the_fixtures_own_curve),
        cmocka_unit_test(noise),
        cmocka_unit_test(certified_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
