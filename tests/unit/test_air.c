/* SPDX-License-Identifier: Apache-2.0 */
#include "air.h"
#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

/* R. Allen et al., FAO Irrigation and Drainage Paper 56, 1998, table 2.3 and examples 3 and 5: kPa,
 * printed to three places. */
static void test_saturation_of_fao56(void **state)
{
    (void)state;
    static const struct {
        double temperature_c, saturation_kpa;
    } printed[] = {
        {0.0, 0.611},  {1.0, 0.657},  {10.0, 1.228}, {15.0, 1.705}, {18.0, 2.064},
        {19.5, 2.267}, {20.0, 2.338}, {24.5, 3.075}, {25.0, 3.168}, {30.0, 4.243},
    };
    for (size_t i = 0; i < sizeof printed / sizeof printed[0]; i++) {
        assert_near(air_saturation_kpa(printed[i].temperature_c), printed[i].saturation_kpa, 0.001);
    }
    /* Example 3: the mean of 24.5 and 15 °C is 2.39 kPa. */
    assert_near((air_saturation_kpa(24.5) + air_saturation_kpa(15.0)) / 2.0, 2.39, 0.005);
}

/* FAO-56 example 4: wet bulb 19.5, dry bulb 25.6 °C, 87.9 kPa, ventilated psychrometer: e_a = 1.91
 * kPa. */
static void test_psychrometer_of_fao56(void **state)
{
    (void)state;
    double vapour_kpa = air_saturation_kpa(19.5) - 0.000662 * 87.9 * (25.6 - 19.5);
    assert_near(vapour_kpa, 1.91, 0.005);
}

/* FAO-56 example 5: 18 °C at 82 % and 25 °C at 54 %: e_a = 1.70 kPa. The deficit, 0.91 kPa, follows
 * from e_s = 2.616 kPa. */
static void test_deficit_of_fao56(void **state)
{
    (void)state;
    double saturation_kpa = (air_saturation_kpa(18.0) + air_saturation_kpa(25.0)) / 2.0;
    double deficit_kpa = (air_vpd_kpa(18.0, 82.0) + air_vpd_kpa(25.0, 54.0)) / 2.0;
    assert_near(saturation_kpa, 2.616, 0.005);
    assert_near(saturation_kpa - deficit_kpa, 1.70, 0.005);
    assert_near(deficit_kpa, 0.91, 0.005);
}

/* Worked out from FAO-56 eq. 11 and its inverse (the form in the dew point note of the Arizona
 * Meteorological Network), not printed there. */
static void test_deficit_and_dew_point(void **state)
{
    (void)state;
    static const struct {
        double temperature_c, humidity_percent, vpd_kpa, dew_point_c;
    } cases[] = {
        {25.0, 60.0, 1.2671, 16.696}, {20.0, 50.0, 1.1691, 9.270},  {24.0, 70.0, 0.8952, 18.190},
        {30.0, 80.0, 0.8486, 26.165}, {28.0, 40.0, 2.2680, 13.144},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double temperature_c = cases[i].temperature_c;
        double humidity = cases[i].humidity_percent;
        assert_near(air_vpd_kpa(temperature_c, humidity), cases[i].vpd_kpa, 1e-4);
        assert_near(air_dew_point_c(temperature_c, humidity), cases[i].dew_point_c, 1e-3);
    }
}

static void test_identities(void **state)
{
    (void)state;
    for (int i = 0; i <= 40; i++) {
        double t = -40.0 + 2.5 * i;
        assert_near(air_vpd_kpa(t, 100.0), 0.0, 0.0);
        assert_near(air_vpd_kpa(t, 0.0), air_saturation_kpa(t), 0.0);
        assert_near(air_dew_point_c(t, 100.0), t, 1e-10);
        double dew_point_c = air_dew_point_c(t, 40.0);
        assert_true(dew_point_c < t);
        if (dew_point_c >= -40.0) {
            assert_near(air_saturation_kpa(dew_point_c), 0.4 * air_saturation_kpa(t), 1e-10);
        }
    }
}

static void test_outside_the_range(void **state)
{
    (void)state;
    static const double temperatures[] = {-40.1, 60.1, -237.3, (double)NAN, (double)INFINITY};
    static const double humidities[] = {-0.1, 100.1, (double)NAN, (double)INFINITY};
    for (size_t i = 0; i < sizeof temperatures / sizeof temperatures[0]; i++) {
        assert_true(isnan(air_saturation_kpa(temperatures[i])));
        assert_true(isnan(air_vpd_kpa(temperatures[i], 50.0)));
        assert_true(isnan(air_dew_point_c(temperatures[i], 50.0)));
    }
    for (size_t i = 0; i < sizeof humidities / sizeof humidities[0]; i++) {
        assert_true(isnan(air_vpd_kpa(25.0, humidities[i])));
        assert_true(isnan(air_dew_point_c(25.0, humidities[i])));
    }
    assert_true(isnan(air_dew_point_c(25.0, 0.0)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_saturation_of_fao56), cmocka_unit_test(test_psychrometer_of_fao56),
        cmocka_unit_test(test_deficit_of_fao56),    cmocka_unit_test(test_deficit_and_dew_point),
        cmocka_unit_test(test_identities),          cmocka_unit_test(test_outside_the_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
