/* SPDX-License-Identifier: Apache-2.0 */
/* The bench as a whole: the same seed gives the same bytes, sensors are as noisy as said, every
 * fault shows. */
#include "bench_model.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>

static struct bench_model *begin(uint64_t seed)
{
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    setup.seed = seed;
    setup.room_swing_c = 0;
    setup.canopy_count = 2;
    setup.fixture_count = 3;
    for (int i = 0; i < 3; i++) {
        bench_fixture_defaults(&setup.fixtures[i], 200, 150);
        setup.fixtures[i].canopy = i < 2 ? 0 : 1;
    }
    struct bench_model *model = bench_model_create(&setup);
    assert_non_null(model);
    return model;
}

static void light(struct bench_model *model, double drive)
{
    for (int i = 0; i < 3; i++) {
        bench_model_set_drive(model, i, drive);
        bench_model_set_switch(model, i, true);
    }
}

static void run(struct bench_model *model, int seconds)
{
    for (int i = 0; i < seconds; i++) {
        bench_model_step(model, 1);
    }
}

static double ppfd(struct bench_model *model, int canopy)
{
    double value = -1;
    assert_int_equal(bench_model_ppfd(model, canopy, &value), 0);
    return value;
}

static double heat(struct bench_model *model, int fixture)
{
    double value = -1;
    assert_int_equal(bench_model_heat(model, fixture, &value), 0);
    return value;
}

static double power(struct bench_model *model, int fixture)
{
    double value = -1;
    assert_int_equal(bench_model_power(model, fixture, &value), 0);
    return value;
}

static void fault(struct bench_model *model, enum bench_fault_kind kind, int unit, double value)
{
    const struct bench_fault spec = {.from_s = bench_model_seconds(model) + 0.5,
                                     .length_s = 100,
                                     .kind = kind,
                                     .unit = unit,
                                     .value = value};
    assert_int_equal(bench_model_add_fault(model, &spec), 0);
}

static void test_same_seed_same_bytes(void **state)
{
    (void)state;
    struct bench_model *a = begin(7), *b = begin(7), *c = begin(8);
    int differing = 0;
    struct bench_model *all[] = {a, b, c};
    for (int i = 0; i < 3; i++) {
        light(all[i], 0.7);
    }
    for (int t = 0; t < 2000; t++) {
        double values[3][4];
        for (int i = 0; i < 3; i++) {
            bench_model_step(all[i], t % 7 == 0 ? 0.1 : 1);
            values[i][0] = ppfd(all[i], 0);
            values[i][1] = heat(all[i], 2);
            values[i][2] = power(all[i], 1);
            double humidity = 0;
            assert_int_equal(bench_model_air(all[i], &values[i][3], &humidity), 0);
        }
        assert_memory_equal(values[0], values[1], sizeof values[0]);
        differing += values[0][0] != values[2][0];
        assert_true(values[0][0] == ppfd(a, 0)); /* the same until the next step */
    }
    assert_true(differing > 1500);
    bench_model_destroy(a);
    bench_model_destroy(b);
    bench_model_destroy(c);
}

static void test_light_adds_up(void **state)
{
    (void)state;
    struct bench_model *model = begin(1);
    light(model, 1);
    bench_model_set_daylight(model, 0, 100);
    run(model, 1);
    assert_near(bench_model_true_lamp_umol(model, 0), 400, 2);
    assert_near(bench_model_true_umol(model, 0), 500, 2);
    assert_near(bench_model_true_umol(model, 1), 200, 1);
    bench_model_set_switch(model, 0, false);
    run(model, 1);
    assert_near(bench_model_true_umol(model, 0), 300, 2);
    bench_model_destroy(model);
}

static void test_noise_is_as_said(void **state)
{
    (void)state;
    struct bench_model *model = begin(3);
    light(model, 1);
    run(model, 4 * 3600);
    const int count = 20000;
    double sum = 0, squares = 0, heat_sum = 0, heat_squares = 0;
    for (int i = 0; i < count; i++) {
        run(model, 1);
        double light_error = ppfd(model, 0) / bench_model_true_umol(model, 0) - 1;
        double heat_error = heat(model, 0) - bench_model_true_heatsink_c(model, 0);
        sum += light_error;
        squares += light_error * light_error;
        heat_sum += heat_error;
        heat_squares += heat_error * heat_error;
    }
    assert_near(sum / count, 0, 0.0002);
    assert_near(sqrt(squares / count), 0.005, 0.0002);
    assert_near(heat_sum / count, 0, 0.02);
    /* noise and the rounding error of the quantum, 0.25/√12 */
    assert_near(sqrt(heat_squares / count), sqrt(0.15 * 0.15 + 0.25 * 0.25 / 12), 0.01);
    bench_model_destroy(model);
}

static void test_room(void **state)
{
    (void)state;
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    setup.room_c = 20;
    setup.room_swing_c = 3;
    setup.canopy_count = setup.fixture_count = 1;
    bench_fixture_defaults(&setup.fixtures[0], 400, 500);
    struct bench_model *model = bench_model_create(&setup);
    assert_non_null(model);
    double lowest = 100, highest = 0, temperature = 0, humidity = 0, dry = 0;
    for (int minute = 0; minute < 1440; minute++) {
        bench_model_step(model, 60);
        assert_int_equal(bench_model_air(model, &temperature, &humidity), 0);
        lowest = fmin(lowest, temperature);
        highest = fmax(highest, temperature);
        dry = minute == 720 ? humidity : dry;
    }
    assert_near(lowest, 17, 0.3);
    assert_near(highest, 23, 0.3);
    assert_true(dry < 56 && dry > 45); /* warmer air, lower relative humidity */
    bench_model_set_drive(model, 0, 1);
    bench_model_set_switch(model, 0, true);
    for (int minute = 0; minute < 1440; minute++) {
        bench_model_step(model, 60);
    }
    assert_int_equal(bench_model_air(model, &temperature, &humidity), 0);
    assert_near(temperature, 17 + 0.002 * 500, 0.3);
    bench_model_destroy(model);
}

static void test_ppfd_faults(void **state)
{
    (void)state;
    struct bench_model *model = begin(1);
    light(model, 0.5);
    run(model, 10);
    double before = ppfd(model, 0), value = 0;

    fault(model, BENCH_PPFD_STUCK, 0, 0);
    light(model, 1);
    run(model, 50);
    assert_true(ppfd(model, 0) == before);
    assert_true(ppfd(model, 1) > 180); /* the other canopy is untouched */
    run(model, 51);
    assert_near(ppfd(model, 0), 400, 20);

    fault(model, BENCH_PPFD_NAN, 0, 0);
    run(model, 1);
    assert_true(isnan(ppfd(model, 0)));
    run(model, 100);
    fault(model, BENCH_PPFD_SILENT, 1, 0);
    run(model, 1);
    assert_int_equal(bench_model_ppfd(model, 1, &value), -ETIMEDOUT);
    assert_true(ppfd(model, 0) > 300);
    run(model, 100);
    fault(model, BENCH_PPFD_GAIN, 0, 1.5);
    run(model, 1);
    assert_near(ppfd(model, 0) / bench_model_true_umol(model, 0), 1.5, 0.04);
    bench_model_destroy(model);
}

static void test_fixture_faults(void **state)
{
    (void)state;
    struct bench_model *model = begin(1);
    double value = 0;
    light(model, 0.5);
    run(model, 10);
    double before = heat(model, 0);
    fault(model, BENCH_HEAT_STUCK, 0, 0);
    fault(model, BENCH_HEAT_SILENT, 1, 0);
    light(model, 1);
    run(model, 90);
    assert_true(heat(model, 0) == before);
    assert_int_equal(bench_model_heat(model, 1, &value), -ETIMEDOUT);
    assert_true(heat(model, 2) > before + 2);
    run(model, 20);

    fault(model, BENCH_TRIP, 0, 0.8);
    run(model, 5);
    assert_true(power(model, 0) < 3);
    assert_true(power(model, 1) > 100);
    run(model, 100);
    assert_true(power(model, 0) < 3); /* tripped until its mains was cut */
    bench_model_set_switch(model, 0, false);
    run(model, 6);
    bench_model_set_switch(model, 0, true);
    run(model, 2);
    assert_true(power(model, 0) > 100);

    bench_model_destroy(model);
}

static void test_contact_faults(void **state)
{
    (void)state;
    struct bench_model *model = begin(1);
    light(model, 1);
    run(model, 10);
    fault(model, BENCH_DEAD, 0, 0);
    run(model, 2);
    assert_true(power(model, 0) < 3);
    run(model, 100);

    fault(model, BENCH_WELDED, 0, 0);
    run(model, 1);
    bench_model_set_switch(model, 0, false);
    run(model, 2);
    bool closed = true;
    assert_int_equal(bench_model_switch(model, 0, &closed), 0);
    assert_false(closed);
    assert_true(power(model, 0) > 100);
    run(model, 100);
    assert_near(power(model, 0), 0, 0);

    fault(model, BENCH_SWITCH_OPEN, 0, 0);
    run(model, 1);
    bench_model_set_switch(model, 0, true);
    run(model, 2);
    assert_int_equal(bench_model_switch(model, 0, &closed), 0);
    assert_true(closed);
    assert_near(power(model, 0), 0, 0);
    run(model, 100);
    assert_true(power(model, 0) > 100);

    fault(model, BENCH_HEAT_STEP, 2, 30);
    double sink = bench_model_true_heatsink_c(model, 2);
    run(model, 100);
    assert_true(bench_model_true_heatsink_c(model, 2) > sink + 2);
    bench_model_destroy(model);
}

static void test_output_and_bus_faults(void **state)
{
    (void)state;
    struct bench_model *model = begin(1);
    double value = 0, humidity = 0;
    bool closed = false;
    light(model, 0.5);
    run(model, 1);
    fault(model, BENCH_DIM_STUCK, 1, 0);
    run(model, 1);
    light(model, 0.9);
    assert_int_equal(bench_model_drive(model, 0, &value), 0);
    assert_near(value, 0.9, 0);
    assert_int_equal(bench_model_drive(model, 1, &value), 0);
    assert_near(value, 0.5, 0);
    run(model, 101);

    fault(model, BENCH_BUS_DOWN, 0, 0);
    fault(model, BENCH_LATE, 0, 2.5);
    run(model, 1);
    light(model, 0.2);
    assert_int_equal(bench_model_ppfd(model, 1, &value), -ETIMEDOUT);
    assert_int_equal(bench_model_heat(model, 1, &value), -ETIMEDOUT);
    assert_int_equal(bench_model_power(model, 2, &value), -ETIMEDOUT);
    assert_int_equal(bench_model_drive(model, 0, &value), -ETIMEDOUT);
    assert_int_equal(bench_model_switch(model, 0, &closed), -ETIMEDOUT);
    assert_int_equal(bench_model_air(model, &value, &humidity), -ETIMEDOUT);
    assert_true(bench_model_has_fault(model, BENCH_LATE, 5, &value));
    assert_near(value, 2.5, 0);
    run(model, 100);
    assert_false(bench_model_has_fault(model, BENCH_LATE, 0, NULL));
    assert_int_equal(bench_model_drive(model, 0, &value), 0);
    assert_near(value, 0.9, 0); /* the write did not arrive */
    bench_model_destroy(model);
}

static void test_limits(void **state)
{
    (void)state;
    struct bench_model *model = begin(1);
    double value = 5;
    bool closed = true;
    assert_int_equal(bench_model_ppfd(model, 2, &value), -EINVAL);
    assert_int_equal(bench_model_heat(model, 3, &value), -EINVAL);
    assert_int_equal(bench_model_power(model, -1, &value), -EINVAL);
    assert_int_equal(bench_model_drive(model, 64, &value), -EINVAL);
    assert_int_equal(bench_model_switch(model, 3, &closed), -EINVAL);
    assert_true(value == 5 && closed);
    assert_true(isnan(bench_model_true_umol(model, 2)));
    bench_model_set_drive(model, 3, 1);
    bench_model_set_switch(model, -1, true);
    bench_model_set_daylight(model, 9, 1);
    bench_model_step(model, (double)NAN);
    bench_model_step(model, -1);
    assert_true(bench_model_seconds(model) == 0);

    const struct bench_fault one = {.length_s = 1, .kind = BENCH_DEAD};
    for (int i = 0; i < BENCH_FAULTS_MAX; i++) {
        assert_int_equal(bench_model_add_fault(model, &one), 0);
    }
    assert_int_equal(bench_model_add_fault(model, &one), -ENOSPC);
    run(model, 3);
    bench_model_cut_faults(model, 2);
    assert_int_equal(bench_model_fault_count(model), 2);
    bench_model_destroy(model);
    bench_model_destroy(NULL);

    struct bench_setup bad;
    bench_setup_defaults(&bad);
    bad.fixture_count = BENCH_FIXTURES_MAX + 1;
    assert_null(bench_model_create(&bad));
    bad.fixture_count = 1; /* lights a canopy that does not exist */
    bench_fixture_defaults(&bad.fixtures[0], 100, 100);
    assert_null(bench_model_create(&bad));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_same_seed_same_bytes),
        cmocka_unit_test(test_light_adds_up),
        cmocka_unit_test(test_noise_is_as_said),
        cmocka_unit_test(test_room),
        cmocka_unit_test(test_ppfd_faults),
        cmocka_unit_test(test_fixture_faults),
        cmocka_unit_test(test_contact_faults),
        cmocka_unit_test(test_output_and_bus_faults),
        cmocka_unit_test(test_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
