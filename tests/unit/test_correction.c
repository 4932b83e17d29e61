/* SPDX-License-Identifier: Apache-2.0 */
/* What a person accepts of the light's gain. */
#include "correction.h"
#include "space.h"

#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void readings_are_divided(void **state)
{
    (void)state;
    struct correction correction;
    correction_reset(&correction);
    const struct reading seen = {210, 7, READING_SUSPECT};
    struct reading taken = correction_reading(&correction, seen);
    assert_memory_equal(&taken, &seen, sizeof seen);
    assert_true(correction_is_none(&correction));
    assert_true(correction_accept(&correction, CORRECTION_SENSOR, 1.05, 1.04, 100));
    taken = correction_reading(&correction, seen);
    assert_near(taken.value, 200, 1e-9);
    assert_int_equal(taken.taken_ns, 7);
    assert_int_equal(taken.quality, READING_SUSPECT);
    const struct reading lost = correction_reading(&correction, READING_NONE);
    assert_true(isnan(lost.value));
}

/* What is accepted twice counts twice, and neither sensor nor lamp leaves 0.7 … 1.4. */
static void bounds_are_kept(void **state)
{
    (void)state;
    struct correction correction;
    correction_reset(&correction);
    assert_true(correction_accept(&correction, CORRECTION_LAMP, 0.9, 300, 100));
    assert_true(correction_accept(&correction, CORRECTION_LAMP, 0.9, 300, 200));
    assert_near(correction.lamp, 0.81, 1e-12);
    const struct correction before = correction;
    assert_false(correction_accept(&correction, CORRECTION_LAMP, 0.8, 300, 300));
    assert_false(correction_accept(&correction, CORRECTION_SENSOR, 1.41, 1, 300));
    assert_false(correction_accept(&correction, CORRECTION_SENSOR, (double)NAN, 1, 300));
    assert_memory_equal(&correction, &before, sizeof before);
    assert_true(correction_accept(&correction, CORRECTION_SENSOR, 1.4, 1, 300));
    assert_int_equal(correction.since_s, 300);
}

static void a_new_basis_ends_it(void **state)
{
    (void)state;
    struct correction correction;
    correction_reset(&correction);
    assert_false(correction_rebase(&correction, CORRECTION_SENSOR, 1.1)); /* none to end */
    assert_true(correction_accept(&correction, CORRECTION_SENSOR, 1.05, 1.04, 100));
    assert_true(correction_accept(&correction, CORRECTION_LAMP, 0.9, 300, 200));
    assert_false(correction_rebase(&correction, CORRECTION_SENSOR, 1.04));
    assert_true(correction_rebase(&correction, CORRECTION_SENSOR, 1.09));
    assert_near(correction.sensor, 1, 0);
    assert_near(correction.lamp, 0.9, 1e-12);
    assert_false(correction_is_none(&correction));
    assert_true(correction_rebase(&correction, CORRECTION_LAMP, 270));
    assert_near(correction.lamp, 1, 0);
    assert_true(correction_is_none(&correction));
}

/* Nine steps, or nothing; then they are counted afresh. */
static void a_space_needs_its_steps(void **state)
{
    (void)state;
    static const struct space_rules rules = {.fixture_count = 0};
    struct space_state space;
    space_init(&space, &rules);
    for (int i = 0; i < LAMPSTEP_KEPT; i++) {
        assert_false(space_correct(&space, CORRECTION_SENSOR, 1, 50));
        space.lampstep.ratio[i] = 1.05F;
        space.lampstep.count++;
    }
    space.light_gain = 1.02;
    assert_true(space_correct(&space, CORRECTION_SENSOR, 1, 50));
    assert_near(space.correction.sensor, 1.05, 1e-6);
    assert_near(space.light_gain, 1, 0);
    assert_int_equal(space.lampstep.count, 0);
    assert_false(space_correct(&space, CORRECTION_SENSOR, 1, 60));
    space_uncorrect(&space);
    assert_true(correction_is_none(&space.correction));
    assert_near(space.correction.sensor, 1, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(readings_are_divided),
        cmocka_unit_test(bounds_are_kept),
        cmocka_unit_test(a_new_basis_ends_it),
        cmocka_unit_test(a_space_needs_its_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
