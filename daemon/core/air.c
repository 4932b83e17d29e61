/* SPDX-License-Identifier: Apache-2.0 */
#include "air.h"

#include "units.h"

/* e°(T) = E0 · exp(A·T / (T + B)); FAO-56 eq. 11, T in °C, e° in kPa. */
static const double E0_KPA = 0.6108;
static const double A = 17.27;
static const double B_C = 237.3;

static const double COLDEST_C = -40.0;
static const double HOTTEST_C = 60.0;

static bool is_humidity(double percent)
{
    return percent >= 0.0 && percent <= 100.0;
}

double air_saturation_kpa(double temperature_c)
{
    if (!(temperature_c >= COLDEST_C && temperature_c <= HOTTEST_C)) {
        return UNITS_NONE;
    }
    return E0_KPA * exp(A * temperature_c / (temperature_c + B_C));
}

double air_vpd_kpa(double temperature_c, double humidity_percent)
{
    if (!is_humidity(humidity_percent)) {
        return UNITS_NONE;
    }
    return air_saturation_kpa(temperature_c) * (1.0 - humidity_percent / 100.0);
}

double air_dew_point_c(double temperature_c, double humidity_percent)
{
    if (!is_humidity(humidity_percent) || !(humidity_percent > 0.0)) {
        return UNITS_NONE;
    }
    double vapour_kpa = air_saturation_kpa(temperature_c) * humidity_percent / 100.0;
    double g = log(vapour_kpa / E0_KPA);
    return B_C * g / (A - g);
}
