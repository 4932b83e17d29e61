/* SPDX-License-Identifier: Apache-2.0 */
#include "daylight_data.h"
#include "near.h"
#include "sun.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

static const double PI = 3.14159265358979323846;

static int64_t utc(int year, int month, int day)
{
    struct tm tm = {.tm_year = year - 1900, .tm_mon = month - 1, .tm_mday = day};
    return (int64_t)timegm(&tm);
}

static double zenith_deg(double latitude, double longitude, int64_t wall_s)
{
    return acos(sun_cos_zenith(latitude, longitude, wall_s)) * 180.0 / PI;
}

/* When the sun of a UTC day stands highest at Greenwich, minutes. */
static double noon_min(double latitude, int64_t day_s)
{
    int best = 0;
    for (int s = 0; s < 86400; s += 6) {
        if (sun_cos_zenith(latitude, 0.0, day_s + s) >
            sun_cos_zenith(latitude, 0.0, day_s + best)) {
            best = s;
        }
    }
    return best / 60.0;
}

/* 1098 exp(−0.057) and 549 exp(−0.114), with exp(−0.057) = 0.94459407 from its series. */
static void test_haurwitz_by_hand(void **state)
{
    (void)state;
    assert_near(sun_clear_wm2(1.0), 1037.1643, 1e-3);
    assert_near(sun_clear_wm2(0.5), 489.8496, 1e-3);
    assert_near(sun_clear_wm2(0.0), 0.0, 0.0);
    assert_near(sun_clear_wm2(0.001), 0.0, 0.0);
    assert_near(sun_clear_wm2(-0.4), 0.0, 0.0);
    assert_near(sun_clear_wm2((double)NAN), 0.0, 0.0);
}

/* Noon height at the solstices: 90° − |latitude ∓ 23.44°| (obliquity of the ecliptic, Astronomical
 * Almanac, from memory). */
static void test_noon_at_solstices(void **state)
{
    (void)state;
    static const double latitudes[] = {60.0, 55.3, 40.53, 36.1, 0.0, -35.0};
    static const int years[] = {1972, 2000, 2023, 2024, 2099};
    for (size_t y = 0; y < sizeof years / sizeof years[0]; y++) {
        for (size_t i = 0; i < sizeof latitudes / sizeof latitudes[0]; i++) {
            double latitude = latitudes[i];
            int64_t june = utc(years[y], 6, 21);
            int64_t december = utc(years[y], 12, 21);
            int64_t june_noon = june + (int64_t)(60.0 * noon_min(latitude, june));
            int64_t december_noon = december + (int64_t)(60.0 * noon_min(latitude, december));
            assert_near(zenith_deg(latitude, 0.0, june_noon), fabs(latitude - 23.44), 0.1);
            assert_near(zenith_deg(latitude, 0.0, december_noon), fabs(latitude + 23.44), 0.1);
        }
    }
}

/* At an equinox the centre of the sun is up for half the day everywhere: 2023-03-20 and 2023-09-23
 * (21:24 and 06:50 UTC, Astronomical Almanac, from memory). Half a degree of declination, the
 * accuracy promised, moves sunrise and sunset by 2 tan(latitude) minutes. */
static void test_sunrise_at_equinox(void **state)
{
    (void)state;
    static const double latitudes[] = {0.0, 30.0, 50.0, 60.0, -45.0};
    const int64_t days[] = {utc(2023, 3, 20), utc(2023, 9, 23)};
    for (size_t d = 0; d < 2; d++) {
        for (size_t i = 0; i < sizeof latitudes / sizeof latitudes[0]; i++) {
            int rise_min = -1;
            int up_min = 0;
            for (int min = 0; min < 1440; min++) {
                if (sun_cos_zenith(latitudes[i], 0.0, days[d] + (int64_t)min * 60) > 0.0) {
                    rise_min = rise_min < 0 ? min : rise_min;
                    up_min++;
                }
            }
            double few_min = 1.0 + 2.0 * fabs(tan(latitudes[i] * PI / 180.0));
            assert_near(up_min, 720.0, 2.0 * few_min);
            assert_near(rise_min, noon_min(latitudes[i], days[d]) - 360.0, few_min);
        }
    }
}

/* The four extremes of the equation of time: −14.2, +3.7, −6.5, +16.4 min on 11 February, 14 May,
 * 26 July, 3 November (any almanac; from memory). The sun is late where it is negative. */
static void test_equation_of_time(void **state)
{
    (void)state;
    assert_near(noon_min(40.0, utc(2023, 2, 11)), 720.0 + 14.2, 0.7);
    assert_near(noon_min(40.0, utc(2023, 5, 14)), 720.0 - 3.7, 0.7);
    assert_near(noon_min(40.0, utc(2023, 7, 26)), 720.0 + 6.5, 0.7);
    assert_near(noon_min(40.0, utc(2023, 11, 3)), 720.0 - 16.4, 0.7);
}

/* The earth turns 15° an hour, eastern places first; no jump at the end of any year. */
static void test_turns_evenly(void **state)
{
    (void)state;
    int64_t at = utc(2023, 5, 1) + 9 * 3600;
    assert_near(sun_cos_zenith(50.0, 15.0, at), sun_cos_zenith(50.0, 0.0, at + 3600), 1e-3);
    assert_near(sun_cos_zenith(50.0, -15.0, at), sun_cos_zenith(50.0, 0.0, at - 3600), 1e-3);
    static const int years[] = {1899, 1969, 1999, 2023, 2024, 2099, 2399};
    for (size_t y = 0; y < sizeof years / sizeof years[0]; y++) {
        int64_t end = utc(years[y], 12, 31);
        double before = sun_cos_zenith(50.0, 0.0, end);
        for (int64_t s = 60; s <= 2 * INT64_C(86400); s += 60) {
            double now = sun_cos_zenith(50.0, 0.0, end + s);
            assert_near(now, before, 2.0 * PI / 1440.0);
            before = now;
        }
        /* A year later the sun is where it was, a quarter of a day early. */
        assert_near(zenith_deg(50.0, 0.0, utc(years[y], 12, 31) + 43200),
                    zenith_deg(50.0, 0.0, utc(years[y] + 1, 12, 31) + 43200), 0.15);
    }
}

/* No day is skipped or lived twice: the noon height goes on from day to day as it did the day
 * before, over all four kinds of year's end of the Gregorian calendar. */
static void test_every_day_once(void **state)
{
    (void)state;
    static const int years[] = {1600, 1896, 1968, 1999, 2000, 2023, 2096, 2099, 2400};
    for (size_t y = 0; y < sizeof years / sizeof years[0]; y++) {
        int64_t noon = utc(years[y], 1, 1) + 43200;
        double before_deg = zenith_deg(50.0, 0.0, noon - 86400);
        double change_deg = before_deg - zenith_deg(50.0, 0.0, noon - INT64_C(2) * 86400);
        for (int day = 0; day < 5 * 365; day++, noon += 86400) {
            double now_deg = zenith_deg(50.0, 0.0, noon);
            assert_near(now_deg - before_deg, change_deg, 0.04);
            change_deg = now_deg - before_deg;
            before_deg = now_deg;
        }
    }
}

static void test_polar_night(void **state)
{
    (void)state;
    const struct sun_site site = {
        .has_place = true, .latitude = 75.0, .longitude = 20.0, .daylight_share = 0.6};
    for (int64_t s = 0; s < 86400; s += 60) {
        assert_near(sun_clear_umol(&site, utc(2023, 12, 21) + s), 0.0, 0.0);
        assert_true(sun_clear_umol(&site, utc(2023, 6, 21) + s) > 0.0);
    }
}

static void test_share_and_factor(void **state)
{
    (void)state;
    struct sun_site site = {
        .has_place = true, .latitude = 36.1, .longitude = -79.95, .daylight_share = 0.6};
    int64_t at = utc(2023, 6, 1) + 17 * 3600;
    double outdoors_w = sun_clear_wm2(sun_cos_zenith(36.1, -79.95, at));
    assert_true(outdoors_w > 900.0);
    assert_near(sun_clear_umol(&site, at), 0.6 * 2.04 * outdoors_w, 1e-9);
    site.daylight_share = 0.0;
    assert_near(sun_clear_umol(&site, at), 0.0, 0.0);
}

static void test_without_a_place(void **state)
{
    (void)state;
    const struct sun_site site = {.utc_offset_s = -5 * 3600, .daylight_share = 0.5};
    static const int64_t days[] = {0, 19000, -3};
    for (size_t d = 0; d < sizeof days / sizeof days[0]; d++) {
        int64_t midnight = days[d] * 86400 + INT64_C(5) * 3600;
        double noon_umol = 0.5 * 2.04 * 1098.0 * 0.7 * exp(-0.057 / 0.7);
        assert_near(sun_clear_umol(&site, midnight + 12 * 3600), noon_umol, 1e-9);
        assert_near(sun_clear_umol(&site, midnight + 9 * 3600),
                    sun_clear_umol(&site, midnight + 15 * 3600), 1e-9);
        assert_near(sun_clear_umol(&site, midnight + 6 * 3600 - 60), 0.0, 0.0);
        assert_near(sun_clear_umol(&site, midnight + 18 * 3600 + 60), 0.0, 0.0);
        assert_true(sun_clear_umol(&site, midnight + 7 * 3600) > 0.0);
        assert_near(sun_clear_umol(&site, midnight), 0.0, 0.0);
    }
}

/* What the air lifts a sun at this height, degrees (G. G. Bennett 1982, from memory). */
static double refraction_deg(double height_deg)
{
    if (height_deg < -1.0) {
        return 0.0;
    }
    return 1.0 / tan((height_deg + 7.31 / (height_deg + 4.4)) * PI / 180.0) / 60.0;
}

struct station {
    const char *file;
    double latitude, longitude;
};

/* Zenith angles as published by the SURFRAD network (NOAA), for the middle of each minute, with
 * refraction. Down to where under the horizon that reaches is the network's own choice: 0.4°
 * to 1.6° are left out. */
static void test_published_zenith_angles(void **state)
{
    (void)state;
    static const struct station stations[] = {
        {"surfrad_psu17001_1min.csv", 40.72, -77.93},
        {"surfrad_psu17010_1min.csv", 40.72, -77.93},
        {"surfrad_slv15365_1min.csv", 37.70, -105.92},
        {"surfrad_slv16001_1min.csv", 37.70, -105.92},
        {"surfrad_tbl17005_1min.csv", 40.125, -105.237},
    };
    for (size_t i = 0; i < sizeof stations / sizeof stations[0]; i++) {
        FILE *file = daylight_data_open(stations[i].file);
        char line[256];
        int rows = 0;
        int compared = 0;
        double worst_deg = 0.0;
        while (fgets(line, sizeof line, file) != NULL) {
            struct tm end = {.tm_isdst = 0};
            const char *rest = strptime(line, "%Y-%m-%dT%H:%MZ,", &end);
            assert_non_null(rest);
            double published_deg = strtod(rest, NULL);
            double height_deg = 90.0 - zenith_deg(stations[i].latitude, stations[i].longitude,
                                                  (int64_t)timegm(&end) - 30);
            double error_deg = fabs(90.0 - height_deg - refraction_deg(height_deg) - published_deg);
            rows++;
            if (height_deg < -1.6 || height_deg > -0.4) {
                worst_deg = fmax(worst_deg, error_deg);
                compared++;
            }
        }
        (void)fclose(file);
        print_message("%s: off by at most %.3f deg\n", stations[i].file, worst_deg);
        assert_int_equal(rows, 1440);
        assert_true(compared > 1420);
        assert_true(worst_deg < 0.3);
    }
}

/* The clear sky of a year at 40.5 N, 2168 m, as the satellite data set (NSRDB) models it. The high
 * and dry air there lets more light through than Haurwitz's formula knows: 6.5 % in the year. */
static void test_clear_sky_of_a_year(void **state)
{
    (void)state;
    FILE *file = daylight_data_open("nsrdb_40N_2023_30min.csv");
    char line[256];
    double published_wh = 0.0;
    double own_wh = 0.0;
    int rows = 0;
    while (fgets(line, sizeof line, file) != NULL) {
        long field[4];
        char *rest = line;
        for (size_t i = 0; i < 4; i++) {
            field[i] = strtol(rest, &rest, 10);
            assert_int_equal(*rest, ',');
            rest++;
        }
        (void)strtod(rest, &rest);
        assert_int_equal(*rest, ',');
        published_wh += 0.5 * strtod(rest + 1, NULL);
        int64_t centre_s =
            utc(2023, (int)field[0], (int)field[1]) + (field[2] + 7) * 3600 + field[3] * 60;
        for (int64_t s = -870; s < 900; s += 60) {
            own_wh += sun_clear_wm2(sun_cos_zenith(40.53, -108.54, centre_s + s)) / 60.0;
        }
        rows++;
    }
    (void)fclose(file);
    assert_int_equal(rows, 17520);
    print_message("clear sky of 2023: %.1f kWh, published %.1f\n", own_wh / 1e3,
                  published_wh / 1e3);
    assert_near(published_wh, 2223.4e3, 0.1e3); /* a reader's check */
    assert_near(own_wh / published_wh, 0.935, 0.005);
}

/* 52° N 13° E on New Year's Day: the sun sets at about 15:05 UTC, civil twilight ends some 40
 * minutes later (almanac, from memory). */
static void down_is_after_twilight(void **state)
{
    (void)state;
    const struct sun_site site = {true, 52, 13, 3600, 0.6};
    const struct sun_site nowhere = {false, 0, 0, 3600, 0.6};
    const int64_t midnight_s = INT64_C(1767225600); /* 2026-01-01 */
    assert_false(sun_is_down(&site, midnight_s + 12 * 3600));
    assert_false(sun_is_down(&site, midnight_s + 15 * 3600 + 20 * 60));
    assert_true(sun_is_down(&site, midnight_s + 16 * 3600));
    assert_true(sun_is_down(&site, midnight_s + 23 * 3600));
    assert_false(sun_is_down(&nowhere, midnight_s));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_haurwitz_by_hand),    cmocka_unit_test(test_noon_at_solstices),
        cmocka_unit_test(test_sunrise_at_equinox),  cmocka_unit_test(test_equation_of_time),
        cmocka_unit_test(test_turns_evenly),        cmocka_unit_test(test_every_day_once),
        cmocka_unit_test(test_polar_night),         cmocka_unit_test(test_share_and_factor),
        cmocka_unit_test(test_without_a_place),     cmocka_unit_test(test_published_zenith_angles),
        cmocka_unit_test(test_clear_sky_of_a_year), cmocka_unit_test(down_is_after_twilight),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
