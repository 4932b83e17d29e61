/* SPDX-License-Identifier: Apache-2.0 */
#include "sun.h"

#include "units.h"

#include <math.h>

#define COS_DOWN (-0.1045)

static const double PI = 3.14159265358979323846;

#define DAYS_1_TO_1970 719162 /* from 0001-01-01 */
#define DAYS_400_YEARS 146097
#define DAYS_100_YEARS 36524
#define DAYS_4_YEARS   1461

static double radians(double degrees)
{
    return degrees * (PI / 180.0);
}

/* Seconds since the day began, 0 … 86399; the day itself through ret_day. */
static int64_t split(int64_t wall_s, int64_t *ret_day)
{
    int64_t second = wall_s % UNITS_S_PER_DAY;
    if (second < 0) {
        second += UNITS_S_PER_DAY;
    }
    *ret_day = (wall_s - second) / UNITS_S_PER_DAY;
    return second;
}

/* Where in the Gregorian year a day (from 1970-01-01) lies: 0 … 365 of 365 or 366. */
struct yearday {
    int day, length;
};

static struct yearday yearday_of(int64_t day)
{
    int64_t left = (day + DAYS_1_TO_1970) % DAYS_400_YEARS;
    if (left < 0) {
        left += DAYS_400_YEARS;
    }
    /* The last day of a leap year would open a fifth part of four. */
    int64_t century = left / DAYS_100_YEARS < 3 ? left / DAYS_100_YEARS : 3;
    left -= century * DAYS_100_YEARS;
    int64_t four = left / DAYS_4_YEARS;
    left -= four * DAYS_4_YEARS;
    if (left < (int64_t)3 * 365) {
        return (struct yearday){.day = (int)(left % 365), .length = 365};
    }
    bool is_leap = four != 24 || century == 3;
    return (struct yearday){.day = (int)(left - (int64_t)3 * 365), .length = is_leap ? 366 : 365};
}

double sun_cos_zenith(double latitude, double longitude, int64_t wall_s)
{
    int64_t day = 0;
    double hour = (double)split(wall_s, &day) / 3600.0;
    struct yearday in = yearday_of(day);
    double year = 2.0 * PI / in.length * (in.day + (hour - 12.0) / 24.0);
    /* Angles doubled and tripled by the addition theorem: two sines instead of six. */
    double c1 = cos(year);
    double s1 = sin(year);
    double c2 = c1 * c1 - s1 * s1;
    double s2 = 2.0 * s1 * c1;
    double c3 = c2 * c1 - s2 * s1;
    double s3 = s2 * c1 + c2 * s1;
    double equation_min =
        229.18 * (0.000075 + 0.001868 * c1 - 0.032077 * s1 - 0.014615 * c2 - 0.040849 * s2);
    double declination = 0.006918 - 0.399912 * c1 + 0.070257 * s1 - 0.006758 * c2 + 0.000907 * s2 -
                         0.002697 * c3 + 0.00148 * s3;
    double hour_angle = radians((60.0 * hour + equation_min + 4.0 * longitude) / 4.0 - 180.0);
    double place = radians(latitude);
    double cos_zenith =
        sin(place) * sin(declination) + cos(place) * cos(declination) * cos(hour_angle);
    return units_clamp(cos_zenith, -1.0, 1.0);
}

double sun_clear_wm2(double cos_zenith)
{
    if (!(cos_zenith > 0.001)) {
        return 0.0;
    }
    return 1098.0 * cos_zenith * exp(-0.057 / cos_zenith);
}

/* An equinox at no place in particular. */
static double cos_zenith_anywhere(int64_t wall_s, int32_t utc_offset_s)
{
    int64_t day = 0;
    double second = (double)split(wall_s + utc_offset_s, &day);
    return 0.7 * sin(2.0 * PI * (second / (double)UNITS_S_PER_DAY - 0.25));
}

double sun_clear_umol(const struct sun_site *site, int64_t wall_s)
{
    double cos_zenith = site->has_place ? sun_cos_zenith(site->latitude, site->longitude, wall_s)
                                        : cos_zenith_anywhere(wall_s, site->utc_offset_s);
    return SUN_UMOL_PER_W * site->daylight_share * sun_clear_wm2(cos_zenith);
}

bool sun_is_down(const struct sun_site *site, int64_t wall_s)
{
    return site->has_place && sun_cos_zenith(site->latitude, site->longitude, wall_s) < COS_DOWN;
}
