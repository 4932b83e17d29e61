/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Things that go wrong for days, indoors and under glass: nothing ends, no night is broken (the
 * watch ends the test if one is), and what the plants miss stays with the days of the fault. A
 * fortnight each; the bench has whole years.
 */
#include "fault_year.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { DAYS = 18 };

static struct fault_year run(enum fault_year_kind kind, bool has_sun)
{
    const struct fault_year sum = fault_year_run(kind, has_sun, DAYS);
    print_message(
        "%-13s %-7s missed %d, short %.2f mol, %.4f × the cheapest of %d days, %d events\n",
        fault_year_name(kind), has_sun ? "glass" : "indoors", sum.missed, sum.short_mol, sum.ratio,
        sum.bounded, sum.events);
    assert_int_equal(sum.days, DAYS);
    assert_int_equal(sum.night_breaks, 0);
    assert_true(sum.bounded >= DAYS - 4);
    return sum;
}

/* What each may cost the plants in truth: days below 98 %, and mol in all. */
static const struct {
    int missed;
    double short_mol;
} most[FAULT_YEAR_KINDS] = {
    [FAULT_YEAR_NONE] = {0, 0.1},
    [FAULT_YEAR_HEAT] = {2, 2}, /* the first hot evenings; then they are expected */
    [FAULT_YEAR_GAIN] = {DAYS - 3, 0.05 * 17 * DAYS},
    [FAULT_YEAR_GAIN_ACCEPTED] = {DAYS - 3, 0.04 * 17 * DAYS},
    [FAULT_YEAR_SENSOR] = {0, 0.3},
    [FAULT_YEAR_PRICES] = {0, 0.1},
    [FAULT_YEAR_CLOCK] = {0, 0.5},
};

/* And what shows that the fault was there: events, and mol short in truth or cost over none's. */
static const struct {
    int events;
    double short_mol, dearer;
} least[FAULT_YEAR_KINDS] = {
    [FAULT_YEAR_HEAT] = {1, 0.5, 0},
    [FAULT_YEAR_GAIN] = {1, 5, 0}, /* up to 5 % of 17 mol for fourteen days */
    [FAULT_YEAR_GAIN_ACCEPTED] = {1, 4, 0},
    [FAULT_YEAR_SENSOR] = {2, 0, 0},
    [FAULT_YEAR_PRICES] = {0, 0, 0.0005}, /* another tariff */
    [FAULT_YEAR_CLOCK] = {0, 0, 0.0003},
};

static void each(void **state)
{
    (void)state;
    double plain[2] = {0, 0};
    double uncorrected_mol[2] = {0, 0};
    for (int kind = 0; kind < FAULT_YEAR_KINDS; kind++) {
        for (int sun = 0; sun < 2; sun++) {
            const struct fault_year sum = run((enum fault_year_kind)kind, sun);
            assert_true(sum.missed <= most[kind].missed);
            assert_true(sum.short_mol <= most[kind].short_mol);
            assert_true(sum.ratio > 0.99 && sum.ratio < 1.05);
            assert_true(sum.events <= 4);
            plain[sun] = kind == FAULT_YEAR_NONE ? sum.ratio : plain[sun];
            uncorrected_mol[sun] = kind == FAULT_YEAR_GAIN ? sum.short_mol : uncorrected_mol[sun];
            assert_true(sum.events >= least[kind].events);
            assert_true(sum.short_mol >= least[kind].short_mol);
            assert_true(sum.ratio >= plain[sun] + least[kind].dearer || least[kind].dearer == 0);
            assert_true(kind != FAULT_YEAR_GAIN_ACCEPTED ||
                        sum.short_mol < uncorrected_mol[sun] - 1);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
