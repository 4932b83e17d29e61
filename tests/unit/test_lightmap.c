/* SPDX-License-Identifier: Apache-2.0 */
/* Maps from files: grids, holes, repeats, inches, points anywhere; and what is refused. */
#include "lightmap.h"

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

static int read_text(const char *text, struct lightmap *ret, struct err *err)
{
    char *copy = strdup(text);
    struct table table;
    assert_non_null(copy);
    int rc = table_parse("map.csv", copy, &table, err);
    if (rc == 0) {
        rc = lightmap_of(&table, ret, err);
        table_free(&table);
    }
    free(copy);
    return rc;
}

static struct lightmap_point point(const struct lightmap *map, size_t i)
{
    static const struct lightmap_point none;
    assert_true(map->points && i < map->count);
    return map->points && i < map->count ? map->points[i] : none;
}

static double area_sum(const struct lightmap *map)
{
    double sum = 0;
    for (size_t i = 0; i < map->count; i++) {
        sum += point(map, i).area_cm2;
    }
    return sum;
}

/* Points to the walls: those at a wall stand for half a cell, in a corner for a quarter. */
static void a_grid_to_the_walls(void **state)
{
    (void)state;
    struct lightmap map = {0};
    struct err err;
    assert_int_equal(read_text("# height_cm: 45\n# drive: 0.8\n# fixture_w: 210\n"
                               "x_cm,y_cm,ppfd_umol\n"
                               "0,0,180\n60,0,210\n120,0,190\n0,60,220\n60,60,250\n120,60,230\n"
                               "0,120,170\n60,120,205\n120,120,185\n",
                               &map, &err),
                     0);
    assert_true(map.is_grid);
    assert_int_equal(map.columns, 3);
    assert_int_equal(map.rows, 3);
    assert_int_equal(map.holes, 0);
    assert_near(map.height_cm, 45, 0);
    assert_near(map.drive, 0.8, 0);
    assert_near(map.fixture_w, 210, 0);
    assert_near(map.level, 1, 0);
    assert_true(isnan(map.ppf_umol_s));
    assert_near(map.width_cm, 120, 0);
    assert_near(point(&map, 0).area_cm2, 900, 1e-9);
    assert_near(point(&map, 1).area_cm2, 1800, 1e-9);
    assert_near(point(&map, 4).area_cm2, 3600, 1e-9);
    assert_near(point(&map, 4).umol, 250, 0);
    lightmap_free(&map);
}

/* The middles of nine equal cells on a canopy whose size is said. */
static void a_grid_of_cell_middles(void **state)
{
    (void)state;
    struct lightmap map = {0};
    struct err err;
    assert_int_equal(read_text("# height_cm: 45\n# canopy_cm: 120 x 90\nx_cm,y_cm,ppfd_umol\n"
                               "20,15,1\n60,15,2\n100,15,3\n20,45,4\n60,45,5\n100,45,6\n"
                               "20,75,7\n60,75,8\n100,75,9\n",
                               &map, &err),
                     0);
    for (size_t i = 0; i < map.count; i++) {
        assert_near(point(&map, i).area_cm2, 1200, 1e-9);
        assert_near(point(&map, i).umol, (double)i + 1, 0);
    }
    lightmap_free(&map);
}

/* Inches, coordinates from the middle, a point twice, an empty cell as a hole, a dark reading. */
static void what_people_do(void **state)
{
    (void)state;
    struct lightmap map = {0};
    struct err err;
    assert_int_equal(read_text("# height_in: 20\n# dark_umol: 2\nx_in,y_in,ppfd_umol\n"
                               "-10,-10,102\n0,-10,102\n10,-10,102\n"
                               "-10,0,102\n0,0,\n10,0,102\n"
                               "-10,10,102\n0,10,102\n10,10,100\n10,10,104\n",
                               &map, &err),
                     0);
    assert_near(map.height_cm, 50.8, 1e-12);
    assert_int_equal(map.count, 8);
    assert_int_equal(map.holes, 1);
    assert_int_equal(map.repeated, 1);
    assert_near(point(&map, 7).umol, 100, 1e-12);
    assert_int_equal(point(&map, 7).repeats, 2);
    assert_near(point(&map, 7).x_cm, 25.4, 1e-12);
    assert_near(area_sum(&map), 50.8 * 50.8, 1e-6);
    assert_near(point(&map, 1).area_cm2, 25.4 * 12.7 + 25.4 * 25.4 / 4, 1e-9); /* and of the hole */
    assert_near(point(&map, 0).area_cm2, 12.7 * 12.7, 1e-9);
    lightmap_free(&map);
}

/* Holes side by side hand their parts to points, never to one another. */
static void holes_beside_holes(void **state)
{
    (void)state;
    struct lightmap map = {0};
    struct err err;
    assert_int_equal(read_text("# height_cm: 50\nx_cm,y_cm,ppfd_umol\n"
                               "0,0,1\n10,0,1\n20,0,1\n30,0,1\n"
                               "0,10,1\n10,10,\n20,10,\n30,10,1\n"
                               "0,20,1\n10,20,\n20,20,\n30,20,\n"
                               "0,30,1\n10,30,1\n20,30,1\n30,30,1\n",
                               &map, &err),
                     0);
    assert_true(map.is_grid);
    assert_int_equal(map.holes, 5);
    assert_near(area_sum(&map), 900, 1e-9);
    assert_near(point(&map, 1).area_cm2, 50 + 100 / 2.0, 1e-9); /* half of the hole behind it */
    lightmap_free(&map);
}

/* Four points of which each is nearest to a quarter; and areas of random points add up. */
static void points_anywhere(void **state)
{
    (void)state;
    struct lightmap map = {0};
    struct err err;
    assert_int_equal(read_text("# height_cm: 45\n# canopy_cm: 100 x 100\nx_cm,y_cm,ppfd_umol\n"
                               "20,30,1\n70,20,2\n80,70,3\n30,80,4\n50,50,5\n",
                               &map, &err),
                     0);
    assert_false(map.is_grid);
    assert_near(area_sum(&map), 1e4, 1e-6);
    /* around the middle: half way to four points at right angles, a square of side √1300 */
    for (size_t i = 0; i < map.count; i++) {
        if (point(&map, i).umol > 4.5) {
            assert_near(point(&map, i).area_cm2, 1300, 3);
        }
    }
    lightmap_free(&map);

    struct prng prng = prng_start("points_anywhere");
    for (int round = 0; round < 3; round++) {
        char text[4000] = "# height_cm: 45\nx_cm,y_cm,ppfd_umol\n";
        for (int i = 0; i < 60; i++) {
            const size_t used = strlen(text);
            (void)snprintf(text + used, sizeof text - used, "%.3f,%.3f,100\n",
                           prng_real(&prng, 0, 120), prng_real(&prng, 0, 60));
        }
        assert_int_equal(read_text(text, &map, &err), 0);
        assert_false(map.is_grid);
        assert_near(area_sum(&map), map.width_cm * map.depth_cm, 1e-6);
        lightmap_free(&map);
    }
}

static void one_clear_line_each(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } bad[] = {
        {"x_cm,y_cm,ppfd_umol\n0,0,1\n",
         "map.csv: a line \"# height_cm: 45\" is missing above the columns: how high the fixture "
         "hung over the canopy"},
        {"# height_cm: high\nx_cm,y_cm,ppfd_umol\n0,0,1\n",
         "map.csv:1: height_cm: \"high\" is not a number (0.1 … 1000)"},
        {"# height_cm: 45\nx_cm,y_in,ppfd_umol\n0,0,1\n",
         "map.csv:2: centimetres and inches in one map"},
        {"# height_cm: 45\nx_cm,y_cm\n0,0\n",
         "map.csv:2: there is no column ppfd_umol (x_cm, y_cm, ppfd_umol; or x_in, y_in)"},
        {"# height_cm: 45\nx_cm,ppfd_umol\n0,0\n",
         "map.csv:2: there is no column y_cm (x_cm, y_cm, ppfd_umol; or x_in, y_in)"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,0,1\n0,1,-3\n",
         "map.csv:4: ppfd_umol of -3 is out of range (0 … 5000, µmol m⁻² s⁻¹)"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,,1\n", "map.csv:3: y_cm is empty"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,0,1\n9,0,1\n0,9,1\n",
         "map.csv: 3 points; a map has 4 at least"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,0,1\n", "map.csv: 1 point; a map has 4 at least"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,0,0\n9,0,0\n0,9,0\n9,9,0\n",
         "map.csv: there is no light at any point; was the lamp lit, and not covered?"},
        {"# height_cm: 45\n# dark_umol: 3\nx_cm,y_cm,ppfd_umol\n0,0,3\n9,0,2\n0,9,0\n9,9,1\n",
         "map.csv: there is no light at any point above dark_umol; was the lamp lit, and not "
         "covered?"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,0,100\n9,0,100\n0,9,100\n9,9,100\n9,9,150\n",
         "map.csv: readings of 100 and 150 µmol m⁻² s⁻¹ at one place (9, 9 cm)"},
        {"# height_cm: 45\nx_cm,y_cm,ppfd_umol\n0,0,1\n9,0,1\n18,0,1\n27,0,1\n",
         "map.csv: all points lie on one line; say how large the canopy is: \"# canopy_cm: 120 x "
         "60\""},
        {"# height_cm: 45\n# canopy_cm: 20 x "
         "20\nx_cm,y_cm,ppfd_umol\n0,0,1\n9,0,1\n0,9,1\n30,9,1\n",
         "map.csv: points from (0, 0) to (30, 9) cm lie outside the canopy of 20 x 20 cm"},
        {"# height_cm: 45\n# canopy_cm: large\nx_cm,y_cm,ppfd_umol\n0,0,1\n",
         "map.csv:2: canopy_cm: \"large\" is not like \"120 x 60\""},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct lightmap map = {0};
        struct err err;
        assert_int_equal(read_text(bad[i].text, &map, &err), -EINVAL);
        assert_string_equal(err.text, bad[i].says);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(holes_beside_holes),     cmocka_unit_test(a_grid_to_the_walls),
        cmocka_unit_test(a_grid_of_cell_middles), cmocka_unit_test(what_people_do),
        cmocka_unit_test(points_anywhere),        cmocka_unit_test(one_clear_line_each),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
