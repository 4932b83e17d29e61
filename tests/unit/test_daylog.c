/* SPDX-License-Identifier: Apache-2.0 */
#include "daylog.h"
#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define DAY_S (DAYLOG_SLOTS * DAYLOG_SLOT_S)

static void book(struct daylog *log, double offset_s, double dt_s, double daylight_umol, double cap)
{
    const struct daylog_step step = {daylight_umol, cap, 0.25};
    daylog_book(log, offset_s, dt_s, &step);
}

static void test_opens_empty(void **state)
{
    (void)state;
    struct daylog log;
    memset(&log, 0x55, sizeof log);
    daylog_open(&log);
    for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
        assert_near((double)log.daylight_umol[slot], 0.0, 0.0);
        assert_near((double)log.cap[slot], 1.0, 0.0);
        assert_int_equal(log.seconds[slot], 0);
    }
    assert_int_equal(daylog_seen_s(&log), 0);
    assert_near(log.promised_mol + log.promised_kwh + log.standby_cost, 0.0, 0.0);
    assert_true(daylog_is_sane(&log));
}

/* Daylight that rises a µmol a second from 0: a slot's mean is that of its middle. */
static void test_a_day_of_seconds(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    for (int s = 1; s <= DAY_S; s++) {
        book(&log, s, 1.0, s - 0.5, s <= DAY_S / 2 ? 1.0 : 0.25);
    }
    for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
        double middle = (slot + 0.5) * DAYLOG_SLOT_S;
        assert_near((double)log.daylight_umol[slot], middle, 1e-5 * middle);
        assert_near((double)log.cap[slot], slot < DAYLOG_SLOTS / 2 ? 1.0 : 0.25, 1e-6);
        assert_int_equal(log.seconds[slot], DAYLOG_SLOT_S);
    }
    assert_true(daylog_is_sane(&log));
}

/* A step over an edge is shared: 300 s of it behind, 600 s before, then the rest of the slot. */
static void test_over_an_edge(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    book(&log, 1500.0, 900.0, 90.0, 0.5);
    assert_int_equal(log.seconds[0], 300);
    assert_int_equal(log.seconds[1], 600);
    assert_near((double)log.daylight_umol[0], 90.0, 1e-5);
    book(&log, 1800.0, 300.0, 0.0, 1.0);
    assert_near((double)log.daylight_umol[1], 60.0, 1e-4);
    assert_near((double)log.cap[1], 2.0 / 3.0, 1e-6);
    assert_int_equal(log.seconds[1], 900);
    book(&log, 12600.0, 10800.0, 10.0, 1.0); /* three hours at once */
    assert_int_equal(daylog_seen_s(&log), 300 + 900 + 10800);
}

static void test_outside_is_left_out(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    book(&log, -5.0, 10.0, 50.0, 1.0);
    book(&log, DAY_S + 500.0, 400.0, 50.0, 1.0);
    assert_int_equal(daylog_seen_s(&log), 0);
    book(&log, 10.0, 100.0, 50.0, 1.0);
    book(&log, DAY_S + 20.0, 50.0, 70.0, 1.0);
    assert_int_equal(log.seconds[0], 10);
    assert_int_equal(log.seconds[95], 30);
    assert_int_equal(daylog_seen_s(&log), 40);
    book(&log, (double)INFINITY, (double)INFINITY, 1.0, 1.0);
    assert_true(daylog_is_sane(&log));
}

/* The price of a slot is the mean of what its seconds cost, below 0 as well. */
static void test_prices(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    for (int s = 1; s <= DAYLOG_SLOT_S; s++) {
        daylog_book(&log, s, 1.0, &(struct daylog_step){0.0, 1.0, s <= 300 ? 0.3 : -0.15});
    }
    assert_near((double)log.price_per_kwh[0], 0.0, 1e-6);
    daylog_book(&log, 1000.0, 100.0, &(struct daylog_step){0.0, 1.0, -0.2});
    assert_near((double)log.price_per_kwh[1], -0.2, 1e-6);
    daylog_book(&log, 1100.0, 100.0, &(struct daylog_step){0.0, 1.0, (double)NAN});
    assert_int_equal(log.seconds[1], 100);
}

/* A lamp of 97 % light and 102 % watts; one that hardly burned; one that is another lamp. */
static void test_the_lamp_beside_its_curves(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    log.promised_mol = 0.01;
    log.promised_kwh = 0.001;
    assert_near(daylog_light_ratio(&log), 1.0, 0.0);
    assert_near(daylog_watts_ratio(&log), 1.0, 0.0);
    log = (struct daylog){
        .promised_mol = 10.0, .lamp_mol = 9.7, .promised_kwh = 2.0, .lamp_kwh = 2.04};
    assert_near(daylog_light_ratio(&log), 0.97, 1e-12);
    assert_near(daylog_watts_ratio(&log), 1.02, 1e-12);
    log.lamp_mol = 4.9;
    log.lamp_kwh = 3.1;
    assert_true(isnan(daylog_light_ratio(&log)));
    assert_true(isnan(daylog_watts_ratio(&log)));
}

static void test_what_is_no_step(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    book(&log, 100.0, 0.0, 50.0, 1.0);
    book(&log, 100.0, -5.0, 50.0, 1.0);
    book(&log, 100.0, (double)NAN, 50.0, 1.0);
    book(&log, (double)NAN, 10.0, 50.0, 1.0);
    book(&log, 100.0, 10.0, (double)NAN, 1.0);
    book(&log, 100.0, 10.0, -1.0, 1.0);
    book(&log, 100.0, 10.0, (double)INFINITY, 1.0);
    book(&log, 100.0, 10.0, 50.0, (double)NAN);
    assert_int_equal(daylog_seen_s(&log), 0);
    book(&log, 100.0, 10.0, 50.0, 7.0);
    assert_near((double)log.cap[0], 1.0, 0.0);
    book(&log, 110.0, 10.0, 50.0, -7.0);
    assert_near((double)log.cap[0], 0.5, 1e-6);
}

/* Ticks of any length, never on the second, timers that waver: every second once. */
static void test_ticks_of_any_length(void **state)
{
    (void)state;
    struct prng prng = prng_start("daylog_ticks");
    static const double ticks_s[] = {0.1, 0.25, 0.7, 1.0, 1.3, 7.77, 60.0, 777.7};
    for (size_t t = 0; t < sizeof ticks_s / sizeof ticks_s[0]; t++) {
        struct daylog log;
        daylog_open(&log);
        double light_s = 0.0;
        double before_s = 0.0;
        while (before_s < DAY_S) {
            double now_s = before_s + ticks_s[t] * prng_real(&prng, 0.98, 1.02);
            double umol = before_s < DAY_S / 3.0 ? 120.0 : 480.0;
            light_s += umol * (fmin(now_s, DAY_S) - before_s);
            book(&log, now_s, now_s - before_s, umol, 0.5);
            before_s = now_s;
        }
        assert_int_equal(daylog_seen_s(&log), DAY_S);
        double logged_s = 0.0;
        for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
            logged_s += (double)log.daylight_umol[slot] * log.seconds[slot];
            assert_near((double)log.cap[slot], 0.5, 1e-6);
        }
        assert_near(logged_s / light_s, 1.0, 2e-5);
    }
}

/* Ends of steps that rounding moved a little belong to the same second. */
static void test_rounded_ends(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    for (int s = 1; s <= DAYLOG_SLOT_S; s++) {
        book(&log, s - 1e-9, 1.0 - 1e-9, s % 2 ? 100.0 : 300.0, 1.0);
    }
    assert_int_equal(log.seconds[0], DAYLOG_SLOT_S);
    assert_near((double)log.daylight_umol[0], 200.0, 1e-3);
}

/* A clock set back: the newest reading still counts, the slot holds no more than its seconds. */
static void test_a_second_seen_twice(void **state)
{
    (void)state;
    struct daylog log;
    daylog_open(&log);
    for (int round = 0; round < 100; round++) {
        book(&log, 900.0, 900.0, 100.0 + round, 1.0);
        assert_int_equal(log.seconds[0], 900);
    }
    assert_near((double)log.daylight_umol[0], 199.0, 1e-4);
    book(&log, 450.0, 450.0, 99.0, 1.0);
    assert_near((double)log.daylight_umol[0], 149.0, 1e-4);
    assert_true(daylog_is_sane(&log));
}

static void test_damage_is_refused(void **state)
{
    (void)state;
    struct daylog good;
    daylog_open(&good);
    struct daylog bad[9] = {good, good, good, good, good, good, good, good, good};
    bad[0].daylight_umol[95] = (float)NAN;
    bad[1].daylight_umol[0] = -1.0F;
    bad[2].daylight_umol[0] = (float)INFINITY;
    bad[3].cap[50] = 1.01F;
    bad[4].cap[50] = (float)NAN;
    bad[5].seconds[1] = 901;
    bad[6].price_per_kwh[2] = (float)NAN;
    bad[7].promised_mol = -1.0;
    bad[8].standby_cost = (double)INFINITY;
    for (size_t i = 0; i < 9; i++) {
        assert_false(daylog_is_sane(&bad[i]));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_opens_empty),
        cmocka_unit_test(test_a_day_of_seconds),
        cmocka_unit_test(test_over_an_edge),
        cmocka_unit_test(test_outside_is_left_out),
        cmocka_unit_test(test_what_is_no_step),
        cmocka_unit_test(test_ticks_of_any_length),
        cmocka_unit_test(test_rounded_ends),
        cmocka_unit_test(test_a_second_seen_twice),
        cmocka_unit_test(test_damage_is_refused),
        cmocka_unit_test(test_prices),
        cmocka_unit_test(test_the_lamp_beside_its_curves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
