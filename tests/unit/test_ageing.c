/* SPDX-License-Identifier: Apache-2.0 */
/* Lamps that age and sensors that gather dust, invented: the truth is known and must be found. */
#include "ageing.h"

#include "near.h"
#include "prng.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define DAY 20760

static struct ageing ageing;
static struct ageing_rules rules;

static int begin(void **state)
{
    (void)state;
    ageing_init(&ageing);
    rules = (struct ageing_rules){
        .commissioned = DAY, .heat_c = UNITS_NONE, .limit = 0.8, .sensor_count = 1, .sensor = {11}};
    return 0;
}

/* Nearly normal, of standard deviation 1: twelve even ones added. */
static double noise(struct prng *prng)
{
    double sum = -6;
    for (int i = 0; i < 12; i++) {
        sum += prng_real(prng, 0, 1);
    }
    return sum;
}

static void book(double ratio, double heat_c, double seconds)
{
    struct ageing_sample sample = {.ratio = ratio, .heat_c = heat_c};
    for (int i = 0; i < AGEING_SENSORS; i++) {
        sample.sensor_ratio[i] = ratio;
    }
    ageing_book(&ageing, &rules, 420, &sample, seconds);
}

static struct ageing_news live_day(int day, double ratio, double heat_c)
{
    book(ratio, heat_c, 3600);
    return ageing_close(&ageing, &rules, DAY + day);
}

/* Light falls to 0.75 in 400 days; the days scatter by 1 % (mains, temperature), samples by 2 %.
 * Within 2 % of the truth on every one of 16 000 days, 0.7 % as a rule (half of that is the week by
 * which the median follows), told once, within 1.5 % of the limit. */
static void four_hundred_days(void **state)
{
    struct prng prng = prng_start("four hundred days");
    double squares = 0;
    for (int life = 0; life < 40; life++) {
        (void)begin(state);
        double told_at = 0;
        int told = 0;
        for (int day = 1; day <= 400; day++) {
            const double truth = 1 - 0.25 * day / 400;
            const double of_day = truth * (1 + 0.01 * noise(&prng));
            for (int i = 0; i < 50; i++) {
                book(of_day * (1 + 0.02 * noise(&prng)), 45 + 2 * noise(&prng), 60);
            }
            if (ageing_close(&ageing, &rules, DAY + day).has_loss) {
                told++;
                told_at = truth;
            }
            const struct ageing_view view = ageing_view(&ageing, &rules);
            assert_int_equal(view.is_known, day >= AGEING_LEAST);
            if (view.is_known) {
                assert_near(view.share, truth, 0.02);
                squares += (view.share - truth) * (view.share - truth) / (40 * 400);
                assert_true(view.spread > 0.003 && view.spread < 0.06);
            }
        }
        assert_int_equal(told, 1);
        assert_near(told_at, 0.8, 0.015);
    }
    assert_true(sqrt(squares) < 0.007);
}

/* 15 K hotter the LEDs give 3 % less: that is not compared, neither with the first day's
 * temperature nor with that of the record. */
static void another_temperature_is_not_compared(void **state)
{
    (void)state;
    (void)live_day(1, 1.0, 40);
    (void)live_day(2, 0.97, 55);
    assert_int_equal(ageing.count, 1);
    (void)live_day(3, 0.995, 49);
    assert_int_equal(ageing.count, 2);
    rules.heat_c = 55;
    (void)live_day(4, 0.97, 55);
    assert_int_equal(ageing.count, 3);
    (void)live_day(5, 1.0, 40);
    assert_int_equal(ageing.count, 3);
}

/* Nobody saw that temperature for a month: another one will do. */
static void a_month_without_a_value(void **state)
{
    (void)state;
    (void)live_day(1, 1.0, 40);
    for (int day = 2; day <= 1 + AGEING_BLIND; day++) {
        (void)live_day(day, 0.97, 55);
        assert_int_equal(ageing.count, 1);
    }
    (void)live_day(40, 0.97, 55);
    assert_int_equal(ageing.count, 2);
    assert_near((double)ageing.band_c, 55, 1e-6);
}

static void short_days_and_faults_say_nothing(void **state)
{
    (void)state;
    book(0.9, 40, AGEING_LEAST_S - 1);
    (void)ageing_close(&ageing, &rules, DAY + 1);
    assert_int_equal(ageing.count, 0);
    (void)live_day(2, 0.1, 40); /* a trip */
    (void)live_day(3, (double)NAN, 40);
    (void)live_day(4, 0.9, (double)NAN); /* no heat sensor: any temperature */
    assert_int_equal(ageing.count, 1);
    rules.commissioned = 0;
    (void)live_day(5, 0.9, 40);
    assert_int_equal(ageing.count, 1);
    assert_false(ageing_view(&ageing, &rules).is_known);
}

static void another_record_begins_anew(void **state)
{
    (void)state;
    for (int day = 1; day < 20; day++) {
        (void)live_day(day, 0.75, 40);
    }
    assert_true(ageing.told_loss);
    assert_near(ageing_view(&ageing, &rules).share, 0.75, 1e-6);
    rules.commissioned = DAY + 20; /* new lamps */
    assert_false(ageing_view(&ageing, &rules).is_known);
    for (int day = 20; day < 30; day++) {
        assert_false(live_day(day, 1.01, 60).has_loss);
    }
    assert_near(ageing_view(&ageing, &rules).share, 1.01, 1e-6);
    assert_false(ageing.told_loss);
}

/* Cleaned, the light comes back, and a later loss is news. */
static void a_loss_is_told_again_after_it_was_mended(void **state)
{
    (void)state;
    int told = 0;
    for (int day = 1; day <= 90; day++) {
        told += live_day(day, day > 30 && day <= 60 ? 0.95 : 0.78, 40).has_loss;
    }
    assert_int_equal(told, 2);
}

/* Values of half a year ago do not speak of now. */
static void a_long_pause(void **state)
{
    (void)state;
    for (int day = 1; day <= 15; day++) {
        (void)live_day(day, 1, 40);
    }
    (void)live_day(200, 0.9, 40);
    assert_false(ageing_view(&ageing, &rules).is_known);
    for (int day = 201; day <= 207; day++) {
        (void)live_day(day, 0.9, 40);
    }
    assert_near(ageing_view(&ageing, &rules).share, 0.9, 1e-6);
}

/* Sensors at places of their own; the one at `dusty` (−1: none) loses 0.4 % a day, the lamps 0.05
 * %. Returns the days on which something was told of a sensor. */
static int live_with_sensors(int count, int dusty, struct prng *prng, int *ret_which)
{
    int told = 0;
    rules.sensor_count = count;
    for (int day = 1; day <= 100; day++) {
        struct ageing_sample sample = {.heat_c = 40, .ratio = 1 - 0.0005 * day};
        for (int i = 0; i < count; i++) {
            const double dust = i == dusty ? 1 - 0.004 * day : 1;
            rules.sensor[i] = 100 + (uint32_t)i;
            sample.sensor_ratio[i] =
                sample.ratio * (0.7 + 0.2 * i) * dust * (1 + 0.01 * noise(prng));
        }
        ageing_book(&ageing, &rules, 420, &sample, 3600);
        const struct ageing_news news = ageing_close(&ageing, &rules, DAY + day);
        if (news.sensor >= 0) {
            told++;
            *ret_which = news.sensor;
        }
    }
    return told;
}

static void dust_on_one_of_several(void **state)
{
    struct prng prng = prng_start("dust on one of several");
    for (int count = 2; count <= 4; count++) {
        for (int dusty = -1; dusty < count; dusty++) {
            int which = -1;
            (void)begin(state);
            assert_int_equal(live_with_sensors(count, dusty, &prng, &which), dusty >= 0);
            assert_int_equal(which, dusty);
            const struct ageing_view view = ageing_view(&ageing, &rules);
            assert_int_equal(view.sensors, count);
            assert_int_equal(view.fallen, dusty);
            if (dusty >= 0) {
                /* of days 1 … 7 beside day 100, which the slow value follows by a week */
                assert_near(view.fallen_share, (1 - 0.4 * 0.93) / (1 - 0.004 * 4), 0.03);
            }
        }
    }
}

/* A new sensor has no past of the one before it. */
static void another_sensor_begins_anew(void **state)
{
    (void)state;
    struct prng prng = prng_start("another sensor");
    int which = -1;
    (void)live_with_sensors(3, 1, &prng, &which);
    assert_int_equal(ageing_view(&ageing, &rules).fallen, 1);
    rules.sensor[1] = 999;
    assert_int_equal(ageing_view(&ageing, &rules).fallen, -1);
    assert_int_equal(ageing_view(&ageing, &rules).sensors, 2);
    (void)live_day(101, 0.95, 40);
    assert_int_equal(ageing.sensors[1].base_days, 1);
}

/* Of an earlier day what was known then; the sensors are not known any more. */
static void as_it_was(void **state)
{
    (void)state;
    for (int day = 1; day <= 20; day++) {
        (void)live_day(day, day > 15 ? 0.5 : 0.9, 40);
    }
    const struct ageing_rules own = ageing_own_rules(&ageing);
    assert_int_equal(own.commissioned, DAY);
    assert_int_equal(own.sensor_count, 1);
    assert_int_equal(ageing_view(&ageing, &own).sensors, 1);
    ageing_rewind(&ageing, DAY + 20);
    assert_int_equal(ageing.count, AGEING_KEPT);
    assert_int_equal(ageing_view(&ageing, &own).sensors, 1);
    ageing_rewind(&ageing, DAY + 13);
    assert_int_equal(ageing.count, 8); /* days 6 to 13 */
    assert_near(ageing_view(&ageing, &own).share, 0.9, 1e-6);
    assert_near(ageing_view(&ageing, &own).spread, 0, 1e-6);
    assert_int_equal(ageing_view(&ageing, &own).last_day, DAY + 13);
    assert_int_equal(ageing_view(&ageing, &own).sensors, 0);
    ageing_rewind(&ageing, DAY);
    assert_false(ageing_view(&ageing, &own).is_known);
}

static void what_cannot_be_true(void **state)
{
    (void)state;
    (void)live_day(1, 0.9, 40);
    assert_true(ageing_is_sane(&ageing));
    struct ageing bad = ageing;
    bad.value[0] = (float)NAN;
    assert_false(ageing_is_sane(&bad));
    bad = ageing;
    bad.next = AGEING_KEPT;
    assert_false(ageing_is_sane(&bad));
    bad = ageing;
    bad.sensors[0].base = 0;
    assert_false(ageing_is_sane(&bad));
    bad = ageing;
    bad.sum.seconds = -1;
    assert_false(ageing_is_sane(&bad));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(four_hundred_days, begin),
        cmocka_unit_test_setup(another_temperature_is_not_compared, begin),
        cmocka_unit_test_setup(a_month_without_a_value, begin),
        cmocka_unit_test_setup(short_days_and_faults_say_nothing, begin),
        cmocka_unit_test_setup(another_record_begins_anew, begin),
        cmocka_unit_test_setup(a_loss_is_told_again_after_it_was_mended, begin),
        cmocka_unit_test_setup(a_long_pause, begin),
        cmocka_unit_test_setup(dust_on_one_of_several, begin),
        cmocka_unit_test_setup(another_sensor_begins_anew, begin),
        cmocka_unit_test_setup(as_it_was, begin),
        cmocka_unit_test_setup(what_cannot_be_true, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
