/* SPDX-License-Identifier: Apache-2.0 */
/* Spots for a sensor on maps whose best place is known. */
#include "spot.h"

#include "err.h"
#include "near.h"
#include "table.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct lightmap maps[2];
static const struct lightmap *const list[] = {&maps[0], &maps[1]};

static int free_maps(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        lightmap_free(&maps[i]);
    }
    return 0;
}

static void fill(double light[25], double umol)
{
    for (int i = 0; i < 25; i++) {
        light[i] = umol;
    }
}

/* 5 x 5 points, 30 cm apart. */
static void make_map(const double light[25], struct lightmap *ret)
{
    char text[2048] = "# height_cm: 50\nx_cm,y_cm,ppfd_umol\n";
    struct table table;
    struct err err;
    for (int i = 0; i < 25; i++) {
        const size_t used = strlen(text);
        (void)snprintf(text + used, sizeof text - used, "%d,%d,%g\n", i % 5 * 30, i / 5 * 30,
                       light[i]);
    }
    if (table_parse("map.csv", text, &table, &err) < 0 || lightmap_of(&table, ret, &err) < 0) {
        fail_msg("%s", err.text);
    }
    table_free(&table);
}

/* A flat canopy with one bright corner: any spot away from the corner reads a little low. */
static void flat_places_near_the_mean(void **state)
{
    (void)state;
    double light[25];
    struct spot best[3];
    fill(light, 200);
    light[0] = 360; /* a sixteenth of a quarter cell: mean 200 + 160 / 64 = 202.5 */
    make_map(light, &maps[0]);
    assert_int_equal(spot_best(list, 1, best, 3), 3);
    for (int i = 0; i < 3; i++) {
        assert_near(best[i].factor, 202.5 / 200, 1e-9);
        assert_near(best[i].factor_spread, 0, 0);
        assert_near(best[i].slip, 0, 1e-12);
    }
}

/* Two maps: the spot that reads the mean in one and not in the other loses to a steady one. */
static void steady_over_maps(void **state)
{
    (void)state;
    double light[25];
    struct spot best[25];
    for (int pass = 0; pass < 2; pass++) {
        fill(light, pass == 0 ? 200 : 400);
        light[12] = pass == 0 ? 180 : 440; /* the middle: low in one, high in the other */
        make_map(light, &maps[pass]);
    }
    assert_int_equal(spot_best(list, 2, best, 25), 25);
    assert_near(best[24].x_cm, 60, 0);
    assert_near(best[24].y_cm, 60, 0);
    assert_true(best[24].factor_spread > 0.1);
    assert_true(best[0].factor_spread < 0.02);
}

/* A little off in every map is better than right in the mean of them: the middle reads 1.2 % low in
 * one and 1.1 % high in the other, all else 1.3 % low in both. */
static void right_in_the_mean_is_not_steady(void **state)
{
    (void)state;
    double light[25];
    struct spot best[25];
    for (int pass = 0; pass < 2; pass++) {
        fill(light, pass == 0 ? 200 : 400);
        light[0] = pass == 0 ? 360 : 720;
        light[12] = pass == 0 ? 200 : 410;
        make_map(light, &maps[pass]);
    }
    assert_int_equal(spot_best(list, 2, best, 25), 25);
    assert_true(fabs(best[0].factor - 1) > 0.01);
    assert_true(best[0].factor_spread < 0.002);
}

/* On a slope of 2 µmol per cm around 200, five centimetres are 5 %. */
static void a_slip_of_the_hand(void **state)
{
    (void)state;
    double light[25];
    struct spot best[3];
    for (int i = 0; i < 25; i++) {
        light[i] = 200 + 2 * (i % 5 * 30 - 60);
    }
    make_map(light, &maps[0]);
    assert_int_equal(spot_best(list, 1, best, 3), 3);
    for (int i = 0; i < 3; i++) {
        assert_near(best[i].x_cm, 60, 0);
        assert_near(best[i].factor, 1, 1e-12);
        assert_near(best[i].slip, 0.05, 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(right_in_the_mean_is_not_steady, free_maps),
        cmocka_unit_test_teardown(flat_places_near_the_mean, free_maps),
        cmocka_unit_test_teardown(steady_over_maps, free_maps),
        cmocka_unit_test_teardown(a_slip_of_the_hand, free_maps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
