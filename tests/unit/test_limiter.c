/* SPDX-License-Identifier: Apache-2.0 */
#include "limiter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

/* The spelling is stored in journals, and the order decides who is named: neither may drift. */
static const char *const expected[] = {
    "not-running",  "night",         "clock-untrusted",
    "output-fault", "heat-trip",     "driver-trip",
    "rest",         "heat",          "drive-ceiling",
    "power-limit",  "light-ceiling", "sensor-lost",
    "by-hand",      "dawn",          "dusk",
    "full-light",   "target-met",    "plan",
};

static void test_names_and_order(void **state)
{
    (void)state;
    assert_int_equal(LIMITER_COUNT, sizeof expected / sizeof expected[0]);
    for (int i = 0; i < LIMITER_COUNT; i++) {
        assert_string_equal(limiter_name((enum limiter)i), expected[i]);
        assert_int_equal(limiter_find(expected[i]), i);
    }
}

/* Safety outranks every wish: night, heat and LED driver protection stand before hand and plan. */
static void test_safety_is_stronger(void **state)
{
    (void)state;
    assert_true(LIMITER_NIGHT < LIMITER_BY_HAND);
    assert_true(LIMITER_HEAT_TRIP < LIMITER_BY_HAND);
    assert_true(LIMITER_DRIVER_TRIP < LIMITER_BY_HAND);
    assert_true(LIMITER_HEAT < LIMITER_BY_HAND);
    assert_true(LIMITER_DRIVE_CEILING < LIMITER_POWER_LIMIT);
    assert_true(LIMITER_POWER_LIMIT < LIMITER_BY_HAND);
    assert_true(LIMITER_BY_HAND < LIMITER_PLAN);
}

static void test_unknown(void **state)
{
    (void)state;
    assert_string_equal(limiter_name(LIMITER_COUNT), "unknown");
    assert_string_equal(limiter_name((enum limiter)1000), "unknown");
    assert_int_equal(limiter_find(""), LIMITER_COUNT);
    assert_int_equal(limiter_find("Night"), LIMITER_COUNT);
    assert_int_equal(limiter_find("nigh"), LIMITER_COUNT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_names_and_order),
        cmocka_unit_test(test_safety_is_stronger),
        cmocka_unit_test(test_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
