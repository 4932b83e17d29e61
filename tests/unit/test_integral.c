/* SPDX-License-Identifier: Apache-2.0 */
#include "integral.h"
#include "near.h"
#include "prng.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static const double PI = 3.14159265358979323846;

static const struct integral_rules usual = {.gap_s = 300.0, .estimate_s = (double)INFINITY};

static void step(struct integral *integral, const struct integral_rules *rules,
                 enum integral_origin origin, double lamp_umol, double dt_s)
{
    const struct integral_step one = {
        .lamp_umol = lamp_umol, .daylight_umol = 0.0, .origin = origin, .dt_s = dt_s};
    integral_step(integral, rules, &one);
}

/* DLI = PPFD × s / 10⁶ (Torres & Lopez, Purdue HO-238-W, 2010), second by second. 38.1 µmol for 12
 * h: 1.6 mol as printed by Faust (quoted second-hand); 185 µmol, 16 h: "10 to 12 mol" (Randall &
 * Lopez, HortScience 50(5):705, 2015); 215 µmol, 16 h (Pennisi et al., Scientific Reports 9:14127,
 * 2019); the rest is the identity. */
static void test_constant_light(void **state)
{
    (void)state;
    static const struct {
        double ppfd_umol;
        int hours;
        double dli_mol;
    } cases[] = {
        {38.1, 12, 1.64592}, {185.0, 16, 10.656}, {215.0, 16, 12.384},
        {1.0, 24, 0.0864},   {250.0, 16, 14.40},  {400.0, 18, 25.92},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct integral integral;
        integral_reset(&integral);
        for (int s = 0; s < cases[i].hours * 3600; s++) {
            step(&integral, &usual, INTEGRAL_MEASURED, cases[i].ppfd_umol, 1.0);
        }
        assert_near(integral_delivered_mol(&integral), cases[i].dli_mol, 1e-9);
        assert_near(integral.measured_s, cases[i].hours * 3600.0, 0.0);
    }
}

/* Half-sine day, peak 500 µmol, 12 h: P × H × 3600 × (2/π) / 10⁶ = 13.7510 mol. */
static void test_half_sine_day(void **state)
{
    (void)state;
    struct integral integral;
    integral_reset(&integral);
    const int seconds = 12 * 3600;
    for (int s = 0; s < seconds; s++) {
        const struct integral_step one = {
            .lamp_umol = 0.0,
            .daylight_umol = 500.0 * sin(PI * (s + 0.5) / seconds),
            .origin = INTEGRAL_MEASURED,
            .dt_s = 1.0,
        };
        integral_step(&integral, &usual, &one);
    }
    assert_near(integral.daylight_mol, 13.7510, 1e-4);
    assert_near(integral.daylight_mol, 500.0 * 12 * 3600 * (2.0 / PI) * 1e-6, 1e-6);
    assert_near(integral.lamp_mol, 0.0, 0.0);
}

static void test_lamp_and_daylight_apart(void **state)
{
    (void)state;
    struct integral integral;
    integral_reset(&integral);
    const struct integral_step measured = {100.0, 300.0, INTEGRAL_MEASURED, 100.0};
    const struct integral_step estimated = {50.0, 10.0, INTEGRAL_ESTIMATED, 100.0};
    integral_step(&integral, &usual, &measured);
    integral_step(&integral, &usual, &estimated);
    assert_near(integral.lamp_mol, 0.015, 1e-15);
    assert_near(integral.daylight_mol, 0.031, 1e-15);
    assert_near(integral.bridged_mol, 0.006, 1e-15);
    assert_near(integral.measured_s, 100.0, 0.0);
    assert_near(integral.bridged_s, 100.0, 0.0);
    assert_near(integral_delivered_mol(&integral), 0.046, 1e-15);
}

/* One long step: its first 300 s are bridged with the light that was, the rest is lost. */
static void test_gap(void **state)
{
    (void)state;
    struct integral integral;
    integral_reset(&integral);
    step(&integral, &usual, INTEGRAL_MEASURED, 200.0, 300.0);
    assert_near(integral.measured_s, 300.0, 0.0);
    step(&integral, &usual, INTEGRAL_MEASURED, 200.0, 1000.0);
    assert_near(integral.measured_s, 300.0, 0.0);
    assert_near(integral.bridged_s, 300.0, 0.0);
    assert_near(integral.lost_s, 700.0, 0.0);
    assert_near(integral.lamp_mol, 200.0 * 600.0 * 1e-6, 1e-12);
    assert_near(integral.bridged_mol, 200.0 * 300.0 * 1e-6, 1e-12);
    step(&integral, &usual, INTEGRAL_ESTIMATED, 200.0, 301.0);
    assert_near(integral.bridged_s, 600.0, 0.0);
    assert_near(integral.lost_s, 701.0, 0.0);
}

/* Estimates count for ten minutes, then they are lost time without light, until a reading is back.
 */
static void test_long_run_of_estimates(void **state)
{
    (void)state;
    const struct integral_rules rules = {.gap_s = 300.0, .estimate_s = 600.0};
    struct integral integral;
    integral_reset(&integral);
    for (int i = 0; i < 700; i++) {
        step(&integral, &rules, INTEGRAL_ESTIMATED, 100.0, 1.0);
    }
    assert_near(integral.bridged_s, 600.0, 0.0);
    assert_near(integral.lost_s, 100.0, 0.0);
    assert_near(integral.estimating_s, 700.0, 0.0);
    assert_near(integral.lamp_mol, 0.06, 1e-12);
    step(&integral, &rules, INTEGRAL_MEASURED, 100.0, 1.0);
    assert_near(integral.estimating_s, 0.0, 0.0);
    /* A step that reaches over the limit counts in part. */
    step(&integral, &rules, INTEGRAL_ESTIMATED, 100.0, 300.0);
    step(&integral, &rules, INTEGRAL_ESTIMATED, 100.0, 250.0);
    step(&integral, &rules, INTEGRAL_ESTIMATED, 100.0, 100.0);
    assert_near(integral.bridged_s, 600.0 + 600.0, 0.0);
    assert_near(integral.lost_s, 100.0 + 50.0, 0.0);
    assert_near(integral.lamp_mol, 0.06 + 0.0001 + 0.06, 1e-12);
}

static void test_no_light_from_nonsense(void **state)
{
    (void)state;
    static const double nonsense[] = {(double)NAN, -1.0, (double)INFINITY};
    struct integral integral;
    integral_reset(&integral);
    step(&integral, &usual, INTEGRAL_ESTIMATED, 100.0, 10.0);
    for (size_t i = 0; i < 3; i++) {
        step(&integral, &usual, INTEGRAL_MEASURED, nonsense[i], 10.0);
        const struct integral_step sun = {1.0, nonsense[i], INTEGRAL_ESTIMATED, 10.0};
        integral_step(&integral, &usual, &sun);
    }
    assert_near(integral.lost_s, 60.0, 0.0);
    assert_near(integral.estimating_s, 70.0, 0.0);
    assert_near(integral_delivered_mol(&integral), 0.001, 1e-15);
    struct integral before = integral;
    step(&integral, &usual, INTEGRAL_MEASURED, 100.0, 0.0);
    step(&integral, &usual, INTEGRAL_MEASURED, 100.0, -5.0);
    step(&integral, &usual, INTEGRAL_MEASURED, 100.0, (double)NAN);
    assert_memory_equal(&integral, &before, sizeof integral);
}

/* measured + bridged + lost = Σ dt; the mol are those of the counted seconds. */
static void test_identity_property(void **state)
{
    (void)state;
    struct prng prng = prng_start("integral");
    for (int run = 0; run < 300; run++) {
        const struct integral_rules rules = {
            .gap_s = prng_real(&prng, 1.0, 600.0),
            .estimate_s = prng_int(&prng, 0, 2) ? prng_real(&prng, 0.0, 4000.0) : (double)INFINITY,
        };
        struct integral integral;
        memset(&integral, 0x5a, sizeof integral);
        integral_reset(&integral);
        double elapsed_s = 0.0;
        double light_umol = prng_real(&prng, 0.0, 1000.0);
        for (int i = 0; i < 500; i++) {
            double dt_s =
                prng_int(&prng, 0, 20) ? prng_real(&prng, 0.5, 2.0) : prng_real(&prng, 0.0, 3000.0);
            const struct integral_step one = {
                .lamp_umol = light_umol,
                .daylight_umol = light_umol,
                .origin = prng_int(&prng, 0, 9) ? INTEGRAL_ESTIMATED : INTEGRAL_MEASURED,
                .dt_s = dt_s,
            };
            struct integral before = integral;
            integral_step(&integral, &rules, &one);
            elapsed_s += dt_s;
            assert_true(integral.measured_s >= before.measured_s);
            assert_true(integral.bridged_s >= before.bridged_s);
            assert_true(integral.lost_s >= before.lost_s);
        }
        double counted_s = integral.measured_s + integral.bridged_s;
        assert_near(counted_s + integral.lost_s, elapsed_s, 1e-6);
        assert_near(integral.lamp_mol, units_mol(light_umol, counted_s), 1e-6);
        assert_near(integral.daylight_mol, integral.lamp_mol, 0.0);
        assert_near(integral.bridged_mol, units_mol(2.0 * light_umol, integral.bridged_s), 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_constant_light),
        cmocka_unit_test(test_half_sine_day),
        cmocka_unit_test(test_lamp_and_daylight_apart),
        cmocka_unit_test(test_gap),
        cmocka_unit_test(test_long_run_of_estimates),
        cmocka_unit_test(test_no_light_from_nonsense),
        cmocka_unit_test(test_identity_property),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
