/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Bad values that pass as numbers, as reported from the field: a 1-Wire thermometer's 85 °C before
 * its first conversion (in its maker's data sheet: power-on reset value) passes its CRC and can
 * also be real; −127 °C from driver libraries for a missing probe; 0, NaN and frozen values. A
 * Modbus float 500.0 read in the wrong word order is 2.4385e-41 (IEEE 754, calculated): inside
 * every usual range, so refused as tiny.
 */
#include "quality.h"
#include "near.h"
#include "prng.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define NONE ((double)NAN)
#define S    UNITS_NS_PER_S

static const struct quality_rules light_rules = {
    .low = -10,
    .high = 2500,
    .stale_ns = 5 * S,
    .lost_ns = 30 * S,
    .jump_per_s = (double)INFINITY,
    .frozen_ns = 60 * S,
    .frozen_stir = 0.1,
    .frozen_above = 1,
    .power_on_c = (double)NAN,
};

static const struct quality_rules heat_rules = {
    .low = -40,
    .high = 150,
    .stale_ns = 5 * S,
    .lost_ns = 30 * S,
    .jump_per_s = 5,
    .frozen_ns = 0,
    .frozen_stir = 0.1,
    .frozen_above = -(double)INFINITY,
    .power_on_c = 85,
};

/* One sensor asked once a second. */
struct probe {
    const struct quality_rules *rules;
    struct quality quality;
    int64_t now_ns;
    double stimulus;
    double neighbour;
};

static struct probe begin(const struct quality_rules *rules)
{
    struct probe probe = {.rules = rules, .stimulus = NONE, .neighbour = NONE};

    quality_reset(&probe.quality);
    return probe;
}

static struct reading feed(struct probe *probe, double value)
{
    probe->now_ns += S;
    const struct quality_sample sample = {value, probe->now_ns, 0, probe->neighbour};
    return quality_step(probe->rules, &probe->quality, &sample, probe->stimulus, probe->now_ns);
}

static struct reading silence(struct probe *probe, int seconds)
{
    struct reading reading = READING_NONE;

    for (int i = 0; i < seconds; i++) {
        probe->now_ns += S;
        const struct quality_sample none = {NONE, probe->now_ns, -110, NONE};
        reading =
            quality_step(probe->rules, &probe->quality, &none, probe->stimulus, probe->now_ns);
    }
    return reading;
}

static void assert_reading(struct reading reading, enum reading_quality quality, double value)
{
    assert_int_equal(reading.quality, quality);
    if (isnan(value)) {
        assert_true(isnan(reading.value));
    } else {
        assert_near(reading.value, value, 0);
    }
}

static void test_impossible_values_are_refused(void **state)
{
    (void)state;
    static const struct {
        double value;
        enum quality_fault fault;
    } rows[] = {
        {(double)NAN, QUALITY_NOT_A_NUMBER},
        {(double)INFINITY, QUALITY_NOT_A_NUMBER},
        {-(double)INFINITY, QUALITY_NOT_A_NUMBER},
        {2.4385e-41, QUALITY_TINY}, /* 43FA 0000 with its words swapped */
        {-9e-7, QUALITY_TINY},
        {1.0866e-19, QUALITY_TINY}, /* 47F1 2000 with its words swapped */
        {8.6079e9, QUALITY_RANGE},  /* 449A 5000 with its words swapped */
        {-10.001, QUALITY_RANGE},
        {2500.1, QUALITY_RANGE},
        {-9999, QUALITY_RANGE},
        {6553.5, QUALITY_RANGE},
        {3276.7, QUALITY_RANGE},
        {0, QUALITY_OK},
        {-0.0, QUALITY_OK},
        {1e-6, QUALITY_OK},
        {-10, QUALITY_OK},
        {2500, QUALITY_OK},
        {-2.00412, QUALITY_OK}, /* 437A C000 swapped: only known light can tell */
    };

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct probe probe = begin(&light_rules);
        struct reading reading = feed(&probe, rows[i].value);
        bool is_good = rows[i].fault == QUALITY_OK;
        assert_int_equal(probe.quality.fault, rows[i].fault);
        assert_reading(reading, is_good ? READING_GOOD : READING_LOST,
                       is_good ? rows[i].value : NONE);

        /* After a good value it stands in, with its own time, and grows old. */
        probe = begin(&light_rules);
        (void)feed(&probe, 100);
        int64_t good_ns = probe.now_ns;
        reading = feed(&probe, rows[i].value);
        if (!is_good) {
            assert_reading(reading, READING_GOOD, 100);
            assert_true(reading.taken_ns == good_ns);
        }
    }
}

static void test_ages_from_good_to_lost(void **state)
{
    (void)state;
    struct probe probe = begin(&light_rules);

    assert_reading(silence(&probe, 3), READING_LOST, NONE);
    assert_int_equal(probe.quality.fault, QUALITY_NO_ANSWER);
    assert_reading(feed(&probe, 250), READING_GOOD, 250);
    assert_reading(silence(&probe, 5), READING_GOOD, 250);
    assert_reading(silence(&probe, 1), READING_STALE, 250);
    assert_reading(silence(&probe, 24), READING_STALE, 250);
    assert_reading(silence(&probe, 1), READING_LOST, NONE);
    assert_int_equal(probe.quality.fault, QUALITY_NO_ANSWER);
    assert_reading(feed(&probe, 251), READING_GOOD, 251);
    assert_int_equal(probe.quality.fault, QUALITY_OK);
}

static void test_a_repeated_sample_only_ages(void **state)
{
    (void)state;
    struct probe probe = begin(&light_rules);
    struct reading reading;

    (void)feed(&probe, 250);
    int64_t taken_ns = probe.now_ns;
    const struct quality_sample same = {999, taken_ns, 0, NONE}, older = {7, taken_ns - S, 0, NONE};
    for (int i = 1; i <= 40; i++) {
        reading = quality_step(&light_rules, &probe.quality, &same, NONE, taken_ns + i * S);
        assert_int_equal(reading.quality, i <= 5    ? READING_GOOD
                                          : i <= 30 ? READING_STALE
                                                    : READING_LOST);
    }
    assert_int_equal(probe.quality.fault,
                     QUALITY_NO_ANSWER); /* a worker that hangs gives no errors */
    reading = quality_step(&light_rules, &probe.quality, &older, NONE, taken_ns + S);
    assert_reading(reading, READING_GOOD, 250); /* an older one too */
}

static void test_one_jump_is_suspect_three_are_true(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    assert_reading(feed(&probe, 40), READING_GOOD, 40);
    assert_reading(feed(&probe, 44), READING_GOOD, 44);
    assert_reading(feed(&probe, 70), READING_SUSPECT, 70);
    assert_int_equal(probe.quality.fault, QUALITY_JUMP);
    assert_reading(feed(&probe, 44), READING_GOOD, 44); /* it was a single one */
    assert_int_equal(probe.quality.fault, QUALITY_OK);

    assert_reading(feed(&probe, 70), READING_SUSPECT, 70);
    assert_reading(feed(&probe, 71), READING_SUSPECT, 71);
    assert_reading(feed(&probe, 73), READING_GOOD, 73);
    assert_int_equal(probe.quality.fault, QUALITY_OK);

    /* Here and there is never believed. */
    for (int i = 0; i < 20; i++) {
        assert_reading(feed(&probe, 10), READING_SUSPECT, 10);
        assert_reading(feed(&probe, 130), READING_SUSPECT, 130);
    }
}

static void test_an_old_jump_excuses_no_new_one(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    (void)feed(&probe, 40);
    assert_reading(feed(&probe, 70), READING_SUSPECT, 70);
    for (int i = 0; i < 30; i++) {
        assert_reading(feed(&probe, 40), READING_GOOD, 40);
    }
    assert_reading(feed(&probe, 70), READING_SUSPECT, 70);
}

static void test_silence_does_not_clear_a_suspicion(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    (void)feed(&probe, 40);
    (void)feed(&probe, 70);
    assert_reading(silence(&probe, 1), READING_SUSPECT, 70);
    assert_reading(silence(&probe, 5), READING_STALE, 40); /* both are old by now */
    assert_reading(silence(&probe, 30), READING_LOST, NONE);
    assert_reading(feed(&probe, 70), READING_GOOD, 70); /* 37 s are time enough for 30 K */
}

static void test_garbage_between_breaks_the_row(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    (void)feed(&probe, 40);
    for (int i = 0; i < 2; i++) {
        assert_reading(feed(&probe, 140), READING_SUSPECT, 140);
        assert_reading(feed(&probe, 1000), READING_GOOD, 40);
        assert_int_equal(probe.quality.fault, QUALITY_RANGE);
    }
    assert_reading(feed(&probe, 140), READING_SUSPECT, 140);
}

static void test_power_on_value(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    assert_reading(feed(&probe, 85), READING_LOST, NONE);
    assert_int_equal(probe.quality.fault, QUALITY_POWER_ON);
    assert_reading(feed(&probe, 85), READING_LOST, NONE);
    assert_reading(feed(&probe, 30), READING_GOOD, 30);
    assert_reading(feed(&probe, 85), READING_GOOD, 30); /* a probe that lost power for a moment */
    assert_int_equal(probe.quality.fault, QUALITY_POWER_ON);

    /* Reached step by step it is real. */
    for (int i = 0; i < 22; i++) {
        assert_reading(feed(&probe, 30 + 2.5 * i), READING_GOOD, 30 + 2.5 * i);
    }
    assert_reading(feed(&probe, 85), READING_GOOD, 85);
    assert_reading(feed(&probe, 85), READING_GOOD, 85);

    /* After a silence its neighbour is too old. */
    (void)silence(&probe, 6);
    assert_reading(feed(&probe, 85), READING_STALE, 85);
    assert_int_equal(probe.quality.fault, QUALITY_POWER_ON);
    assert_reading(feed(&probe, 85.0625), READING_GOOD, 85.0625); /* the next step of the probe */
}

/* Days of a probe that shows 85 °C before its first conversion (Maxim DS18B20 data sheet, "power-on
 * reset value"; it can be real too). `runs`: from one value to the next in so many seconds. What
 * the heat guard may be shown: never 85 where it is not hot, and real heat within a bounded time.
 */
static void test_power_on_value_in_its_context(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        struct {
            double from_c, to_c;
            int seconds;
        } runs[4];
        bool is_hot;  /* a value ≥ 84 was shown as good in the last run */
        bool is_lost; /* at its end */
        double at_end_c;
    } rows[] = {
        {"starts at 85, true 24", {{85, 85, 3}, {24, 24, 5}}, false, false, 24},
        {"loses power for a moment at 40",
         {{40, 40, 30}, {85, 85, 2}, {40, 40, 5}},
         false,
         false,
         40},
        {"again and again", {{40, 40, 9}, {85, 85, 9}, {40, 40, 9}, {85, 85, 9}}, false, false, 40},
        {"climbs 1 K/s", {{70, 90, 20}}, true, false, 90},
        {"climbs to 85 and stays", {{70, 85, 15}, {85, 85, 300}}, true, false, 85},
        {"falls from a real 110", {{60, 110, 25}, {110, 85, 25}, {85, 85, 5}}, true, false, 85},
        {"stuck at 85 from the start", {{85, 85, 59}}, false, true, NONE},
        {"… is heat after a minute", {{85, 85, 61}}, true, false, 85},
        {"stuck at 85 from 40", {{40, 40, 9}, {85, 85, 61}}, true, false, 85},
        {"stuck at 85, then 84.5", {{85, 85, 10}, {84.5, 84.5, 1}}, true, false, 84.5},
    };

    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct quality_rules rules = heat_rules;
        rules.lost_ns = 60 * S; /* the usual one */
        struct probe probe = begin(&rules);
        struct reading reading = READING_NONE;
        bool is_hot = false;
        for (int k = 0; k < 4 && rows[i].runs[k].seconds > 0; k++) {
            int seconds = rows[i].runs[k].seconds;
            double from_c = rows[i].runs[k].from_c;
            double slope = (rows[i].runs[k].to_c - from_c) / seconds;
            is_hot = false;
            for (int t = 1; t <= seconds; t++) {
                reading = feed(&probe, from_c + slope * t);
                is_hot = is_hot || (reading_is_good(&reading) && reading.value >= 84);
            }
        }
        print_message("%s\n", rows[i].what);
        assert_true(is_hot == rows[i].is_hot);
        assert_true((reading.quality == READING_LOST) == rows[i].is_lost);
        if (!rows[i].is_lost) {
            assert_near(reading.value, rows[i].at_end_c, 1e-9);
        }
    }
}

static void test_a_neighbour_backs_a_power_on_value(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    probe.neighbour = 40;
    assert_reading(feed(&probe, 85), READING_LOST, NONE);
    assert_int_equal(probe.quality.fault, QUALITY_POWER_ON);
    probe.neighbour = 76;
    assert_reading(feed(&probe, 85), READING_GOOD, 85);
    probe = begin(&heat_rules);
    (void)feed(&probe, 40);
    probe.neighbour = 94;
    for (int i = 0; i < 2; i++) { /* still a jump, believed as every jump is */
        assert_reading(feed(&probe, 85), READING_SUSPECT, 85);
    }
    assert_reading(feed(&probe, 85), READING_GOOD, 85);
}

/* A probe that lost its power beside a good one is as good as absent; alone it is heat. */
static void test_a_neighbour_refutes_a_lasting_power_on_value(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    probe.neighbour = 74.9;
    for (int i = 0; i < 300; i++) {
        assert_reading(feed(&probe, 85), READING_LOST, NONE);
        assert_int_equal(probe.quality.fault, QUALITY_POWER_ON);
    }
    probe.neighbour = NONE;
    assert_reading(feed(&probe, 85), READING_GOOD, 85);
}

/* Silence longer than stale_ns, or any other value, begins the count anew; errors between do not.
 */
static void test_power_on_values_must_come_in_a_row(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    for (int i = 0; i < 10; i++) {
        (void)silence(&probe, 6);
        assert_reading(feed(&probe, 85), READING_LOST, NONE);
    }
    (void)feed(&probe, 20);
    for (int i = 0; i < 10; i++) {
        (void)silence(&probe, 2);
        assert_int_equal(feed(&probe, 85).quality == READING_GOOD && i > 1, false);
        assert_int_equal(probe.quality.fault, QUALITY_POWER_ON);
    }
    (void)silence(&probe, 2);
    assert_reading(feed(&probe, 85), READING_GOOD, 85); /* lost_ns = 30 s after the first */
}

static void test_junk_of_thermometers(void **state)
{
    (void)state;
    struct probe probe = begin(&heat_rules);

    (void)feed(&probe, 45);
    assert_reading(feed(&probe, -127), READING_GOOD, 45);
    assert_int_equal(probe.quality.fault, QUALITY_RANGE);
    assert_reading(feed(&probe, 0), READING_SUSPECT, 0); /* possible, but not within a second */
    assert_reading(feed(&probe, NONE), READING_GOOD, 45);
    assert_reading(feed(&probe, 45.5), READING_GOOD, 45.5);
}

static void test_frozen_while_the_light_moved(void **state)
{
    (void)state;
    struct probe probe = begin(&light_rules);

    probe.stimulus = 0.5;
    for (int i = 0; i < 500; i++) {
        assert_reading(feed(&probe, 150), READING_GOOD, 150); /* nothing stirs it: no suspicion */
    }
    probe.stimulus = 0.59;
    for (int i = 0; i < 500; i++) {
        assert_reading(feed(&probe, 150), READING_GOOD, 150);
    }
    probe.stimulus = 0.61;
    for (int i = 0; i < 60; i++) {
        assert_reading(feed(&probe, 150), READING_GOOD, 150);
    }
    probe.stimulus = 0.5; /* back again changes nothing: it should have moved meanwhile */
    assert_reading(feed(&probe, 150), READING_SUSPECT, 150);
    assert_int_equal(probe.quality.fault, QUALITY_FROZEN);
    assert_reading(feed(&probe, 150), READING_SUSPECT, 150);
    assert_int_equal(probe.quality.fault, QUALITY_FROZEN);
    assert_reading(feed(&probe, 150.1), READING_GOOD, 150.1);
    assert_int_equal(probe.quality.fault, QUALITY_OK);
    for (int i = 0; i < 500; i++) {
        assert_reading(feed(&probe, 150.1), READING_GOOD, 150.1);
    }
}

static void test_frozen_needs_samples_and_a_known_stimulus(void **state)
{
    (void)state;
    struct probe probe = begin(&light_rules);

    for (int i = 0; i < 200; i++) {
        assert_reading(feed(&probe, 5), READING_GOOD, 5);
    }
    probe.stimulus = 0; /* becomes known */
    (void)feed(&probe, 5);
    probe.stimulus = 1;
    assert_reading(feed(&probe, 5), READING_GOOD, 5);
    /* A sensor that does not answer is old, not frozen. */
    assert_reading(silence(&probe, 100), READING_LOST, NONE);
    assert_int_equal(probe.quality.fault, QUALITY_NO_ANSWER);
    assert_reading(feed(&probe, 5), READING_SUSPECT, 5);
    /* A dark sensor is not frozen: under a dead lamp it tells the truth. */
    probe = begin(&light_rules);
    probe.stimulus = 0;
    (void)feed(&probe, 0.3);
    probe.stimulus = 1;
    for (int i = 0; i < 200; i++) {
        assert_reading(feed(&probe, 0.3), READING_GOOD, 0.3);
    }

    struct quality_rules blind = light_rules;
    blind.frozen_ns = 0;
    probe = begin(&blind);
    probe.stimulus = 0;
    (void)feed(&probe, 5);
    probe.stimulus = 1;
    for (int i = 0; i < 500; i++) {
        assert_reading(feed(&probe, 5), READING_GOOD, 5);
    }
}

/* Whatever comes in: what goes out as good is in range, fresh and a sample that was really given.
 */
static void test_good_is_always_good(void **state)
{
    (void)state;
    static const double junk[] = {(double)NAN, (double)INFINITY, 2.4385e-41, 85, -127, 0, 1e9,
                                  3276.7};
    struct prng dice = prng_start(__func__);

    for (int life = 0; life < 200; life++) {
        struct probe probe = begin(life % 2 ? &heat_rules : &light_rules);
        double values[2000] = {0};
        int64_t times[2000] = {0};
        int given = 0;
        double value = 40;
        for (int i = 0; i < 2000; i++) {
            bool is_silent = prng_int(&dice, 0, 7) == 0;
            value += prng_real(&dice, -3, 3);
            double shown = prng_int(&dice, 0, 5) == 0 ? junk[prng_int(&dice, 0, 7)] : value;
            probe.stimulus = prng_real(&dice, 0, 1);
            struct reading reading =
                is_silent ? silence(&probe, (int)prng_int(&dice, 1, 12)) : feed(&probe, shown);
            if (!is_silent) {
                values[given] = shown;
                times[given++] = probe.now_ns;
            }
            assert_true((reading.quality == READING_LOST) == isnan(reading.value));
            if (reading.quality != READING_GOOD) {
                continue;
            }
            assert_true(reading.value >= probe.rules->low && reading.value <= probe.rules->high);
            assert_true(probe.now_ns - reading.taken_ns <= probe.rules->stale_ns);
            int k = given - 1;
            while (k > 0 && times[k] != reading.taken_ns) {
                k--;
            }
            assert_true(k >= 0 && times[k] == reading.taken_ns);
            assert_near(values[k], reading.value, 0);
        }
    }
}

static void test_fault_names_differ(void **state)
{
    (void)state;
    for (int a = QUALITY_OK; a <= QUALITY_POWER_ON; a++) {
        assert_string_not_equal(quality_fault_name((enum quality_fault)a), "unknown");
        for (int b = QUALITY_OK; b < a; b++) {
            assert_string_not_equal(quality_fault_name((enum quality_fault)a),
                                    quality_fault_name((enum quality_fault)b));
        }
    }
    assert_string_equal(quality_fault_name((enum quality_fault)99), "unknown");
    assert_string_equal(quality_fault_name(QUALITY_FROZEN), "frozen");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_impossible_values_are_refused),
        cmocka_unit_test(test_ages_from_good_to_lost),
        cmocka_unit_test(test_a_repeated_sample_only_ages),
        cmocka_unit_test(test_one_jump_is_suspect_three_are_true),
        cmocka_unit_test(test_an_old_jump_excuses_no_new_one),
        cmocka_unit_test(test_silence_does_not_clear_a_suspicion),
        cmocka_unit_test(test_garbage_between_breaks_the_row),
        cmocka_unit_test(test_power_on_value),
        cmocka_unit_test(test_power_on_value_in_its_context),
        cmocka_unit_test(test_a_neighbour_backs_a_power_on_value),
        cmocka_unit_test(test_a_neighbour_refutes_a_lasting_power_on_value),
        cmocka_unit_test(test_power_on_values_must_come_in_a_row),
        cmocka_unit_test(test_junk_of_thermometers),
        cmocka_unit_test(test_frozen_while_the_light_moved),
        cmocka_unit_test(test_frozen_needs_samples_and_a_known_stimulus),
        cmocka_unit_test(test_good_is_always_good),
        cmocka_unit_test(test_fault_names_differ),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
