/* SPDX-License-Identifier: Apache-2.0 */
/* Volt-amperes, current and heat, worked by hand. */
#include "mains.h"

#include "near.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void current_and_va(void **state)
{
    (void)state;
    const struct mains mains = {230, 0.95};
    assert_near(mains_a(&mains, 600), 2.7460, 1e-4);
    assert_near(mains_va(&mains, 600), 631.58, 5e-3);
    const struct mains plain = {100, 1};
    assert_near(mains_a(&plain, 600), 6, 1e-12);
}

static void true_factor(void **state)
{
    (void)state;
    assert_near(mains_true_factor(0.98, 0.2), 0.9610, 5e-5);
    assert_near(mains_true_factor(0.9, 0), 0.9, 1e-15);
    assert_near(mains_true_factor(1, 1), 1 / sqrt(2.0), 1e-15);
}

/* 1 Btu of the International Table = 1.055056 E+03 J (NIST Special Publication 811, appendix B, as
 * reprinted), so 1 W = 3600 / 1055.056 Btu/h. */
static void heat(void **state)
{
    (void)state;
    assert_near(mains_btu_per_h(1), 3600 / 1.055056e3, 1e-6);
    assert_near(mains_btu_per_h(1), 3.412142, 1e-6);
    assert_near(mains_btu_per_h(600), 2047.285, 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(current_and_va),
        cmocka_unit_test(true_factor),
        cmocka_unit_test(heat),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
