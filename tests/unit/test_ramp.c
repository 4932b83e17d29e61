/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"
#include "prng.h"
#include "ramp.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const double HOUR_S = 3600.0;

static void test_envelope(void **state)
{
    (void)state;
    static const struct {
        enum ramp_shape shape;
        double since_s, until_s, share;
    } cases[] = {
        {RAMP_LINEAR, 0, 57600, 0.0},
        {RAMP_LINEAR, 450, 57150, 0.25},
        {RAMP_LINEAR, 1800, 55800, 1.0},
        {RAMP_LINEAR, 30000, 27600, 1.0},
        {RAMP_LINEAR, 55800, 1800, 0.5},
        {RAMP_LINEAR, 57600, 0, 0.0},
        {RAMP_LINEAR, -1, 57601, 0.0},
        {RAMP_LINEAR, 57601, -1, 0.0},
        /* (1 − cos πx)/2 at x = 1/6, 1/4, 1/3, 1/2 */
        {RAMP_COSINE, 300, 57300, 0.0669872981077807},
        {RAMP_COSINE, 450, 57150, 0.146446609406726},
        {RAMP_COSINE, 600, 57000, 0.25},
        {RAMP_COSINE, 900, 56700, 0.5},
        {RAMP_COSINE, 0, 57600, 0.0},
        {RAMP_COSINE, 57600, 0, 0.0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct ramp ramp = {cases[i].shape, 1800, 3600};
        assert_near(ramp_envelope(&ramp, cases[i].since_s, cases[i].until_s), cases[i].share,
                    1e-12);
    }
}

static void test_steps_have_no_ramp(void **state)
{
    (void)state;
    struct ramp step = {RAMP_COSINE, 0, 0};
    assert_near(ramp_envelope(&step, 0.0, 100.0), 1.0, 0.0);
    assert_near(ramp_envelope(&step, 100.0, 0.0), 1.0, 0.0);
    assert_near(ramp_integral(&step, 57600.0, 0.0, 57600.0), 57600.0, 0.0);
    assert_near(ramp_integral(&step, 57600.0, -500.0, 60000.0), 57600.0, 0.0);
    assert_near(ramp_integral(&step, 57600.0, 500.0, 400.0), 0.0, 0.0);
    assert_near(ramp_integral(&step, 0.0, 0.0, 10.0), 0.0, 0.0);
    assert_near(ramp_integral(&step, 57600.0, (double)NAN, 10.0), 10.0, 0.0);
}

/* Identity: with two equal ramps of r hours DLI = P × (H − r) × 0.0036, for linear and raised
 * cosine alike; 500 µmol, 16 h with two ramps of half an hour: 500 × 15.5 × 0.0036 = 27.900 mol. */
static void test_whole_window(void **state)
{
    (void)state;
    struct ramp linear = {RAMP_LINEAR, 1800, 1800};
    struct ramp cosine = {RAMP_COSINE, 1800, 1800};
    double length_s = 16.0 * HOUR_S;
    assert_near(units_mol(500.0, ramp_integral(&linear, length_s, 0.0, length_s)), 27.900, 1e-9);
    assert_near(units_mol(500.0, ramp_integral(&cosine, length_s, 0.0, length_s)), 27.900, 1e-9);
    /* Over one whole ramp both shapes give half of its length. */
    assert_near(ramp_integral(&linear, length_s, 0.0, 1800.0), 900.0, 1e-9);
    assert_near(ramp_integral(&cosine, length_s, 0.0, 1800.0), 900.0, 1e-9);
    assert_near(ramp_integral(&cosine, length_s, length_s - 1800.0, length_s), 900.0, 1e-9);
}

/* Two linear ramps of 4 h in a window of 4 h make a triangle of height one half: 4 h × 1/2 × 1/2.
 */
static void test_overlap_by_hand(void **state)
{
    (void)state;
    struct ramp linear = {RAMP_LINEAR, 14400, 14400};
    assert_near(ramp_integral(&linear, 14400.0, 0.0, 14400.0), 3600.0, 1e-9);
    assert_near(ramp_integral(&linear, 14400.0, 0.0, 7200.0), 1800.0, 1e-9);
    /* A dawn longer than the window and no dusk: half of the ramp, an eighth of its length. */
    struct ramp dawn = {RAMP_LINEAR, 14400, 0};
    assert_near(ramp_integral(&dawn, 7200.0, 0.0, 7200.0), 1800.0, 1e-9);
}

/* Composite Simpson over each side of every kink, so that only smooth pieces are integrated. */
static double simpson(const struct ramp *ramp, double length_s, double from_s, double to_s)
{
    const int panels = 200;
    double h = (to_s - from_s) / (2.0 * panels);
    double sum = 0.0;
    for (int i = 0; i <= 2 * panels; i++) {
        double t = from_s + h * i;
        double weight = i == 0 || i == 2 * panels ? 1.0 : i % 2 ? 4.0 : 2.0;
        sum += weight * ramp_envelope(ramp, t, length_s - t);
    }
    return sum * h / 3.0;
}

static double reference(const struct ramp *ramp, double length_s, double from_s, double to_s)
{
    double dawn = ramp->dawn_s;
    double dusk = ramp->dusk_s;
    double cross = dawn + dusk > 0.0 ? length_s * dawn / (dawn + dusk) : 0.0;
    double kinks[] = {dawn, cross, length_s - dusk};
    double sum = 0.0;
    double at = from_s;
    while (at < to_s) {
        double next = to_s;
        for (size_t i = 0; i < 3; i++) {
            if (kinks[i] > at && kinks[i] < next) {
                next = kinks[i];
            }
        }
        sum += simpson(ramp, length_s, at, next);
        at = next;
    }
    return sum;
}

/* Any ramps, overlapping or not: the closed form is the integral of the envelope, and splits add
 * up. */
static void test_integral_property(void **state)
{
    (void)state;
    struct prng prng = prng_start("ramp");
    for (int i = 0; i < 2000; i++) {
        struct ramp ramp = {
            .shape = prng_int(&prng, 0, 1) ? RAMP_COSINE : RAMP_LINEAR,
            .dawn_s = (int32_t)prng_int(&prng, 0, 14400),
            .dusk_s = (int32_t)prng_int(&prng, 0, 14400),
        };
        double length_s = prng_real(&prng, 1.0, i % 2 ? 86400.0 : 14400.0);
        double a = prng_real(&prng, 0.0, length_s);
        double b = prng_real(&prng, a, length_s);
        double c = prng_real(&prng, b, length_s);
        double whole = ramp_integral(&ramp, length_s, a, c);
        assert_near(ramp_integral(&ramp, length_s, a, b) + ramp_integral(&ramp, length_s, b, c),
                    whole, 1e-9);
        assert_true(whole >= 0.0 && whole <= c - a + 1e-9);
        assert_near(whole, reference(&ramp, length_s, a, c), 2e-5);
    }
}

static void test_slew(void **state)
{
    (void)state;
    static const struct {
        double now, want, rise, fall, dt, next;
    } cases[] = {
        {0.2, 0.8, 0.1, 0.05, 1.0, 0.3},
        {0.8, 0.2, 0.1, 0.05, 1.0, 0.75},
        {0.2, 0.25, 0.1, 0.1, 1.0, 0.25},
        {0.25, 0.2, 0.1, 0.1, 1.0, 0.2},
        {0.2, 0.8, 0.1, 0.05, 0.0, 0.2},
        {0.2, 0.8, 0.1, 0.05, -5.0, 0.2},
        {0.5, 0.5, 0.0, 0.0, 1.0, 0.5},
        {0.2, 0.8, (double)INFINITY, 0.05, 1.0, 0.8},
        {0.8, 0.2, 0.1, (double)INFINITY, 1.0, 0.2},
        {0.2, 0.8, (double)INFINITY, (double)INFINITY, 0.0, 0.8},
        {0.8, 0.2, (double)INFINITY, (double)INFINITY, 0.0, 0.2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_near(
            ramp_slew(cases[i].now, cases[i].want, cases[i].rise, cases[i].fall, cases[i].dt),
            cases[i].next, 1e-15);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_envelope),          cmocka_unit_test(test_steps_have_no_ramp),
        cmocka_unit_test(test_whole_window),      cmocka_unit_test(test_overlap_by_hand),
        cmocka_unit_test(test_integral_property), cmocka_unit_test(test_slew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
