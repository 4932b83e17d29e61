/* SPDX-License-Identifier: Apache-2.0 */
#include "dimcurve.h"
#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof((array)[0])))

/* An invented but typical 0-10 V fixture: floor of 2 %, full light from 9.5 V on. */
static const struct dimcurve_point typical[] = {
    {0.10, 0.02, 9.0},   {0.15, 0.05, 14.0},  {0.30, 0.21, 62.0},  {0.50, 0.48, 148.0},
    {0.70, 0.74, 240.0}, {0.85, 0.93, 318.0}, {0.95, 1.00, 350.0}, {1.00, 1.00, 350.0},
};

/* Switched off by the line up to 1.2 V, a dead zone inside and one at the top. */
static const struct dimcurve_point zones[] = {
    {0.00, 0.00, 2.0},   {0.08, 0.00, 2.0},   {0.12, 0.10, 20.0},
    {0.30, 0.30, 70.0},  {0.45, 0.30, 70.0},  {0.60, 0.60, 140.0},
    {0.80, 1.00, 250.0}, {0.90, 1.00, 250.0}, {1.00, 1.00, 250.0},
};

static struct dimcurve make(const struct dimcurve_point *points, int count)
{
    struct dimcurve curve;
    assert_int_equal(dimcurve_init(&curve, points, count, NULL), DIMCURVE_OK);
    return curve;
}

/* Reference: scipy 1.10.1, scipy.interpolate.PchipInterpolator over the points of `typical`. */
static void test_against_pchip(void **state)
{
    (void)state;
    static const struct {
        double drive, level, watts;
    } cases[] = {
        {0.11, 0.0250393205944798, 9.5837664233577},
        {0.125, 0.0334348460721868, 10.9053375912409},
        {0.20, 0.0946193498244737, 25.5100396924018},
        {0.26, 0.1621814476720706, 46.8382981583585},
        {0.40, 0.3415144867702698, 102.9973504116072},
        {0.55, 0.5458555723348183, 170.2864922136803},
        {0.64, 0.6628287352193484, 211.3346643012025},
        {0.80, 0.8753287688100315, 294.5510071474984},
        {0.90, 0.9760587583148560, 338.8750000000000},
        {0.94, 0.9988362305986695, 349.4549999999999},
    };
    static const double slopes[] = {
        0.48333333333333356,
        0.73375796178343966,
        1.1851077726975834,
        1.3245283018867926,
        1.2823238566131026,
        0.88470066518846968,
        0.0,
        0.0,
    };
    static const struct {
        double level, drive;
    } inverse[] = {
        {0.03, 0.119089725150115}, {0.1, 0.205181523144111}, {0.3333, 0.394113057934373},
        {0.6, 0.591490813463521},  {0.9, 0.820519318362985}, {0.999, 0.940745544395006},
    };
    struct dimcurve curve = make(typical, COUNT(typical));
    for (int i = 0; i < COUNT(cases); i++) {
        assert_near(dimcurve_level(&curve, cases[i].drive), cases[i].level, 1e-13);
        assert_near(dimcurve_watts(&curve, cases[i].drive), cases[i].watts, 1e-10);
    }
    for (int i = 0; i < COUNT(slopes); i++) {
        assert_near(curve.level_slope[i], slopes[i], 1e-13);
    }
    for (int i = 0; i < COUNT(inverse); i++) {
        assert_near(dimcurve_drive(&curve, inverse[i].level), inverse[i].drive, 1e-9);
    }
}

/* Watts may turn (a fixture that draws less at its floor than in standby): no overshoot. Same
 * reference; the second curve's first slope of 70 is limited to three times its secant. */
static void test_watts_that_turn(void **state)
{
    (void)state;
    static const struct dimcurve_point turning[] = {
        {0.0, 0.1, 3.0}, {0.2, 0.3, 2.0}, {0.6, 0.7, 5.0}, {1.0, 1.0, 4.0}};
    static const struct dimcurve_point limited[] = {
        {0.0, 0.1, 10.0}, {0.4, 0.3, 10.5}, {0.5, 0.7, 2.0}, {1.0, 1.0, 2.0}};
    static const double drives[] = {0.05, 0.1, 0.4, 0.7, 0.9};
    static const double watts[] = {2.5859375, 2.2708333333333335, 3.5, 4.984375, 4.578125};
    static const double limited_drives[] = {0.1, 0.2, 0.35, 0.45, 0.8};
    static const double limited_watts[] = {10.2890625, 10.4375, 10.4990234375, 6.25, 2.0};
    struct dimcurve curve = make(turning, COUNT(turning));
    struct dimcurve other = make(limited, COUNT(limited));
    assert_near(other.watts_slope[0], 3.75, 1e-12);
    for (int i = 0; i < COUNT(drives); i++) {
        assert_near(dimcurve_watts(&curve, drives[i]), watts[i], 1e-13);
        assert_near(dimcurve_watts(&other, limited_drives[i]), limited_watts[i], 1e-12);
    }
}

static void test_exact_at_the_points(void **state)
{
    (void)state;
    struct dimcurve curve = make(typical, COUNT(typical));
    for (int i = 0; i < COUNT(typical); i++) {
        assert_true(dimcurve_level(&curve, typical[i].drive) == typical[i].level);
        assert_true(dimcurve_watts(&curve, typical[i].drive) == typical[i].watts);
        /* The last two share level 1: the lower drive is taken. */
        double drive = i == 7 ? typical[6].drive : typical[i].drive;
        assert_true(dimcurve_drive(&curve, typical[i].level) == drive);
    }
}

static void test_dead_zones(void **state)
{
    (void)state;
    struct dimcurve curve = make(zones, COUNT(zones));
    assert_int_equal(curve.first_lit, 2);
    assert_near(dimcurve_min_level(&curve), 0.10, 0.0);
    assert_near(dimcurve_min_drive(&curve), 0.12, 0.0);
    assert_near(dimcurve_level(&curve, 0.0), 0.0, 0.0);
    assert_near(dimcurve_level(&curve, 0.1199999), 0.0, 0.0);
    assert_near(dimcurve_level(&curve, 0.12), 0.10, 0.0);
    assert_near(dimcurve_level(&curve, 0.37), 0.30, 0.0);
    assert_near(dimcurve_level(&curve, 0.85), 1.0, 0.0);
    assert_near(dimcurve_drive(&curve, 0.01), 0.12, 0.0); /* below the minimum: the minimum */
    assert_near(dimcurve_drive(&curve, 0.30), 0.30, 0.0); /* lowest drive of the flat part */
    assert_near(dimcurve_drive(&curve, 1.0), 0.80, 0.0);  /* lowest drive that gives full light */
    assert_near(dimcurve_drive(&curve, 7.0), 0.80, 0.0);  /* clamped */
    assert_near(dimcurve_drive(&curve, 0.0), 0.0, 0.0);
    assert_near(dimcurve_drive(&curve, -1.0), 0.0, 0.0);
    assert_near(dimcurve_drive(&curve, (double)NAN), 0.0, 0.0);
    assert_near(dimcurve_watts(&curve, 0.04), 2.0, 0.0);
    double above = dimcurve_drive(&curve, 0.30 + 1e-6);
    assert_true(above > 0.45 && above < 0.60);
}

static void test_drives_outside_the_points(void **state)
{
    (void)state;
    struct dimcurve curve = make(typical, COUNT(typical));
    assert_near(dimcurve_level(&curve, 0.0), 0.02, 0.0);
    assert_near(dimcurve_level(&curve, -3.0), 0.02, 0.0);
    assert_near(dimcurve_level(&curve, (double)NAN), 0.02, 0.0);
    assert_near(dimcurve_level(&curve, 1.5), 1.0, 0.0);
    assert_near(dimcurve_watts(&curve, 0.0), 9.0, 0.0);
    assert_near(dimcurve_watts(&curve, 2.0), 350.0, 0.0);
    assert_near(dimcurve_drive(&curve, 0.0), 0.10, 0.0);
}

static void test_two_points_are_a_line(void **state)
{
    (void)state;
    static const struct dimcurve_point line[] = {{0.1, 0.05, 10.0}, {0.9, 1.0, 170.0}};
    struct dimcurve curve = make(line, COUNT(line));
    for (int i = 0; i <= 100; i++) {
        double t = i / 100.0;
        double drive = 0.1 + 0.8 * t;
        assert_near(dimcurve_level(&curve, drive), 0.05 + 0.95 * t, 1e-15);
        assert_near(dimcurve_drive(&curve, 0.05 + 0.95 * t), drive, 1e-12);
        assert_near(dimcurve_watts(&curve, drive), 10.0 + 160.0 * t, 1e-12);
    }
}

/* A fixture that cannot be dimmed: dark, or all of it. */
static void test_a_single_lit_point(void **state)
{
    (void)state;
    static const struct dimcurve_point on_off[] = {{0.0, 0.0, 0.0}, {1.0, 1.0, 100.0}};
    struct dimcurve curve = make(on_off, COUNT(on_off));
    assert_near(dimcurve_min_level(&curve), 1.0, 0.0);
    assert_near(dimcurve_level(&curve, 0.999), 0.0, 0.0);
    assert_near(dimcurve_level(&curve, 1.0), 1.0, 0.0);
    assert_near(dimcurve_drive(&curve, 0.3), 1.0, 0.0);
    assert_near(dimcurve_drive(&curve, 0.0), 0.0, 0.0);
}

static void test_faults(void **state)
{
    (void)state;
    static const struct {
        enum dimcurve_fault fault;
        int bad, count;
        struct dimcurve_point points[3];
    } cases[] = {
        {DIMCURVE_TOO_FEW, -1, 0, {{0.0, 0.0, 0.0}}},
        {DIMCURVE_TOO_FEW, -1, 1, {{1.0, 1.0, 0.0}}},
        {DIMCURVE_OUT_OF_RANGE, 0, 2, {{-0.1, 0.1, 0.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_OUT_OF_RANGE, 1, 2, {{0.1, 0.1, 0.0}, {1.1, 1.0, 0.0}}},
        {DIMCURVE_OUT_OF_RANGE, 0, 2, {{(double)NAN, 0.1, 0.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_OUT_OF_RANGE, 0, 2, {{0.1, -0.1, 0.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_OUT_OF_RANGE, 1, 2, {{0.1, 0.1, 0.0}, {1.0, (double)INFINITY, 0.0}}},
        {DIMCURVE_OUT_OF_RANGE, 1, 2, {{0.1, 0.1, 0.0}, {1.0, 1.0, -1.0}}},
        {DIMCURVE_OUT_OF_RANGE, 1, 2, {{0.1, 0.1, 0.0}, {1.0, 1.0, (double)NAN}}},
        {DIMCURVE_OUT_OF_RANGE, 0, 2, {{0.1, 0.1, 20001.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_DRIVE_ORDER, 1, 3, {{0.5, 0.1, 0.0}, {0.5, 0.2, 0.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_DRIVE_ORDER, 2, 3, {{0.1, 0.1, 0.0}, {0.9, 0.2, 0.0}, {0.8, 1.0, 0.0}}},
        {DIMCURVE_DRIVE_ORDER, 1, 3, {{0.5, 0.1, 0.0}, {0.5 + 1e-9, 0.2, 0.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_LEVEL_ORDER, 1, 3, {{0.1, 0.3, 0.0}, {0.5, 0.2, 0.0}, {1.0, 1.0, 0.0}}},
        {DIMCURVE_NO_FULL, 2, 3, {{0.1, 0.1, 0.0}, {0.5, 0.2, 0.0}, {1.0, 0.99, 0.0}}},
        {DIMCURVE_NEVER_LIT, -1, 2, {{0.1, 0.0, 0.0}, {1.0, 0.0, 0.0}}},
    };
    for (int i = 0; i < COUNT(cases); i++) {
        struct dimcurve curve;
        memset(&curve, 0x5a, sizeof curve);
        struct dimcurve before = curve;
        int bad = 77;
        assert_int_equal(dimcurve_init(&curve, cases[i].points, cases[i].count, &bad),
                         cases[i].fault);
        assert_int_equal(bad, cases[i].bad);
        assert_memory_equal(&curve, &before, sizeof curve);
    }
    struct dimcurve_point many[DIMCURVE_POINTS_MAX + 1];
    for (int i = 0; i <= DIMCURVE_POINTS_MAX; i++) {
        double share = (double)i / DIMCURVE_POINTS_MAX;
        many[i] = (struct dimcurve_point){share, share, 0.0};
    }
    struct dimcurve curve;
    int bad = 77;
    assert_int_equal(dimcurve_init(&curve, many, DIMCURVE_POINTS_MAX + 1, &bad), DIMCURVE_TOO_MANY);
    assert_int_equal(bad, -1);
    assert_int_equal(dimcurve_init(&curve, many + 1, DIMCURVE_POINTS_MAX, &bad), DIMCURVE_OK);
    assert_int_equal(bad, -1);
}

/* A random curve: 2 … 32 points, dark ones first, flat parts, steep and faint steps. */
static struct dimcurve random_curve(struct prng *prng)
{
    struct dimcurve_point points[DIMCURVE_POINTS_MAX];
    int count = (int)prng_int(prng, 2, DIMCURVE_POINTS_MAX);
    int dark = (int)prng_int(prng, 0, count / 3);
    double drive = prng_real(prng, 0.0, 0.1);
    double level = 0.0;
    for (int i = 0; i < count; i++) {
        if (i >= dark && prng_int(prng, 0, 4) > 0) {
            double share = prng_int(prng, 0, 3) ? fmin(3.0 / count, 1.0) : 1e-7;
            level += prng_real(prng, 0.0, share) * (1.0 - level);
        }
        points[i] = (struct dimcurve_point){drive, level, prng_real(prng, 0.0, 500.0)};
        drive += prng_real(prng, 2e-6, 0.9 / count);
    }
    points[count - 1].level = 1.0;
    return make(points, count);
}

static void test_random_curves(void **state)
{
    (void)state;
    struct prng prng = prng_start("dimcurve");
    for (int i = 0; i < 500; i++) {
        struct dimcurve curve = random_curve(&prng);
        double before = 0.0;
        for (int k = 0; k <= 1000; k++) {
            double drive = k / 1000.0;
            double level = dimcurve_level(&curve, drive);
            assert_true(level >= before - 1e-15 && level <= 1.0);
            before = level;
            double watts = dimcurve_watts(&curve, drive);
            assert_true(watts >= 0.0 && watts <= 500.0);
            /* level → drive → level */
            double want = prng_real(&prng, dimcurve_min_level(&curve), 1.0);
            double found = dimcurve_drive(&curve, want);
            assert_near(dimcurve_level(&curve, found), want, 1e-9);
            /* … and no lower drive would do */
            assert_true(dimcurve_drive(&curve, level) <=
                            fmax(drive, curve.points[0].drive) + 1e-9 ||
                        dimcurve_level(&curve, drive - 1e-6) > level - 1e-9);
        }
        for (int k = curve.first_lit; k < curve.count; k++) {
            const struct dimcurve_point *point = &curve.points[k];
            assert_true(dimcurve_level(&curve, point->drive) == point->level);
            double lowest = dimcurve_drive(&curve, point->level);
            assert_true(lowest <= point->drive);
            assert_true(dimcurve_level(&curve, lowest) == point->level);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_against_pchip),
        cmocka_unit_test(test_watts_that_turn),
        cmocka_unit_test(test_exact_at_the_points),
        cmocka_unit_test(test_dead_zones),
        cmocka_unit_test(test_drives_outside_the_points),
        cmocka_unit_test(test_two_points_are_a_line),
        cmocka_unit_test(test_a_single_lit_point),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_random_curves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
