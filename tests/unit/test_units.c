/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const double HOUR_S = 3600.0;

/* Published light integrals and settings; the identity is that of Torres & Lopez, Purdue HO-238-W,
 * 2010. */
static void test_published_light_integrals(void **state)
{
    (void)state;
    static const struct {
        double ppfd_umol, hours, dli_mol;
    } cases[] = {
        {38.1, 12, 1.64592}, /* "1.6", Faust, quoted second-hand */
        {185.0, 16, 10.656}, /* "10 to 12", Randall & Lopez, HortScience 50(5):705, 2015 */
        {215.0, 16, 12.384}, /* Pennisi et al., Scientific Reports 9:14127, 2019 */
        {1.0, 24, 0.0864},   /* identity */
        {250.0, 16, 14.40},
        {400.0, 18, 25.92},
        /* Yan et al., HortScience 54(10):1737, 2019: these five DLIs; that they mean 14 h is
           inferred */
        {100.0, 14, 5.04},
        {150.0, 14, 7.56},
        {200.0, 14, 10.08},
        {250.0, 14, 12.60},
        {300.0, 14, 15.12},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_near(units_mol(cases[i].ppfd_umol, cases[i].hours * HOUR_S), cases[i].dli_mol, 1e-9);
    }
}

/* E. Runkle, "Lighting Greenhouse Vegetables": +10 mol in 18 h takes 155 µmol (154.321 unrounded).
 * The inverse of the identity: 17 mol in 16 h takes 295.139 µmol. */
static void test_light_for_a_target(void **state)
{
    (void)state;
    assert_near(10.0 / units_mol(1.0, 18 * HOUR_S), 154.321, 1e-3);
    assert_near(10.0 / units_mol(1.0, 18 * HOUR_S), 155.0, 1.0);
    assert_near(17.0 / units_mol(1.0, 16 * HOUR_S), 295.139, 1e-3);
}

/* Doses that break a chrysanthemum's night, "How Much Light Is Needed for the Prevention of
 * Flowering of Cut Chrysanthemums When Using High Intensity HPS Lighting as a Night Break?":
 * 1000-4000 µmol m⁻² enough, 7200-8600 µmol m⁻² usual; the times and levels are arithmetic on them.
 */
static void test_night_break_doses(void **state)
{
    (void)state;
    assert_near(units_mol(3.0, 333.3) * 1e6, 1000.0, 1.0);
    assert_near(units_mol(3.0, 1333.3) * 1e6, 4000.0, 1.0);
    assert_near(7200e-6 / units_mol(1.0, 4 * HOUR_S), 0.500, 1e-3);
    assert_near(8600e-6 / units_mol(1.0, 4 * HOUR_S), 0.597, 1e-3);
}

static void test_unknown_values(void **state)
{
    (void)state;
    assert_false(units_known(UNITS_NONE));
    assert_true(units_known(0.0));
    assert_true(units_known((double)INFINITY));
}

static void test_clamp_and_seconds(void **state)
{
    (void)state;
    assert_near(units_clamp(0.5, 0.0, 1.0), 0.5, 0.0);
    assert_near(units_clamp(-0.5, 0.0, 1.0), 0.0, 0.0);
    assert_near(units_clamp(1.5, 0.0, 1.0), 1.0, 0.0);
    assert_false(units_known(units_clamp(UNITS_NONE, 0.0, 1.0)));
    assert_near(units_seconds(1500000000), 1.5, 1e-15);
    assert_near(units_seconds(86400 * UNITS_NS_PER_S), (double)UNITS_S_PER_DAY, 1e-9);
}

/* 1 kWh = 3.6 MJ (BIPM, The International System of Units, 9th edition, table 8, from memory). */
static void test_energy(void **state)
{
    (void)state;
    assert_near(units_kwh(1000, HOUR_S), 1, 1e-15);
    assert_near(units_kwh(1, UNITS_J_PER_KWH), 1, 1e-15);
    assert_near(units_kwh(300, 16 * HOUR_S), 4.8, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published_light_integrals), cmocka_unit_test(test_light_for_a_target),
        cmocka_unit_test(test_night_break_doses),         cmocka_unit_test(test_unknown_values),
        cmocka_unit_test(test_clamp_and_seconds),         cmocka_unit_test(test_energy),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
