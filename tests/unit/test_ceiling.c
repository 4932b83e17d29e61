/* SPDX-License-Identifier: Apache-2.0 */
/*
 * LED drivers that shut down at high drive while cold, hiccups of 0.5–5 s and a margin of 5 points
 * below the trip are common practice, no source.
 */
#include "ceiling.h"
#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define NONE ((double)NAN)

static const struct ceiling_rules usual = {
    .drive_max = 0.92,
    .drive_floor = 0.4,
    .collapse = 0.3,
    .confirm_s = 6,
    .settle_s = 5,
    .rest_s = 60,
    .long_rest_s = 1800,
    .step = 0.05,
    .tries = 3,
};

static enum ceiling_event see(struct ceiling *ceiling, double drive, double light, double power)
{
    struct ceiling_evidence evidence = {
        .drive = drive, .is_steady = true, .light_ratio = light, .power_ratio = power};

    return ceiling_step(&usual, ceiling, &evidence, 1);
}

static int seconds_to_trip(struct ceiling *ceiling, double drive, double light, double power)
{
    for (int second = 1; second <= 1000; second++) {
        enum ceiling_event event = see(ceiling, drive, light, power);
        if (event == CEILING_TRIPPED || event == CEILING_GAVE_UP) {
            return second;
        }
    }
    return -1;
}

static int seconds_to_restrike(struct ceiling *ceiling)
{
    for (int second = 1; second <= 4000; second++) {
        if (see(ceiling, 0, NONE, NONE) == CEILING_RESTRIKE) {
            return second;
        }
    }
    return -1;
}

static struct ceiling fresh(void)
{
    struct ceiling ceiling;

    ceiling_reset(&ceiling, &usual);
    assert_near(ceiling.drive_cap, 0.92, 0);
    assert_true(isnan(ceiling.trip_drive));
    return ceiling;
}

static void test_evidence_decides(void **state)
{
    (void)state;
    static const struct {
        double light, power;
        bool trips;
    } rows[] = {
        {0.0, 0.05, true},   /* both agree */
        {0.29, NONE, true},  /* light alone */
        {NONE, 0.29, true},  /* power alone */
        {0.0, 1.0, false},   /* a covered light sensor */
        {1.0, 0.0, false},   /* a dead power meter */
        {0.3, NONE, false},  /* not below the limit */
        {NONE, NONE, false}, /* nothing known */
        {1.0, 1.0, false},
    };

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct ceiling ceiling = fresh();
        assert_int_equal(seconds_to_trip(&ceiling, 0.9, rows[i].light, rows[i].power),
                         rows[i].trips ? 6 : -1);
        assert_int_equal(ceiling_is_resting(&ceiling), rows[i].trips);
    }
}

static void test_trip_rests_and_strikes_again_lower(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();

    assert_int_equal(seconds_to_trip(&ceiling, 0.90, 0, 0), 6);
    assert_near(ceiling.drive_cap, 0.85, 1e-12);
    assert_near(ceiling.trip_drive, 0.90, 0);
    assert_int_equal(seconds_to_restrike(&ceiling), 60);
    assert_false(ceiling_is_resting(&ceiling));
    for (int second = 1; second <= 10; second++) {
        assert_int_equal(see(&ceiling, 0.5, 1, 1),
                         second == 6 ? CEILING_LIGHT_BACK : CEILING_NOTHING);
    }
    assert_int_equal(ceiling.trips_without_light, 0);
    assert_int_equal(ceiling.trips_today, 1);
    assert_near(ceiling.drive_cap, 0.85, 1e-12); /* for the rest of the day */
    ceiling_new_day(&ceiling, &usual);
    assert_near(ceiling.drive_cap, 0.92, 0);
    assert_int_equal(ceiling.trips_today, 0);
}

static void test_a_broken_lamp_is_given_up_once(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();

    for (int trip = 1; trip <= 5; trip++) {
        enum ceiling_event event = CEILING_NOTHING;
        while (event == CEILING_NOTHING) {
            event = see(&ceiling, 0.45, 0, 0);
        }
        assert_int_equal(event, trip == 3 ? CEILING_GAVE_UP : CEILING_TRIPPED);
        assert_near(ceiling.drive_cap, 0.4, 1e-12); /* never below the floor */
        if (trip == 4) {
            ceiling_new_day(&ceiling, &usual); /* midnight repairs nothing */
            assert_true(ceiling_is_resting(&ceiling));
            assert_near(ceiling.drive_cap, 0.92, 0);
        }
        assert_int_equal(seconds_to_restrike(&ceiling), trip < 3 ? 60 : 1800);
    }
    assert_int_equal(ceiling.trips_without_light, 5);
}

static void test_a_dead_light_sensor_darkens_no_crop(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();

    for (int trip = 1; trip <= 3; trip++) {
        assert_int_equal(seconds_to_trip(&ceiling, 0.8, 0, NONE), 6);
        assert_int_equal(seconds_to_restrike(&ceiling), trip < 3 ? 60 : 1800);
    }
    assert_int_equal(seconds_to_trip(&ceiling, 0.8, 0, NONE), -1);
    /* The sensor was repaired: from now on its word counts again. */
    while (see(&ceiling, 0.8, 1, NONE) != CEILING_LIGHT_BACK) {
        assert_true(ceiling.lit_s <= usual.confirm_s);
    }
    for (int second = 0; second < 2000; second++) {
        assert_int_equal(see(&ceiling, 0.8, 1, NONE), CEILING_NOTHING);
    }
    assert_int_equal(seconds_to_trip(&ceiling, 0.8, 0, NONE), 6);
}

static void test_light_is_back_only_without_a_break(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();
    struct ceiling_evidence moving = {.drive = 0.5, .light_ratio = 1, .power_ratio = 1};

    (void)seconds_to_trip(&ceiling, 0.9, 0, 0);
    (void)seconds_to_restrike(&ceiling);
    for (int i = 0; i < 4; i++) {
        for (int second = 0; second < 5; second++) {
            assert_int_equal(see(&ceiling, 0.5, 1, 1), CEILING_NOTHING);
        }
        if (i % 2 == 0) {
            (void)see(&ceiling, 0.5, 0, 0);
        } else {
            (void)ceiling_step(&usual, &ceiling, &moving, 1);
        }
        assert_near(ceiling.lit_s, 0, 0);
    }
    assert_int_equal(ceiling.trips_without_light, 1);
}

static void test_operator_acknowledges(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();

    (void)seconds_to_trip(&ceiling, 0.9, 0, 0);
    ceiling_acknowledge(&ceiling, &usual);
    assert_false(ceiling_is_resting(&ceiling));
    assert_near(ceiling.drive_cap, 0.92, 0);
    assert_int_equal(ceiling.trips_without_light, 0);
    assert_int_equal(ceiling.trips_today, 1);
}

static void test_unsteady_starts_afresh_unknown_holds(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();
    struct ceiling_evidence moving = {.drive = 0.9, .light_ratio = 0, .power_ratio = 0};

    for (int i = 0; i < 5; i++) {
        assert_int_equal(see(&ceiling, 0.9, 0, 0), CEILING_NOTHING);
    }
    for (int i = 0; i < 100; i++) {
        assert_int_equal(see(&ceiling, 0.9, NONE, NONE), CEILING_NOTHING);
    }
    assert_near(ceiling.collapsed_s, 5, 1e-12);
    for (int i = 0; i < 100; i++) {
        assert_int_equal(ceiling_step(&usual, &ceiling, &moving, 1), CEILING_NOTHING);
    }
    assert_int_equal(seconds_to_trip(&ceiling, 0.9, 0, 0), 6);
}

static void test_a_hiccup_is_a_trip(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();
    enum ceiling_event event = CEILING_NOTHING;
    int second = 0;

    /* Pulses of 1 s every 4 s, for ever: seen as a trip, and light never counts as back. */
    for (int trips = 0; trips < 3; trips++) {
        for (event = CEILING_NOTHING; event == CEILING_NOTHING; second++) {
            event = see(&ceiling, 0.6, second % 4 == 0 ? 1 : 0, NONE);
        }
        assert_int_equal(event, trips < 2 ? CEILING_TRIPPED : CEILING_GAVE_UP);
        (void)seconds_to_restrike(&ceiling);
    }
    assert_true(second < 50);
}

static void test_one_bad_second_in_ten_is_no_trip(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();

    for (int second = 0; second < 10000; second++) {
        assert_int_equal(see(&ceiling, 0.6, second % 10 == 0 ? 0 : 1, NONE), CEILING_NOTHING);
    }
}

static void test_odd_numbers_do_no_harm(void **state)
{
    (void)state;
    struct ceiling ceiling = fresh();
    struct ceiling_evidence evidence = {
        .drive = NONE, .is_steady = true, .light_ratio = 0, .power_ratio = NONE};

    assert_int_equal(ceiling_step(&usual, &ceiling, &evidence, -100), CEILING_NOTHING);
    assert_int_equal(ceiling_step(&usual, &ceiling, &evidence, NONE), CEILING_NOTHING);
    assert_near(ceiling.collapsed_s, 0, 0);
    assert_int_equal(ceiling_step(&usual, &ceiling, &evidence, 6), CEILING_TRIPPED);
    assert_near(ceiling.drive_cap, 0.87, 1e-12); /* no known drive: below the cap */
}

static void test_cap_stays_between_floor_and_ceiling(void **state)
{
    (void)state;
    struct prng dice = prng_start(__func__);
    struct ceiling ceiling = fresh();
    for (int i = 0; i < 200000; i++) {
        double cap_before = ceiling.drive_cap;
        double drive = prng_real(&dice, 0, cap_before);
        double light = prng_int(&dice, 0, 2) == 0 ? NONE : prng_real(&dice, 0, 0.3);
        enum ceiling_event event = see(&ceiling, drive, light, NONE);
        assert_true(ceiling.drive_cap >= usual.drive_floor && ceiling.drive_cap <= usual.drive_max);
        assert_true(ceiling.drive_cap <= cap_before);
        if (event == CEILING_TRIPPED || event == CEILING_GAVE_UP) {
            assert_true(ceiling_is_resting(&ceiling));
            if (prng_int(&dice, 0, 3) == 0) {
                ceiling_new_day(&ceiling, &usual);
            }
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_evidence_decides),
        cmocka_unit_test(test_trip_rests_and_strikes_again_lower),
        cmocka_unit_test(test_a_broken_lamp_is_given_up_once),
        cmocka_unit_test(test_a_dead_light_sensor_darkens_no_crop),
        cmocka_unit_test(test_light_is_back_only_without_a_break),
        cmocka_unit_test(test_operator_acknowledges),
        cmocka_unit_test(test_unsteady_starts_afresh_unknown_holds),
        cmocka_unit_test(test_a_hiccup_is_a_trip),
        cmocka_unit_test(test_one_bad_second_in_ten_is_no_trip),
        cmocka_unit_test(test_odd_numbers_do_no_harm),
        cmocka_unit_test(test_cap_stays_between_floor_and_ceiling),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
