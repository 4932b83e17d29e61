/* SPDX-License-Identifier: Apache-2.0 */
#include "dimfit.h"

#include "err.h"
#include "near.h"
#include "prng.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define NONE ((double)NAN)

/* A lamp with everything: dark below 0.11, back on at 0.13, bent, flat from 0.95 on. */
static double lamp(double drive)
{
    const double x = fmin(drive, 0.95) / 0.95;
    return 0.5 * x + 0.5 * x * x;
}

static int take(struct dimfit_reading *all, struct prng *prng, bool is_down)
{
    int count = 0;
    for (int i = 0; i <= 50; i++) {
        const double drive = (is_down ? 50 - i : i) / 50.0;
        const bool is_lit = drive >= (is_down ? 0.11 : 0.13);
        const double noise = 1 + prng_real(prng, -0.002, 0.002);
        all[count++] = (struct dimfit_reading){drive, is_lit ? 400 * lamp(drive) * noise : 0,
                                               is_lit ? 10 + 290 * lamp(drive) * noise : 2, 8};
    }
    return count;
}

static void finds_what_the_lamp_does(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 50; round++) {
        struct dimfit_reading all[128];
        struct dimfit fit;
        struct err err;
        int count = take(all, &prng, false);
        count += take(all + count, &prng, true);
        assert_int_equal(dimfit_of(all, count, 0.05, &fit, &err), 0);
        assert_near(fit.full_umol, 400, 1.5);
        assert_near(fit.dead_below, 0.10, 1e-9);
        assert_near(fit.holds_drive, 0.12, 1e-9);
        assert_near(fit.holds_level, lamp(0.12), 0.002);
        assert_near(fit.lights_drive, 0.14, 1e-9);
        assert_near(fit.saturated_above, 0.95, 0.01);
        assert_true(fit.has_watts);
        assert_true(fit.worst_level < 0.008 && fit.rms_level < 0.004);
        assert_true(fit.worst_w < 2.5);
        assert_true(fit.curve.count <= DIMCURVE_POINTS_MAX && fit.curve.count < 30);
        /* What the daemon makes of these points is the lamp. */
        for (double drive = 0.14; drive <= 1; drive += 0.01) {
            assert_near(dimcurve_level(&fit.curve, drive), lamp(drive), 0.008);
            assert_near(dimcurve_watts(&fit.curve, drive), 10 + 290 * lamp(drive), 2.5);
        }
        assert_near(dimcurve_level(&fit.curve, 0.08), 0, 0);
        assert_near(dimcurve_min_drive(&fit.curve), 0.14, 1e-9);
    }
}

/* A block that falls takes its mean, by weight. */
static void pools_what_falls(void **state)
{
    (void)state;
    const struct dimfit_reading all[] = {
        {0.2, 1, 1, 1}, {0.4, 3, 4, 1}, {0.6, 2, 1, 1}, {1.0, 4, 4, 1}};
    struct dimfit fit;
    assert_int_equal(dimfit_of(all, 4, 0.2, &fit, NULL), 0);
    assert_near(dimcurve_level(&fit.curve, 0.2), 0.25, 1e-12);
    assert_near(dimcurve_level(&fit.curve, 0.4), 0.625, 0.0021);
    assert_near(dimcurve_level(&fit.curve, 0.6), 0.625, 0.0021);
    assert_near(dimcurve_watts(&fit.curve, 0.6), 2.5, 0.01);
    assert_near(fit.worst_level, 0.125, 0.0021);
    assert_near(dimfit_residual(&fit, &all[1]), 0.125, 0.0021);
    /* weights count: three times 3 and once 2 */
    const struct dimfit_reading heavy[] = {
        {0.2, 1, NONE, 1}, {0.4, 3, NONE, 3}, {0.6, 2, NONE, 1}, {1.0, 4, NONE, 1}};
    assert_int_equal(dimfit_of(heavy, 4, 0.3, &fit, NULL), 0);
    assert_near(dimcurve_level(&fit.curve, 0.4), 2.75 / 4, 0.0021);
    assert_false(fit.has_watts);
    assert_true(isnan(fit.worst_w) && isnan(fit.rms_w));
}

/* Barlow, Bartholomew, Bremner, Brunk 1972, max-min formula (from memory): the fitted value of a
 * place is the greatest over all beginnings before it of the least over all ends behind it of the
 * mean between them. */
static double max_min(const struct dimfit_reading *all, int count, int place)
{
    double greatest = -(double)INFINITY;
    for (int begin = 0; begin <= place; begin++) {
        double least = (double)INFINITY;
        for (int end = place; end < count; end++) {
            double sum = 0, weight = 0;
            for (int i = begin; i <= end; i++) {
                sum += all[i].umol * all[i].weight;
                weight += all[i].weight;
            }
            least = fmin(least, sum / weight);
        }
        greatest = fmax(greatest, least);
    }
    return greatest;
}

static void agrees_with_the_other_formula(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 200; round++) {
        struct dimfit_reading all[14];
        struct dimfit fit;
        for (int i = 0; i < 14; i++) {
            all[i] = (struct dimfit_reading){(i + 1) / 14.0, 20 * i + prng_real(&prng, 20, 120),
                                             NONE, (double)prng_int(&prng, 1, 9)};
        }
        assert_int_equal(dimfit_of(all, 14, 1, &fit, NULL), 0);
        const double full = max_min(all, 14, 13);
        assert_near(fit.full_umol, full, 1e-9);
        for (int i = 0; i < 14; i++) {
            assert_near(dimcurve_level(&fit.curve, all[i].drive), max_min(all, 14, i) / full,
                        DIMFIT_CLOSE + 1e-9);
        }
    }
}

static void simple_lamps(void **state)
{
    (void)state;
    struct dimfit fit;
    const struct dimfit_reading line[] = {
        {1, 500, 250, 1}, {0, 50, 30, 1}, {0.5, 275, 140, 1}, {0.75, 387.5, 195, 1}};
    assert_int_equal(dimfit_of(line, 4, 0.05, &fit, NULL), 0);
    assert_int_equal(fit.curve.count, 2); /* a straight line needs no more */
    assert_true(isnan(fit.dead_below) && isnan(fit.saturated_above));
    assert_near(fit.holds_drive, 0, 0);
    assert_near(fit.holds_level, 0.1, 1e-12);
    assert_near(fit.worst_level, 0, 1e-12);
    /* watts read here and there: straight between and below them, level above */
    struct dimfit_reading part[4];
    memcpy(part, line, sizeof part);
    part[0].watts = part[1].watts = NONE;
    assert_int_equal(dimfit_of(part, 4, 0.05, &fit, NULL), 0);
    assert_true(fit.has_watts);
    assert_near(dimcurve_watts(&fit.curve, 0), 30, 1);
    assert_near(dimcurve_watts(&fit.curve, 0.5), 140, 1);
    assert_near(dimcurve_watts(&fit.curve, 1), 195, 1e-9);
    part[2].watts = NONE;
    assert_int_equal(dimfit_of(part, 4, 0.05, &fit, NULL), 0);
    assert_false(fit.has_watts);
}

static void refuse(const struct dimfit_reading *all, int count, int code, const char *words)
{
    struct err err = {0};
    struct dimfit fit = {.full_umol = 7};
    assert_int_equal(dimfit_of(all, count, 0.05, &fit, &err), -code);
    if (!strstr(err.text, words)) {
        fail_msg("'%s' is not in '%s'", words, err.text);
    }
    assert_near(fit.full_umol, 7, 0);
}

static void says_why_not(void **state)
{
    (void)state;
    const struct dimfit_reading dark[] = {{0, 0, 2, 1}, {0.5, 0, 2, 1}, {1, 0, 2, 1}};
    refuse(dark, 3, ENODATA, "light at 0 of 3 drives");
    refuse(dark, 0, ENODATA, "light at 0 of 0 drives");
    const struct dimfit_reading far[] = {{0, 0, 2, 1}, {1.5, 10, 2, 1}};
    refuse(far, 2, EINVAL, "drive 1.5 is out of range (0 … 1)");
    const struct dimfit_reading blind[] = {{0, 0, 2, 1}, {0.5, NONE, 2, 1}};
    refuse(blind, 2, EINVAL, "no light reading at drive 0.5");
    const struct dimfit_reading hot[] = {{0, 1, -2, 1}, {0.5, 2, 2, 1}};
    refuse(hot, 2, EINVAL, "-2 W at drive 0");
    const struct dimfit_reading back[] = {{0, 400, 2, 1}, {0.5, 200, 2, 1}, {1, 10, 2, 1}};
    refuse(back, 3, EDOM, "contradict each other");
    const struct dimfit_reading gone[] = {
        {0, 0, 2, 1}, {0.5, 200, 2, 1}, {0.7, 300, 2, 1}, {1, 0, 2, 1}};
    refuse(gone, 4, EDOM, "dark at drive 1.000");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_what_the_lamp_does),
        cmocka_unit_test(pools_what_falls),
        cmocka_unit_test(agrees_with_the_other_formula),
        cmocka_unit_test(simple_lamps),
        cmocka_unit_test(says_why_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
