/* SPDX-License-Identifier: Apache-2.0 */
/* Two fixtures over one canopy, worked by hand. */
#include "sidebyside.h"

#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const struct sidebyside_terms terms = {
    .lit_h = 16, .days = 365, .price_per_kwh = 0.25, .sensor_error = 0.03};

static struct height_offer offer(double watts)
{
    return (struct height_offer){
        .height_cm = 60,
        .watts = watts,
        .stats = {.mean_umol = 300, .photons_per_j = 1.6},
    };
}

/* 200 W · 16 h = 3.2 kWh a day; · 365 · 0.25 = 292 a year; 250 W: 365, 73 more. */
static void a_years_bill(void **state)
{
    (void)state;
    const struct height_offer a = offer(250);
    const struct height_offer b = offer(200);
    const struct height_offer *offers[] = {&a, &b};
    struct sidebyside_row rows[2];
    assert_int_equal(sidebyside_of(offers, 2, &terms, rows), 1);
    assert_near(rows[1].kwh_per_day, 3.2, 1e-12);
    assert_near(rows[1].cost_per_year, 292, 1e-9);
    assert_near(rows[0].more_per_year, 73, 1e-9);
    assert_near(rows[1].more_per_year, 0, 0);
    assert_false(rows[0].is_within_error);
    assert_false(rows[1].is_within_error);
    assert_near(rows[0].photons_per_j, 1.6, 0);
}

/* Each may be off by √(0.03² + 0.004²) = 3.03 %, the two by 4.28 %: 4 % is no difference, 5 % is.
 */
static void no_difference_to_speak_of(void **state)
{
    (void)state;
    struct sidebyside_row rows[2];
    const struct height_offer a = offer(200);
    const struct height_offer near = offer(205);
    const struct height_offer far = offer(207);
    const struct height_offer *pair[] = {&a, &near};
    assert_int_equal(sidebyside_of(pair, 2, &terms, rows), 0);
    assert_true(rows[1].is_within_error);
    pair[1] = &far;
    (void)sidebyside_of(pair, 2, &terms, rows);
    assert_false(rows[1].is_within_error);
}

static void what_is_not_known(void **state)
{
    (void)state;
    struct sidebyside_row rows[3];
    const struct height_offer a = offer(200);
    const struct height_offer b = offer((double)NAN);
    const struct height_offer *offers[] = {NULL, &b, &a};
    assert_int_equal(sidebyside_of(offers, 3, &terms, rows), 2);
    assert_true(isnan(rows[0].watts));
    assert_true(isnan(rows[1].cost_per_year));
    assert_false(rows[0].is_within_error);
    assert_int_equal(sidebyside_of(offers, 1, &terms, rows), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_years_bill),
        cmocka_unit_test(no_difference_to_speak_of),
        cmocka_unit_test(what_is_not_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
