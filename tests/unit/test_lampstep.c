/* SPDX-License-Identifier: Apache-2.0 */
/* The lamp's steps as a check of the light sensor. */
#include "lampstep.h"

#include "near.h"
#include "prng.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define LAMP_UMOL 200.0

struct bed {
    struct lampstep watch;
    struct lampstep_sight sight;
    int64_t now_s;
    double gain; /* of the sensor, over lamp and daylight */
    double age;  /* of the lamp */
    double sky_umol, unrest_umol;
    int64_t light_day;
    struct prng random;
    int told;
};

static void see(struct bed *bed, enum lampstep_lamp lamp, double level)
{
    bed->now_s++;
    const double sky = bed->sky_umol + bed->unrest_umol * prng_real(&bed->random, -1, 1);
    const struct lampstep_sample sample = {
        .taken_ns = bed->now_s * UNITS_NS_PER_S,
        .seen_umol = bed->gain * (sky + bed->age * level * LAMP_UMOL),
        .lamp_umol = level * LAMP_UMOL,
        .lamp = lamp,
        .light_day = bed->light_day,
    };
    bed->told += lampstep_step(&bed->watch, &bed->sight, &sample);
}

/* A minute dark, half a minute of rise, a minute lit: and then dark again. */
static void light_up(struct bed *bed, double level)
{
    for (int i = 0; i < 60; i++) {
        see(bed, LAMPSTEP_DARK, 0);
    }
    for (int i = 0; i < 30; i++) {
        see(bed, LAMPSTEP_MOVING, level * i / 30);
    }
    for (int i = 0; i < 60; i++) {
        see(bed, LAMPSTEP_LIT, level);
    }
    see(bed, LAMPSTEP_MOVING, 0);
}

static struct bed begin(void)
{
    return (struct bed){.gain = 1, .age = 1, .random = prng_start("lampstep")};
}

static void a_true_sensor_says_nothing(void **state)
{
    (void)state;
    struct bed bed = begin();
    for (int i = 0; i < 50; i++) {
        light_up(&bed, 0.4);
    }
    assert_int_equal(bed.told, 0);
    assert_near(lampstep_ratio(&bed.watch), 1, 1e-6);
}

static void nothing_is_known_before_nine_steps(void **state)
{
    (void)state;
    struct bed bed = begin();
    bed.gain = 0.8;
    for (int i = 0; i < 4; i++) {
        light_up(&bed, 1); /* the first one has one step, the others a fall and a rise */
    }
    assert_false(units_known(lampstep_ratio(&bed.watch)));
    assert_int_equal(bed.told, 0);
    light_up(&bed, 1);
    assert_near(lampstep_ratio(&bed.watch), 0.8, 1e-6);
    assert_int_equal(bed.told, 1);
}

/* Under daylight the sum rises by the lamp's share alone, so the sun cancels. */
static void the_sun_does_not_matter(void **state)
{
    (void)state;
    for (int percent = 70; percent <= 140; percent += 10) {
        struct bed bed = begin();
        bed.gain = percent / 100.0;
        for (int i = 0; i < 12; i++) {
            bed.sky_umol = 90 * i;
            light_up(&bed, 0.5);
        }
        assert_int_equal(bed.told, percent == 100 ? 0 : 1);
        assert_near(lampstep_ratio(&bed.watch), bed.gain, 1e-6);
    }
}

static void an_old_lamp_looks_like_a_low_sensor(void **state)
{
    (void)state;
    struct bed bed = begin();
    bed.age = 0.9;
    for (int i = 0; i < 6; i++) {
        light_up(&bed, 0.7);
    }
    assert_near(lampstep_ratio(&bed.watch), 0.9, 1e-6);
    assert_int_equal(bed.told, 1);
}

/* 5 % in 60 days, two steps a day: it is told when the median has moved by a twentieth, and every
 * twentieth again. */
static void slow_drift_is_told_by_twentieths(void **state)
{
    (void)state;
    struct bed bed = begin();
    int first_day = 0;
    for (int day = 0; day < 130; day++) {
        bed.gain = 1 - 0.05 * day / 60;
        light_up(&bed, 0.5);
        first_day = first_day == 0 && bed.told == 1 ? day : first_day;
    }
    assert_in_range(first_day, 60, 64);
    assert_int_equal(bed.told, 2);
}

/* Clouds that shake the reading by more than the lamp's share allows are no evidence; between them
 * the steps of calm hours are. */
static void an_unquiet_sky_is_no_evidence(void **state)
{
    (void)state;
    struct bed bed = begin();
    bed.sky_umol = 600;
    bed.unrest_umol = 300;
    for (int i = 0; i < 200; i++) {
        light_up(&bed, 0.2);
    }
    assert_int_equal(bed.told, 0);
    bed.unrest_umol = 0.5;
    bed.gain = 1.1;
    for (int i = 0; i < 8; i++) {
        light_up(&bed, 0.2);
    }
    assert_int_equal(bed.told, 1);
    assert_near(lampstep_ratio(&bed.watch), 1.1, 0.02);
}

static void one_wild_step_is_no_drift(void **state)
{
    (void)state;
    struct bed bed = begin();
    for (int i = 0; i < 12; i++) {
        bed.gain = i == 7 ? 0.6 : 1;
        light_up(&bed, 0.5);
    }
    assert_int_equal(bed.told, 0);
}

static void small_late_and_repeated_samples_are_left_out(void **state)
{
    (void)state;
    struct bed bed = begin();
    bed.gain = 0.7;
    for (int i = 0; i < 12; i++) {
        light_up(&bed, 0.04); /* 8 µmol */
    }
    assert_false(units_known(lampstep_ratio(&bed.watch)));
    for (int i = 0; i < 24; i++) { /* a minute and a half between the sides */
        see(&bed, LAMPSTEP_DARK, 0);
        see(&bed, LAMPSTEP_DARK, 0);
        see(&bed, LAMPSTEP_DARK, 0);
        bed.now_s += 90;
        for (int k = 0; k < 9; k++) {
            see(&bed, LAMPSTEP_LIT, 1);
        }
        bed.now_s += 90;
    }
    assert_false(units_known(lampstep_ratio(&bed.watch)));
    for (int i = 0; i < 12; i++) { /* the same sample again and again */
        see(&bed, LAMPSTEP_DARK, 0);
        bed.now_s--;
    }
    assert_int_equal(bed.sight.before.count, 1);
}

static void steps_have_their_light_day(void **state)
{
    (void)state;
    struct lampstep watch = {.count = 0};
    int64_t first = 0;
    int64_t last = 0;
    assert_false(lampstep_days(&watch, &first, &last));
    struct bed bed = begin();
    for (int i = 0; i < 6; i++) { /* twelve steps, the last nine are kept */
        bed.light_day = 100 + i;
        light_up(&bed, 0.5);
    }
    assert_true(lampstep_days(&bed.watch, &first, &last));
    assert_int_equal(first, 101);
    assert_int_equal(last, 105);
}

static void a_restart_keeps_the_ratios(void **state)
{
    (void)state;
    struct bed bed = begin();
    for (int i = 0; i < 8; i++) {
        light_up(&bed, 0.5);
    }
    bed.sight = (struct lampstep_sight){.after = {.count = 0}};
    assert_near(lampstep_ratio(&bed.watch), 1, 1e-6);
    for (int i = 0; i < 9; i++) { /* lit after it: no step, nobody saw it dark */
        see(&bed, LAMPSTEP_LIT, 0.5);
    }
    assert_int_equal(bed.sight.after.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_true_sensor_says_nothing),
        cmocka_unit_test(nothing_is_known_before_nine_steps),
        cmocka_unit_test(the_sun_does_not_matter),
        cmocka_unit_test(an_old_lamp_looks_like_a_low_sensor),
        cmocka_unit_test(slow_drift_is_told_by_twentieths),
        cmocka_unit_test(an_unquiet_sky_is_no_evidence),
        cmocka_unit_test(one_wild_step_is_no_drift),
        cmocka_unit_test(small_late_and_repeated_samples_are_left_out),
        cmocka_unit_test(steps_have_their_light_day),
        cmocka_unit_test(a_restart_keeps_the_ratios),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
