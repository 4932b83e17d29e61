/* SPDX-License-Identifier: Apache-2.0 */
#include "walk.h"

#include "err.h"
#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const struct walk_grid nine_by_five = {9, 5, 15, 15, 0, false};

static struct walk begin(const struct walk_grid *grid, bool is_one_way)
{
    struct walk walk = {0};
    struct err err = {""};
    assert_int_equal(walk_begin(grid, is_one_way, &walk, &err), 0);
    return walk;
}

static void read_here(struct walk *walk, double umol)
{
    walk_accept(walk, &(struct walk_reading){umol, 0.5, 5});
}

/* A serpentine is the shortest tour that visits a grid once: every step is one spacing long. */
static void every_step_is_one_spacing(void **state)
{
    (void)state;
    struct walk walk = begin(&nine_by_five, false);
    bool is_seen[9][5] = {{false}};
    assert_int_equal(walk.count, 45);
    for (int i = 0; i < walk.count; i++) {
        const struct walk_spot spot = walk_spot(&walk, i);
        assert_false(is_seen[spot.column][spot.row]);
        is_seen[spot.column][spot.row] = true;
        assert_int_equal(walk_index(&walk, spot.column, spot.row), i);
        if (i > 0) {
            const struct walk_spot last = walk_spot(&walk, i - 1);
            assert_near(fabs(spot.x - last.x) + fabs(spot.y - last.y), 15, 1e-9);
        }
    }
    assert_near(walk_spot(&walk, 9).x, 120, 1e-9);
    walk_free(&walk);
}

static void one_way_begins_every_row_at_the_left(void **state)
{
    (void)state;
    const struct walk_grid grid = {4, 3, 10, 20, 5, false};
    struct walk walk = begin(&grid, true);
    assert_near(walk_spot(&walk, 4).x, 5, 1e-9);
    assert_near(walk_spot(&walk, 4).y, 25, 1e-9);
    assert_int_equal(walk_index(&walk, 0, 1), 4);
    walk_free(&walk);
}

static void back_and_repeat_measure_anew(void **state)
{
    (void)state;
    struct walk walk = begin(&nine_by_five, false);
    assert_false(walk_back(&walk));
    assert_false(walk_repeat(&walk));
    for (int i = 0; i < 4; i++) {
        read_here(&walk, 100 + i);
    }
    assert_true(walk_repeat(&walk));
    assert_int_equal(walk.at, 3);
    read_here(&walk, 203);
    assert_int_equal(walk.at, 4);
    assert_true(walk_back(&walk) && walk_back(&walk) && walk_back(&walk));
    assert_int_equal(walk.at, 1);
    read_here(&walk, 201); /* then on with what is open, not with what is measured */
    assert_int_equal(walk.at, 4);
    assert_near(walk.points[1].reading.umol, 201, 1e-9);
    assert_near(walk.points[2].reading.umol, 102, 1e-9);
    assert_near(walk.points[3].reading.umol, 203, 1e-9);
    assert_int_equal(walk_number_of(&walk, WALK_MEASURED), 4);
    assert_true(walk_go(&walk, 44));
    read_here(&walk, 144);
    assert_int_equal(walk.at, 4); /* around, to the first that is open */
    assert_false(walk_go(&walk, 45));
    assert_false(walk_go(&walk, -1));
    walk_free(&walk);
}

static void a_skipped_point_is_left_out_but_a_reading_stays(void **state)
{
    (void)state;
    const struct walk_grid grid = {2, 2, 10, 10, 0, false};
    struct walk walk = begin(&grid, false);
    read_here(&walk, 10);
    walk_skip(&walk);
    assert_int_equal(walk.points[1].mark, WALK_LEFT_OUT);
    assert_true(walk_go(&walk, 0));
    walk_skip(&walk);
    assert_int_equal(walk.points[0].mark, WALK_MEASURED);
    assert_int_equal(walk.at, 2);
    read_here(&walk, 12);
    read_here(&walk, 13);
    assert_true(walk_is_over(&walk));
    read_here(&walk, 99); /* nobody stands anywhere */
    walk_skip(&walk);
    assert_true(walk_is_over(&walk));
    assert_true(walk_back(&walk));
    assert_int_equal(walk.at, 3);
    assert_true(walk_go(&walk, 1));
    read_here(&walk, 11); /* what was left out may be measured after all */
    assert_int_equal(walk_number_of(&walk, WALK_MEASURED), 4);
    assert_true(walk_is_over(&walk));
    walk_free(&walk);
}

static void what_could_not_be_stored_is_taken_back(void **state)
{
    (void)state;
    struct walk walk = begin(&nine_by_five, false);
    read_here(&walk, 1);
    read_here(&walk, 2);
    walk_undo(&walk);
    assert_int_equal(walk.at, 1);
    assert_int_equal(walk.latest, 0);
    assert_int_equal(walk.points[1].mark, WALK_OPEN);
    walk_undo(&walk); /* once */
    assert_int_equal(walk.at, 1);
    walk_skip(&walk);
    walk_undo(&walk);
    assert_int_equal(walk.points[1].mark, WALK_OPEN);
    walk_free(&walk);
}

static void grids_that_are_none_are_refused(void **state)
{
    (void)state;
    static const struct {
        struct walk_grid grid;
        const char *words;
    } cases[] = {
        {{1, 1, 15, 15, 0, false}, "1 x 1 points is out of range (2 x 2 … 1000 x 1000"},
        {{9, 1, 15, 15, 0, false}, "out of range"},
        {{1000, 1000, 15, 15, 0, false}, "has 1000000 points; 10000 at most"},
        {{1001, 2, 15, 15, 0, false}, "out of range"},
        {{-3, -3, 15, 15, 0, false}, "out of range"},
        {{9, 5, 0, 15, 0, false}, "no grid"},
        {{9, 5, 15, (double)NAN, 0, false}, "no grid"},
        {{9, 5, 15, 15, -1, false}, "no grid"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct walk walk = {0};
        struct err err = {""};
        assert_true(walk_begin(&cases[i].grid, false, &walk, &err) < 0);
        assert_non_null(strstr(err.text, cases[i].words));
        assert_null(walk.points);
    }
}

/* Any moves at all: the marks add up, the present point is one of them, the way back and forth
 * between places and numbers agrees, and from somewhere every point can be finished. */
static void any_moves_keep_it_whole(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 200; round++) {
        const struct walk_grid grid = {
            (int)prng_int(&prng, 2, 7), (int)prng_int(&prng, 2, 7), 7, 9, 1, true};
        struct walk walk = begin(&grid, round % 2 == 0);
        for (int move = 0; move < 100; move++) {
            switch (prng_int(&prng, 0, 7)) {
            case 0:
                (void)walk_back(&walk);
                break;
            case 1:
                (void)walk_repeat(&walk);
                break;
            case 2:
                walk_skip(&walk);
                break;
            case 3:
                (void)walk_go(&walk, (int)prng_int(&prng, -3, 46));
                break;
            case 4:
                walk_undo(&walk);
                break;
            default:
                read_here(&walk, move);
            }
            assert_true(walk.at >= 0 && walk.at <= walk.count);
            assert_int_equal(walk_number_of(&walk, WALK_OPEN) +
                                 walk_number_of(&walk, WALK_MEASURED) +
                                 walk_number_of(&walk, WALK_LEFT_OUT),
                             walk.count);
        }
        for (int i = 0; i < walk.count && walk_number_of(&walk, WALK_OPEN) > 0; i++) {
            walk_skip(&walk);
        }
        assert_int_equal(walk_number_of(&walk, WALK_OPEN), 0);
        walk_free(&walk);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_step_is_one_spacing),
        cmocka_unit_test(one_way_begins_every_row_at_the_left),
        cmocka_unit_test(back_and_repeat_measure_anew),
        cmocka_unit_test(a_skipped_point_is_left_out_but_a_reading_stays),
        cmocka_unit_test(what_could_not_be_stored_is_taken_back),
        cmocka_unit_test(grids_that_are_none_are_refused),
        cmocka_unit_test(any_moves_keep_it_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
