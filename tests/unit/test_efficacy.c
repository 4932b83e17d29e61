/* SPDX-License-Identifier: Apache-2.0 */
/* Photons per joule, worked by hand; constants beside their definitions. */
#include "efficacy.h"

#include "near.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void physics(void **state)
{
    (void)state;
    /* N_A · h · c, exact by the SI of 2019: 6.02214076e23 · 6.62607015e-34 · 299792458 J m/mol */
    const double j_nm_per_umol = 6.02214076e23 * 6.62607015e-34 * 299792458 * 1e9 * 1e-6;
    assert_near(EFFICACY_NM_UMOL_PER_J, j_nm_per_umol, 1e-4);
    assert_near(efficacy_of_wavelength(450), 3.7617, 1e-4);
    assert_near(efficacy_of_wavelength(660), 5.5172, 1e-4);
    assert_near(efficacy_of_wavelength(730), 6.1023, 1e-4);
    assert_near(efficacy_mol_per_kwh(2.5), 9, 1e-12);
    assert_near(efficacy_mol_per_kwh(1.7), 6.12, 1e-12);
}

/* 1.9 less 5 % is 1.805, which Runkle prints as 1.81; 1.9 and 21 % is 2.299, which the list of
 * March 2023 prints as 2.30. */
static void published_marks(void **state)
{
    (void)state;
    int count = 0;
    const struct efficacy_mark *marks = efficacy_marks(&count);
    assert_int_equal(count, 5);
    assert_near(marks[1].umol_per_j * 0.95, 1.805, 1e-9);
    assert_near(marks[1].umol_per_j * 1.21, marks[2].umol_per_j, 0.01);
    for (int i = 0; i < count; i++) {
        assert_true(marks[i].umol_per_j < EFFICACY_MOST);
    }
}

static const struct dimcurve_point bright[] = {
    {0, 0, 2}, {0.1, 0.1, 40}, {0.5, 0.55, 150}, {1, 1, 300}};
static const struct dimcurve_point plain[] = {{0.2, 0.3, 50}, {1, 1, 200}};

static void set_up(struct fixture_rules fixtures[2], struct space_rules *rules)
{
    fixtures[0] = (struct fixture_rules){.full_umol = 300, .ceiling = {.drive_max = 0.5}};
    fixtures[1] =
        (struct fixture_rules){.full_umol = 100, .ceiling = {.drive_max = 1}, .has_switch = true};
    assert_int_equal(dimcurve_init(&fixtures[0].curve, bright, 4, NULL), DIMCURVE_OK);
    assert_int_equal(dimcurve_init(&fixtures[1].curve, plain, 2, NULL), DIMCURVE_OK);
    *rules = (struct space_rules){.fixture_count = 2, .fixtures = fixtures};
}

static void levels_of_a_space(void **state)
{
    (void)state;
    struct fixture_rules fixtures[2];
    struct space_rules rules;
    struct efficacy_row rows[EFFICACY_ROWS_MAX];
    set_up(fixtures, &rules);
    assert_near(space_configured_umol(&rules), 400, 0);
    assert_near(efficacy_cap(&rules), (300 * 0.55 + 100) / 400, 1e-12);
    assert_near(efficacy_standby_w(&rules), 2, 0);     /* the other has a contact */
    assert_int_equal(efficacy_rows(&rules, rows), 11); /* ten, and 0.55 */
    assert_near(rows[0].level, 0.1, 1e-12);
    assert_true(rows[0].is_measured);
    assert_near(rows[0].watts, 40 + 50, 1e-9); /* the plain one burns at its least */
    assert_near(rows[0].share, (300 * 0.1 + 100 * 0.3) / 400, 1e-12);
    assert_false(rows[1].is_measured);
    assert_near(rows[5].level, 0.55, 1e-12);
    assert_true(rows[5].is_measured);
    assert_false(rows[5].above_ceiling);
    assert_true(rows[6].above_ceiling);
    assert_near(rows[10].watts, 500, 1e-6);
    assert_near(rows[10].share, 1, 1e-12);
    rules.fixtures = fixtures + 1;
    rules.fixture_count = 1;
    assert_int_equal(efficacy_rows(&rules, rows), 8); /* from its least, 0.3, on */
    assert_near(rows[0].level, 0.3, 1e-12);
    assert_near(rows[1].watts, 50 + 150.0 / 7, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(physics),
        cmocka_unit_test(published_marks),
        cmocka_unit_test(levels_of_a_space),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
