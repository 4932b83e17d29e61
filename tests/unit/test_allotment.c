/* SPDX-License-Identifier: Apache-2.0 */
#include "allotment.h"

#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void the_half_hour_of_a_moment(void **state)
{
    (void)state;
    struct allotment allotment = {.is_shared = true,
                                  .begin_s = 3600,
                                  .count = 2,
                                  .reach_mol = 5,
                                  .slot = {{0.1, 0.5, 200}, {0, 0.7, 300}}};
    assert_null(allotment_at(&allotment, 3599));
    assert_ptr_equal(allotment_at(&allotment, 3600), &allotment.slot[0]);
    assert_ptr_equal(allotment_at(&allotment, 3600 + 1799), &allotment.slot[0]);
    assert_ptr_equal(allotment_at(&allotment, 3600 + 1800), &allotment.slot[1]);
    assert_null(allotment_at(&allotment, 3600 + 3600));
    assert_near(allotment_planned_w(&allotment, 3600), 200, 0);
    assert_true(isinf(allotment_planned_w(&allotment, 0)));
    assert_near(allotment_reach_mol(&allotment), 5, 0);
    allotment.light_price = 0.3;
    assert_near(allotment_light_price(&allotment), 0.3, 0);
    assert_near(allotment_light_price(&(struct allotment){.light_price = 0.3}), 0, 0);
    allotment.is_shared = false;
    assert_true(isinf(allotment_reach_mol(&allotment)));
    assert_null(allotment_at(&allotment, 3600));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_half_hour_of_a_moment)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
