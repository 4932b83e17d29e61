/* SPDX-License-Identifier: Apache-2.0 */
#include "walk.h"

#include "err.h"
#include "lightmap.h"
#include "near.h"
#include "table.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define TEXT_MAX 8192

static void write_out(const struct walk *walk, char *text)
{
    char row[WALK_ROW_MAX];
    (void)snprintf(text, TEXT_MAX, "# height_cm: 60\n# level: 0.75\n");
    walk_notes(&walk->grid, text + strlen(text), (unsigned)(TEXT_MAX - strlen(text)));
    (void)strncat(text, walk_columns(&walk->grid), TEXT_MAX - strlen(text) - 1);
    for (int i = 0; i < walk->count; i++) {
        walk_row(walk, i, row, sizeof row);
        (void)strncat(text, row, TEXT_MAX - strlen(text) - 1);
    }
}

static int resume(const char *text, struct walk *walk, struct err *err)
{
    char copy[TEXT_MAX];
    struct table table = {0};
    (void)snprintf(copy, sizeof copy, "%s", text);
    assert_int_equal(table_parse("map.csv", copy, &table, err), 0);
    const int rc = walk_resume(&table, false, walk, err);
    table_free(&table);
    return rc;
}

static void walk_some(const struct walk_grid *grid, struct walk *walk)
{
    struct err err = {""};
    assert_int_equal(walk_begin(grid, false, walk, &err), 0);
    for (int i = 0; i < 5; i++) {
        walk_accept(walk, &(struct walk_reading){200 + i / 3.0, 0.25, 5});
    }
    walk_skip(walk);
    (void)walk_go(walk, 9);
    walk_accept(walk, &(struct walk_reading){0, 0, 1});
}

static void it_goes_on_where_it_stopped(void **state)
{
    (void)state;
    static const struct walk_grid grids[] = {
        {4, 3, 15, 15, 0, false},
        {4, 3, 15.25, 20, 7.5, false},
        {4, 3, 6, 6, 3, true},
    };
    for (int i = 0; i < 3; i++) {
        char text[TEXT_MAX];
        char again_text[TEXT_MAX];
        struct walk walk = {0};
        struct walk again = {0};
        struct err err = {""};
        walk_some(&grids[i], &walk);
        write_out(&walk, text);
        assert_int_equal(resume(text, &again, &err), 0);
        assert_true(walk_is_same_grid(&walk.grid, &again.grid));
        assert_int_equal(again.at, 6);
        for (int point = 0; point < walk.count; point++) {
            assert_int_equal(again.points[point].mark, walk.points[point].mark);
            assert_near(again.points[point].reading.umol, walk.points[point].reading.umol, 1e-3);
            assert_int_equal(again.points[point].reading.samples,
                             walk.points[point].reading.samples);
        }
        write_out(&again, again_text);
        assert_string_equal(text, again_text);
        walk_free(&walk);
        walk_free(&again);
    }
}

/* What walked is what `lampwarden survey` reads. */
static void it_is_a_light_map(void **state)
{
    (void)state;
    const struct walk_grid grid = {4, 3, 6, 6, 3, true};
    char text[TEXT_MAX];
    struct walk walk = {0};
    struct table table = {0};
    struct lightmap map = {0};
    struct err err = {""};
    walk_some(&grid, &walk);
    write_out(&walk, text);
    assert_int_equal(table_parse("map.csv", text, &table, &err), 0);
    assert_int_equal(lightmap_of(&table, &map, &err), 0);
    assert_int_equal(map.count, 6);
    assert_near(map.width_cm, 24 * 2.54, 1e-6);
    assert_near(map.depth_cm, 18 * 2.54, 1e-6);
    assert_near(map.points[0].x_cm, 3 * 2.54, 1e-6);
    assert_near(map.points[0].umol, 200, 1e-3);
    assert_near(map.level, 0.75, 1e-9);
    lightmap_free(&map);
    table_free(&table);
    walk_free(&walk);
}

static void files_that_are_no_walk_are_refused(void **state)
{
    (void)state;
#define HEAD    "# grid: 3 x 2\n# spacing_cm: 10 x 10\n"
#define COLUMNS "x_cm,y_cm,ppfd_umol,spread_umol,samples\n"
    static const struct {
        const char *text, *words;
    } cases[] = {
        {"x_cm,y_cm,ppfd_umol\n0,0,5\n", "map.csv is no survey that --live began"},
        {"# grid: 3 x 2\n" COLUMNS "0,0,5,1,5\n", "no notes \"# grid: …\" and \"# spacing_cm"},
        {"# grid: three\n# spacing_cm: 10 x 10\n" COLUMNS "0,0,5,1,5\n",
         "map.csv:1: grid: \"three\" is not like"},
        {"# grid: 3.5 x 2\n# spacing_cm: 10 x 10\n" COLUMNS "0,0,5,1,5\n", "whole numbers"},
        {"# grid: 3 x 2\n# spacing_cm: 10 x 0\n" COLUMNS "0,0,5,1,5\n", "map.csv:2: spacing_cm"},
        {"# grid: 3 x 1\n# spacing_cm: 10 x 10\n" COLUMNS "0,0,5,1,5\n", "out of range (2 x 2"},
        {HEAD "x_cm,y_cm,ppfd_umol\n0,0,5\n", "map.csv:3: the columns are not x_cm,y_cm,ppfd_umol"},
        {HEAD COLUMNS "0,0,5,1,5\n30,0,5,1,5\n", "map.csv:5: (30, 0) is no point of this grid"},
        {HEAD COLUMNS "4,0,5,1,5\n", "(4, 0) is no point"},
        {HEAD COLUMNS "0,-10,5,1,5\n", "(0, -10) is no point"},
        {HEAD COLUMNS ",0,5,1,5\n", "is no point"},
        {HEAD COLUMNS "0,0,5,1,5\n0,0,5,1,5\n", "map.csv:5: (0, 0) is there twice"},
        {HEAD COLUMNS "0,0,-5,1,5\n", "ppfd_umol of -5 is out of range (0 … 5000)"},
        {HEAD COLUMNS "0,0,5,1,\n", "say nothing"},
        {HEAD "# margin_cm: far\n" COLUMNS "0,0,5,1,5\n", "map.csv:3: margin_cm"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct walk walk = {0};
        struct err err = {""};
        assert_true(resume(cases[i].text, &walk, &err) < 0);
        if (!strstr(err.text, cases[i].words)) {
            fail_msg("'%s' is not in '%s'", cases[i].words, err.text);
        }
        assert_null(walk.points);
    }
}

static void a_grid_is_said_in_words(void **state)
{
    (void)state;
    char words[160];
    walk_grid_words(&(struct walk_grid){9, 5, 15, 15, 0, false}, words, sizeof words);
    assert_string_equal(words, "9 x 5 points 15 cm apart");
    walk_grid_words(&(struct walk_grid){9, 5, 6, 8, 3, true}, words, sizeof words);
    assert_string_equal(words, "9 x 5 points 6 x 8 in apart, 3 in from the walls");
    assert_false(walk_is_same_grid(&(struct walk_grid){9, 5, 15, 15, 0, false},
                                   &(struct walk_grid){9, 5, 15, 15, 0, true}));
    assert_false(walk_is_same_grid(&(struct walk_grid){9, 5, 15, 15, 0, false},
                                   &(struct walk_grid){9, 5, 15, 15, 7.5, false}));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_goes_on_where_it_stopped),
        cmocka_unit_test(it_is_a_light_map),
        cmocka_unit_test(files_that_are_no_walk_are_refused),
        cmocka_unit_test(a_grid_is_said_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
