/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Doses: "How Much Light Is Needed for the Prevention of Flowering of Cut Chrysanthemums When Using
 * High Intensity HPS Lighting as a Night Break?" (journal not certain): 1000–4000 µmol m⁻² in a
 * night are enough to keep chrysanthemum from flowering; the usual incandescent dose is 7200–8600
 * µmol m⁻². Times and levels follow by division. The threshold of 0.2 µmol is common practice, no
 * source.
 */
#include "near.h"
#include "nightguard.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const struct nightguard_rules usual = {.threshold_umol = 0.2, .confirm_s = 10};

static enum nightguard_event step(struct nightguard *guard, double seen, double commanded)
{
    struct nightguard_light light = {
        .is_night = true, .seen_umol = seen, .commanded_umol = commanded};

    return nightguard_step(&usual, guard, &light, 1);
}

static struct nightguard at_night(void)
{
    struct nightguard guard;

    nightguard_reset(&guard);
    assert_int_equal(step(&guard, 300, 300), NIGHTGUARD_NOTHING); /* its dt lies before the night */
    assert_true(guard.in_night);
    assert_near(guard.dose_umol_m2, 0, 0);
    return guard;
}

static void test_published_doses(void **state)
{
    (void)state;
    static const struct {
        double light_umol, to_1000_s, to_4000_s;
    } rows[] = {{30, 33, 133}, {3, 333, 1333}, {1, 1000, 4000}};

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_near(nightguard_seconds_to(1000, rows[i].light_umol), rows[i].to_1000_s, 0.5);
        assert_near(nightguard_seconds_to(4000, rows[i].light_umol), rows[i].to_4000_s, 0.5);

        struct nightguard guard = at_night();
        double seconds = 0;
        while (guard.dose_umol_m2 < 1000) {
            (void)step(&guard, rows[i].light_umol, 0);
            seconds++;
        }
        assert_near(seconds, rows[i].to_1000_s, 1);
    }
    /* 7200 and 8600 µmol m⁻² over 4 h: 0.500 and 0.597 µmol m⁻² s⁻¹ */
    assert_near(nightguard_seconds_to(7200, 0.500), 4 * 3600, 1);
    assert_near(nightguard_seconds_to(8600, 0.597), 4 * 3600, 10);
}

static void test_dark_takes_for_ever(void **state)
{
    (void)state;
    assert_true(isinf(nightguard_seconds_to(1000, 0)));
    assert_true(isinf(nightguard_seconds_to(1000, -0.1)));
    assert_true(isinf(nightguard_seconds_to(1000, (double)NAN)));
}

static void test_four_hours_give_the_usual_dose(void **state)
{
    (void)state;
    struct nightguard guard = at_night();

    for (int i = 0; i < 4 * 3600; i++) {
        (void)step(&guard, 0.597, 0);
    }
    assert_near(guard.dose_umol_m2, 8600, 5);
    assert_near(guard.longest_s, 4 * 3600, 0);
    assert_int_equal(guard.breaks, 1);
}

static void test_below_the_threshold_is_dark(void **state)
{
    (void)state;
    struct nightguard guard = at_night();

    for (int i = 0; i < 43200; i++) {
        assert_int_equal(step(&guard, i % 2 ? 0.2 : -0.3, 0), NIGHTGUARD_NOTHING);
    }
    assert_near(guard.dose_umol_m2, 0, 0);
    assert_near(guard.peak_umol, 0, 0);
}

static void test_break_is_confirmed_and_ends(void **state)
{
    (void)state;
    struct nightguard guard = at_night();

    for (int i = 1; i <= 20; i++) {
        enum nightguard_event event = step(&guard, i == 15 ? 9 : 5, 0);
        assert_int_equal(event, i == 10 ? NIGHTGUARD_BREAK_BEGINS : NIGHTGUARD_NOTHING);
    }
    assert_true(guard.in_break);
    assert_int_equal(step(&guard, 0, 0), NIGHTGUARD_BREAK_ENDS);
    assert_near(guard.lit_s, 20, 0);
    assert_near(guard.present_dose, 19 * 5 + 9, 1e-9);
    assert_near(guard.peak_umol, 9, 0);
    assert_int_equal(step(&guard, 0, 0), NIGHTGUARD_NOTHING);

    /* A second light stands by itself; a short one is no break but its dose counts. */
    for (int i = 0; i < 9; i++) {
        assert_int_equal(step(&guard, 1, 0), NIGHTGUARD_NOTHING);
    }
    assert_int_equal(step(&guard, 0, 0), NIGHTGUARD_NOTHING);
    assert_near(guard.present_dose, 9, 1e-9);
    assert_near(guard.dose_umol_m2, 19 * 5 + 9 + 9, 1e-9);
    assert_near(guard.longest_s, 20, 0);
    assert_int_equal(guard.breaks, 1);
}

static void test_the_larger_light_counts(void **state)
{
    (void)state;
    struct nightguard guard = at_night();

    (void)step(&guard, 2, 30);
    (void)step(&guard, 40, 30);
    (void)step(&guard, (double)NAN, 5); /* no sensor */
    (void)step(&guard, (double)NAN, (double)NAN);
    assert_near(guard.dose_umol_m2, 75, 1e-9);
}

static void test_under_daylight_only_the_lamps_count(void **state)
{
    (void)state;
    struct nightguard guard = at_night();
    struct nightguard_light evening = {
        .is_night = true, .seen_umol = 800, .commanded_umol = 0, .under_daylight = true};

    for (int i = 0; i < 100; i++) {
        assert_int_equal(nightguard_step(&usual, &guard, &evening, 1), NIGHTGUARD_NOTHING);
    }
    assert_near(guard.dose_umol_m2, 0, 0);
    evening.commanded_umol = 30;
    (void)nightguard_step(&usual, &guard, &evening, 1);
    assert_near(guard.dose_umol_m2, 30, 0);
}

static void test_night_ends_with_its_sums(void **state)
{
    (void)state;
    struct nightguard guard = at_night();
    struct nightguard_light day = {.is_night = false, .seen_umol = 300, .commanded_umol = 300};

    for (int i = 0; i < 30; i++) {
        (void)step(&guard, 4, 0);
    }
    assert_int_equal(nightguard_step(&usual, &guard, &day, 1), NIGHTGUARD_NIGHT_ENDS);
    assert_near(guard.dose_umol_m2, 120, 1e-9);
    assert_false(guard.in_break || guard.in_night);
    assert_int_equal(nightguard_step(&usual, &guard, &day, 1), NIGHTGUARD_NOTHING);
    assert_near(guard.dose_umol_m2, 120, 1e-9);
    (void)step(&guard, 0, 0);
    assert_near(guard.dose_umol_m2, 0, 0); /* the next night */
    assert_int_equal(guard.breaks, 0);
}

static void test_time_never_runs_backwards(void **state)
{
    (void)state;
    struct nightguard guard = at_night();
    struct nightguard_light light = {.is_night = true, .seen_umol = 5};

    (void)nightguard_step(&usual, &guard, &light, -10);
    (void)nightguard_step(&usual, &guard, &light, (double)NAN);
    assert_near(guard.dose_umol_m2, 0, 0);
    assert_near(guard.lit_s, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published_doses),
        cmocka_unit_test(test_dark_takes_for_ever),
        cmocka_unit_test(test_four_hours_give_the_usual_dose),
        cmocka_unit_test(test_below_the_threshold_is_dark),
        cmocka_unit_test(test_break_is_confirmed_and_ends),
        cmocka_unit_test(test_the_larger_light_counts),
        cmocka_unit_test(test_under_daylight_only_the_lamps_count),
        cmocka_unit_test(test_night_ends_with_its_sums),
        cmocka_unit_test(test_time_never_runs_backwards),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
