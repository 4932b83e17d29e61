/* SPDX-License-Identifier: Apache-2.0 */
/* Steps of a lamp whose daylight, droop and curve are known: what is found has to be them. */
#include "sweep_result.h"

#include "err.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define STEP_S 10.0

static struct sweep sweep;
static struct sweep_result result;

/* Daylight that rises, a lamp of 500 µmol that loses 0.2 % per K while it warms by 20 K, and
 * perhaps some light at drive 0. */
struct truth {
    double low_umol;
    bool has_heat;
};

static double daylight(double time_s)
{
    return 50 + 0.05 * time_s;
}

static double heat_c(double time_s)
{
    return 20 + fmin(time_s / 30, 20);
}

static double lamp(const struct truth *truth, double drive, double time_s)
{
    const double gain = 1 - 0.002 * (heat_c(time_s) - 40); /* 1 when warm */
    return gain * (truth->low_umol + (500 - truth->low_umol) * drive);
}

static void add(const struct truth *truth, enum sweep_kind kind, double drive)
{
    const double time_s = (sweep.count + 1) * STEP_S;
    const bool is_closed = kind != SWEEP_DARK;
    sweep.steps[sweep.count++] = (struct sweep_step){
        .kind = kind,
        .time_s = time_s,
        .asked = drive,
        .drive = drive,
        .umol = daylight(time_s) + (is_closed ? lamp(truth, drive, time_s) : 0),
        .watts = is_closed ? 5 + 200 * drive : 0,
        .heat_c = truth->has_heat ? heat_c(time_s) : (double)NAN,
        .is_lit = is_closed && lamp(truth, drive, time_s) > 0,
        .samples = 8,
        .is_steady = kind != SWEEP_BEND,
    };
}

static void pair(const struct truth *truth)
{
    add(truth, SWEEP_LOW, 0);
    add(truth, SWEEP_REFERENCE, 0.6);
}

static void make(const struct truth *truth)
{
    memset(&sweep, 0, sizeof sweep);
    sweep.low_umol = truth->low_umol * 1.04; /* as it was seen, cold */
    sweep.full_umol = 500;
    add(truth, SWEEP_DARK, 0);
    pair(truth);
    for (int i = 0; i < 60; i++) {
        add(truth, SWEEP_WARMING, 0.6);
    }
    pair(truth);
    for (int i = 1; i <= 20; i++) {
        add(truth, SWEEP_UP, i / 20.0);
        if (i % 4 == 0) {
            pair(truth);
        }
    }
    for (int i = 20; i >= 1; i--) {
        add(truth, i == 7 ? SWEEP_BEND : SWEEP_DOWN, i / 20.0);
        if (i % 4 == 0) {
            pair(truth);
        }
    }
    pair(truth);
}

static void tells_daylight_and_droop_apart(void **state)
{
    (void)state;
    const struct truth truth = {0, true};
    struct err err;
    make(&truth);
    assert_int_equal(sweep_result_of(&sweep, &result, &err), 0);
    assert_near(result.fit.full_umol, 500, 0.01);
    for (int i = 1; i <= 20; i++) {
        assert_near(dimcurve_level(&result.fit.curve, i / 20.0), i / 20.0, 1e-4);
        assert_near(dimcurve_watts(&result.fit.curve, i / 20.0), 5 + 10.0 * i, 1e-6);
    }
    assert_near(result.droop_per_k, 0.002 / 1.04, 1e-4); /* of the cold light */
    assert_near(result.hot_c, 40, 1e-9);
    assert_near(result.warm_c, heat_c(65 * STEP_S), 1e-9); /* the pair behind the warm-up */
    assert_near(result.cold_c, 21, 0.1);
    assert_near(result.dark_least, daylight(STEP_S), 1e-9);
    assert_near(result.dark_most, daylight((sweep.count - 1) * STEP_S), 1e-9);
    assert_int_equal(result.unsteady, 1);
    assert_near(result.fit.dead_below, 0, 1e-12);
    assert_true(isnan(result.off_drive)); /* the edges were not sought */
    assert_int_equal(sweep.steps[result.step_of[2]].kind, SWEEP_LOW);
}

static void a_lamp_that_stays_lit(void **state)
{
    (void)state;
    const struct truth truth = {100, false};
    struct err err;
    make(&truth);
    assert_int_equal(sweep_result_of(&sweep, &result, &err), 0);
    assert_near(result.fit.full_umol, 500, 3);
    assert_near(result.fit.holds_level, 0.2, 0.012);
    assert_near(dimcurve_level(&result.fit.curve, 0.5), 0.6, 0.006);
    assert_true(isnan(result.droop_per_k) && isnan(result.hot_c) && isnan(result.warm_c));
    assert_near(result.droop, 1 - 1 / 1.04, 0.006);
}

static void says_what_is_missing(void **state)
{
    (void)state;
    const struct truth truth = {0, true};
    struct err err;
    memset(&sweep, 0, sizeof sweep);
    result.droop = 7;
    assert_int_equal(sweep_result_of(&sweep, &result, &err), -ENODATA);
    assert_string_equal(err.text, "ended before any step");
    make(&truth);
    (void)snprintf(sweep.why, sizeof sweep.why, "it rained");
    assert_int_equal(sweep_result_of(&sweep, &result, &err), -ENODATA);
    assert_string_equal(err.text, "it rained");
    assert_near(result.droop, 7, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_daylight_and_droop_apart),
        cmocka_unit_test(a_lamp_that_stays_lit),
        cmocka_unit_test(says_what_is_missing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
