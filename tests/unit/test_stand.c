/* SPDX-License-Identifier: Apache-2.0 */
#include "stand.h"

#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>

#include <cmocka.h>

static const struct settle_rules rules = {.least_s = 3, .most_s = 30, .samples = 5};

static enum stand_state see(struct stand *stand, double now_s, double umol, double level)
{
    return stand_look(stand, &(struct stand_sight){now_s, umol, now_s, level});
}

/* A sample a second, the first that counts 3 s after the first sight: the fifth at 7 s. */
static void five_readings_at_rest_are_enough(void **state)
{
    (void)state;
    struct stand stand;
    struct settle_mean mean;
    stand_begin(&stand, &rules, 0.75);
    for (int s = 0; s < 7; s++) {
        assert_int_equal(see(&stand, 100 + s, 250 + s % 2, 0.75), STAND_SETTLES);
    }
    assert_int_equal(stand_samples(&stand), 4);
    assert_int_equal(see(&stand, 107, 251, 0.752), STAND_IS_DONE);
    stand_mean_of(&stand, &mean);
    assert_true(stand.is_steady);
    assert_int_equal(mean.samples, 5);
    assert_near(mean.umol, 250.6, 1e-9);            /* 251, 250, 251, 250, 251 */
    assert_near(mean.spread_umol, sqrt(0.3), 1e-9); /* 3 × 0.4² + 2 × 0.6² over 4 */
}

/* The same sample again and again is one sample. */
static void an_old_reading_is_no_new_one(void **state)
{
    (void)state;
    struct stand stand;
    stand_begin(&stand, &rules, 0.75);
    for (int s = 0; s < 60; s++) {
        assert_int_equal(stand_look(&stand, &(struct stand_sight){s, 250, 5, 0.75}), STAND_SETTLES);
    }
    assert_int_equal(stand_samples(&stand), 1);
}

static void a_gap_starts_it_afresh(void **state)
{
    (void)state;
    struct stand stand;
    stand_begin(&stand, &rules, 0.75);
    for (int s = 0; s < 7; s++) {
        (void)see(&stand, s, 250, 0.75);
    }
    assert_int_equal(see(&stand, 7, (double)NAN, 0.75), STAND_UNUSABLE);
    assert_int_equal(see(&stand, 12, (double)NAN, 0.75), STAND_UNUSABLE);
    assert_int_equal(stand_samples(&stand), 0);
    for (int s = 13; s < 19; s++) {
        assert_int_equal(see(&stand, s, 300, 0.75), STAND_SETTLES);
    }
    assert_int_equal(see(&stand, 19, 300, 0.75), STAND_IS_DONE);
}

static void a_lamp_that_moved_is_waited_for(void **state)
{
    (void)state;
    struct stand stand;
    stand_begin(&stand, &rules, 0.75);
    for (int s = 0; s < 40; s++) {
        assert_int_equal(see(&stand, s, 250, s < 3 ? 0.75 : 0.74),
                         s < 3 ? STAND_SETTLES : STAND_MOVED);
    }
    for (int s = 40; s < 46; s++) {
        assert_int_equal(see(&stand, s, 250, 0.75), STAND_SETTLES);
    }
    assert_int_equal(see(&stand, 46, 250, 0.75), STAND_IS_DONE);
    assert_int_equal(see(&stand, 47, 250, (double)NAN), STAND_UNUSABLE);
}

/* The first point of a survey takes the level as it is, but only one that stands still. */
static void the_first_point_finds_the_level(void **state)
{
    (void)state;
    struct stand stand;
    stand_begin(&stand, &rules, (double)NAN);
    for (int s = 0; s < 30; s++) { /* dawn */
        assert_int_not_equal(see(&stand, s, 200 + 4 * s, 0.2 + 0.004 * s), STAND_IS_DONE);
    }
    int done_s = 0;
    for (int s = 30; s < 60 && done_s == 0; s++) {
        done_s = see(&stand, s, 320, 0.32) == STAND_IS_DONE ? s : 0;
    }
    assert_in_range(done_s, 34, 40);
    assert_near(stand.level, 0.32, 0.0032);
}

static void what_never_rests_is_taken_as_it_is(void **state)
{
    (void)state;
    struct stand stand;
    stand_begin(&stand, &rules, 0.5);
    int s = 0;
    while (see(&stand, s, 100 + 5 * s, 0.5) != STAND_IS_DONE) {
        s++;
        assert_true(s < 100);
    }
    assert_int_equal(s, 30);
    assert_false(stand.is_steady);
}

static void a_daemon_started_anew_starts_it_afresh(void **state)
{
    (void)state;
    struct stand stand;
    stand_begin(&stand, &rules, 0.5);
    for (int s = 1000; s < 1006; s++) {
        (void)see(&stand, s, 100, 0.5);
    }
    for (int s = 4; s < 11; s++) {
        assert_int_equal(see(&stand, s, 100, 0.5), STAND_SETTLES);
    }
    assert_int_equal(see(&stand, 11, 100, 0.5), STAND_IS_DONE);
}

/* Whatever comes: what is done was read in one go, good, at one level. */
static void only_unbroken_readings_count(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 500; round++) {
        struct stand stand;
        struct settle_mean mean;
        double bad_s = 0;
        stand_begin(&stand, &rules, 0.5);
        for (int s = 0; s < 60; s++) {
            const bool is_bad = prng_int(&prng, 1, 8) == 1;
            const bool is_off = prng_int(&prng, 1, 8) == 1;
            const double umol = is_bad ? (double)NAN : is_off ? 900 : 100;
            if (is_bad || is_off) {
                bad_s = s;
            }
            if (see(&stand, s, umol, is_off ? 0.6 : 0.5) == STAND_IS_DONE) {
                stand_mean_of(&stand, &mean);
                assert_near(mean.umol, 100, 1e-9);
                assert_true(s - bad_s >= 3 + 4);
                break;
            }
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_readings_at_rest_are_enough),
        cmocka_unit_test(an_old_reading_is_no_new_one),
        cmocka_unit_test(a_gap_starts_it_afresh),
        cmocka_unit_test(a_lamp_that_moved_is_waited_for),
        cmocka_unit_test(the_first_point_finds_the_level),
        cmocka_unit_test(what_never_rests_is_taken_as_it_is),
        cmocka_unit_test(a_daemon_started_anew_starts_it_afresh),
        cmocka_unit_test(only_unbroken_readings_count),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
