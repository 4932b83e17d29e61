/* SPDX-License-Identifier: Apache-2.0 */
#include "curvewatch.h"

#include "prng.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct curvewatch_sight watts(double seen, double expected)
{
    return (struct curvewatch_sight){seen, expected, 300, CURVEWATCH_WATTS_SHARE, true};
}

/* Seconds until it is said, −1: not within an hour. */
static int said_after(struct curvewatch *watch, const struct curvewatch_sight *sight)
{
    for (int second = 1; second <= 3600; second++) {
        if (curvewatch_step(watch, sight, 1)) {
            return second;
        }
    }
    return -1;
}

static void said_once_a_day(void **state)
{
    (void)state;
    struct curvewatch watch = {0};
    const struct curvewatch_sight sight = watts(41, 145);
    assert_int_equal(said_after(&watch, &sight), 600);
    assert_int_equal(said_after(&watch, &sight), -1);
    curvewatch_new_day(&watch);
    assert_int_equal(said_after(&watch, &sight), 600);
}

static void agreement_starts_afresh(void **state)
{
    (void)state;
    struct curvewatch watch = {0};
    const struct curvewatch_sight wrong = watts(220, 145);
    const struct curvewatch_sight right = watts(150, 145);
    for (int i = 0; i < 599; i++) {
        assert_false(curvewatch_step(&watch, &wrong, 1));
    }
    assert_false(curvewatch_step(&watch, &right, 1));
    assert_int_equal(said_after(&watch, &wrong), 600);
}

/* Ramps and silent meters hold the count. */
static void no_evidence_holds_the_count(void **state)
{
    (void)state;
    struct curvewatch watch = {0};
    const struct curvewatch_sight wrong = watts(220, 145);
    struct curvewatch_sight unsteady = watts(220, 145);
    unsteady.is_steady = false;
    const struct curvewatch_sight silent = watts(UNITS_NONE, 145);
    for (int i = 0; i < 300; i++) {
        assert_false(curvewatch_step(&watch, &wrong, 1));
    }
    assert_int_equal(said_after(&watch, &unsteady), -1);
    assert_int_equal(said_after(&watch, &silent), -1);
    assert_int_equal(said_after(&watch, &wrong), 300);
}

/* A quarter of what is expected and a tenth of full: whatever stays within either is no news. */
static void small_differences_are_none(void **state)
{
    (void)state;
    struct prng prng = prng_start("small_differences_are_none");
    for (int turn = 0; turn < 2000; turn++) {
        struct curvewatch watch = {0};
        const double expected = prng_real(&prng, 0, 300);
        const double allowed = fmax(0.25 * expected, 30);
        const double off = prng_real(&prng, -2, 2) * allowed;
        const struct curvewatch_sight sight = watts(expected + off, expected);
        const bool is_said = curvewatch_step(&watch, &sight, 600);
        assert_int_equal(is_said, fabs(off) > allowed);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(said_once_a_day),
        cmocka_unit_test(agreement_starts_afresh),
        cmocka_unit_test(no_evidence_holds_the_count),
        cmocka_unit_test(small_differences_are_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
