/* SPDX-License-Identifier: Apache-2.0 */
#include "parse.h"

#include "err.h"
#include "prng.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

static void reals(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double value;
        int result;
    } cases[] = {
        {"0", 0, 0},           {"1", 1, 0},
        {"-0.5", -0.5, 0},     {"+2.", 2, 0},
        {".25", 0.25, 0},      {"1e2", 100, 0},
        {"1.5E-3", 0.0015, 0}, {"100", 100, 0},
        {"", 7, -EINVAL},      {" 1", 7, -EINVAL},
        {"1 ", 7, -EINVAL},    {"1,5", 7, -EINVAL},
        {"nan", 7, -EINVAL},   {"inf", 7, -EINVAL},
        {"-inf", 7, -EINVAL},  {"INFINITY", 7, -EINVAL},
        {"0x10", 7, -EINVAL},  {"1e", 7, -EINVAL},
        {"1e+", 7, -EINVAL},   {".", 7, -EINVAL},
        {"-", 7, -EINVAL},     {"1.2.3", 7, -EINVAL},
        {"12abc", 7, -EINVAL}, {"--1", 7, -EINVAL},
        {"101", 7, -ERANGE},   {"-2", 7, -ERANGE},
        {"1e999", 7, -ERANGE}, {"1e-999", 0, 0},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        double value = 7;
        struct err err = {""};
        int r = parse_real(cases[i].text, -1, 100, &value, &err);
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(r, cases[i].result);
        assert_true(value == cases[i].value);
        assert_true((r == 0) == (err.text[0] == '\0'));
    }
}

static void reals_ignore_the_locale(void **state)
{
    (void)state;
    /* Any locale whose decimal mark is a comma; without one the test has nothing to say. */
    if (!setlocale(LC_ALL, "de_DE.UTF-8") && !setlocale(LC_ALL, "fr_FR.UTF-8")) {
        skip();
    }
    double value = 0;
    assert_int_equal(parse_real("1.5", 0, 2, &value, NULL), 0);
    assert_true(value == 1.5);
    assert_int_equal(parse_real("1,5", 0, 2, &value, NULL), -EINVAL);
    (void)setlocale(LC_ALL, "C");
}

static void integers(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t value;
        int result;
    } cases[] = {
        {"0", 0, 0},          {"-5", -5, 0},
        {"+10", 10, 0},       {"007", 7, 0},
        {"", 3, -EINVAL},     {"1.0", 3, -EINVAL},
        {"0x10", 3, -EINVAL}, {" 1", 3, -EINVAL},
        {"1e2", 3, -EINVAL},  {"11", 3, -ERANGE},
        {"-6", 3, -ERANGE},   {"99999999999999999999", 3, -ERANGE},
        {"1L", 3, -EINVAL},   {"4294967296", 3, -ERANGE},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        int64_t value = 3;
        int r = parse_int(cases[i].text, -5, 10, &value, NULL);
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(r, cases[i].result);
        assert_true(value == cases[i].value);
    }
    int64_t value = 0;
    assert_int_equal(parse_int("-9223372036854775808", INT64_MIN, INT64_MAX, &value, NULL), 0);
    assert_true(value == INT64_MIN);
}

static void sentences_name_value_and_range(void **state)
{
    (void)state;
    double real = 0;
    int64_t whole = 0;
    int32_t second = 0;
    struct err err;
    (void)parse_real("1.4", 0, 1, &real, &err);
    assert_string_equal(err.text, "1.4 is out of range (0 … 1)");
    (void)parse_real("1,4", 0, 1, &real, &err);
    assert_string_equal(err.text, "\"1,4\" is not a number (0 … 1)");
    (void)parse_int("1.5", 1, 247, &whole, &err);
    assert_string_equal(err.text, "\"1.5\" is not a whole number (1 … 247)");
    (void)parse_time_of_day("6am", &second, &err);
    assert_string_equal(err.text, "\"6am\" is not a time of day (\"00:00\" … \"23:59:59\")");
    (void)parse_time_of_day("24:00", &second, &err);
    assert_string_equal(err.text,
                        "\"24:00\" is out of range: not a time of day (\"00:00\" … \"23:59:59\")");
    (void)parse_duration("90", 7200, &whole, &err);
    assert_string_equal(err.text, "\"90\" is not a duration with its unit (\"90s\", \"30min\", "
                                  "\"2h\", \"1h30min\", \"1d\"; at most 2 h 00 min)");
    (void)parse_duration("3h", 7200, &whole, &err);
    assert_string_equal(err.text, "\"3h\" is out of range (above 0 s, at most 2 h 00 min)");
}

static void times_of_day(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t second;
        int result;
    } cases[] = {
        {"00:00", 0, 0},          {"06:30", 23400, 0},     {"06:30:15", 23415, 0},
        {"23:59:59", 86399, 0},   {"24:00", 9, -ERANGE},   {"12:60", 9, -ERANGE},
        {"12:00:60", 9, -ERANGE}, {"6:30", 9, -EINVAL},    {"06:30 ", 9, -EINVAL},
        {"0630", 9, -EINVAL},     {"06:3", 9, -EINVAL},    {"", 9, -EINVAL},
        {"-6:30", 9, -EINVAL},    {"06:30:1", 9, -EINVAL},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        int32_t second = 9;
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(parse_time_of_day(cases[i].text, &second, NULL), cases[i].result);
        assert_int_equal(second, cases[i].second);
    }
}

static void utc_offsets(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int32_t second;
        int result;
    } cases[] = {
        {"Z", 0, 0},           {"+01:00", 3600, 0},    {"-09:30", -34200, 0},  {"+14:00", 50400, 0},
        {"-14:00", -50400, 0}, {"+14:30", 9, -ERANGE}, {"+01:60", 9, -ERANGE}, {"1", 9, -EINVAL},
        {"+1:00", 9, -EINVAL}, {"+0100", 9, -EINVAL},  {"01:00", 9, -EINVAL},  {"Z ", 9, -EINVAL},
        {"", 9, -EINVAL},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        int32_t second = 9;
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(parse_utc_offset(cases[i].text, &second, NULL), cases[i].result);
        assert_int_equal(second, cases[i].second);
    }
}

static void dates(void **state)
{
    (void)state;
    /* POSIX.1-2017, 4.16 "Seconds Since the Epoch": 1970-01-01 is day 0. RFC 3339, 5.7 gives the
     * month lengths and leap years; Unix time 1000000000 is 2001-09-09T01:46:40Z (day 11574). */
    static const struct {
        const char *text;
        int64_t day;
        int result;
    } cases[] = {
        {"1970-01-01", 0, 0},        {"1970-12-31", 364, 0},      {"2000-02-29", 11016, 0},
        {"2001-09-09", 11574, 0},    {"2199-12-31", 84005, 0},    {"2023-02-29", -1, -ERANGE},
        {"2100-02-29", -1, -ERANGE}, {"2026-13-01", -1, -ERANGE}, {"2026-00-01", -1, -ERANGE},
        {"2026-04-31", -1, -ERANGE}, {"1969-12-31", -1, -ERANGE}, {"2200-01-01", -1, -ERANGE},
        {"2026-11-2", -1, -EINVAL},  {"02.11.2026", -1, -EINVAL}, {"2026-11-02 ", -1, -EINVAL},
        {"20261102", -1, -EINVAL},   {"", -1, -EINVAL},           {"2026-11-00", -1, -ERANGE},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        int64_t day = -1;
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(parse_date(cases[i].text, &day, NULL), cases[i].result);
        assert_true(day == cases[i].day);
    }
}

static void every_date_goes_there_and_back(void **state)
{
    (void)state;
    char last[16] = "";
    for (int64_t day = 0; day <= 84005; day++) {
        char text[16];
        int64_t again = -1;
        parse_format_date(day, text, sizeof text);
        assert_int_equal(parse_date(text, &again, NULL), 0);
        assert_true(again == day);
        assert_true(strcmp(last, text) < 0);
        memcpy(last, text, sizeof last);
    }
}

static void datetimes(void **state)
{
    (void)state;
    /* RFC 3339, 5.8: 1996-12-19T16:39:57-08:00 is 1996-12-20T00:39:57Z;
     * 1937-01-01T12:00:27.87+00:20 lies before our range and has a fraction. Unix time 1000000000
     * as above. */
    static const struct {
        const char *text;
        int64_t wall_s;
        int result;
    } cases[] = {
        {"1970-01-01T00:00:00Z", 0, 0},
        {"2001-09-09T01:46:40Z", 1000000000, 0},
        {"1996-12-19T16:39:57-08:00", 851042397, 0},
        {"1996-12-20T00:39:57Z", 851042397, 0},
        {"2026-11-02T06:00+01:00", 1793595600, 0},
        {"2026-11-02 06:00:00+01:00", 1793595600, 0},
        {"2026-11-02T06:00:00", -9, -EINVAL},
        {"2026-11-02t06:00:00Z", -9, -EINVAL},
        {"2026-11-02T06:00:00.5Z", -9, -EINVAL},
        {"2026-11-02", -9, -EINVAL},
        {"2026-11-02T25:00:00Z", -9, -ERANGE},
        {"1937-01-01T12:00:27+00:20", -9, -ERANGE},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        int64_t wall_s = -9;
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(parse_datetime(cases[i].text, &wall_s, NULL), cases[i].result);
        assert_true(wall_s == cases[i].wall_s);
    }
    char text[32];
    parse_format_datetime(851042397, -8 * 3600, text, sizeof text);
    assert_string_equal(text, "1996-12-19T16:39:57-08:00");
    parse_format_datetime(-1, 0, text, sizeof text);
    assert_string_equal(text, "1969-12-31T23:59:59+00:00");
    parse_format_datetime(-1, 37800, text, sizeof text);
    assert_string_equal(text, "1970-01-01T10:29:59+10:30");
    parse_format_datetime(INT64_MAX, 50400, text, sizeof text); /* garbage in, no overflow */
    assert_int_equal(strlen(text), 25);
    parse_format_datetime(INT64_MIN, -50400, text, sizeof text);
    assert_int_equal(strlen(text), 25);
}

static void lengths(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double metres;
    } good[] = {{"30m", 30}, {"15cm", 0.15}, {"2mm", 0.002}, {"100ft", 30.48}, {"6in", 0.1524}};
    struct err err;
    double metres = 7;
    for (size_t i = 0; i < COUNT(good); i++) {
        assert_int_equal(parse_length(good[i].text, 0, 100, &metres, &err), 0);
        assert_true(fabs(metres - good[i].metres) < 1e-12);
    }
    static const char *const bad[] = {"", "30", "m", "30 m", "30mm2", "1e400m", "nanm", "3,5m"};
    metres = 7;
    for (size_t i = 0; i < COUNT(bad); i++) {
        assert_int_equal(parse_length(bad[i], 0, 100, &metres, &err), -EINVAL);
    }
    assert_int_equal(parse_length("-1m", 0, 100, &metres, &err), -ERANGE);
    assert_int_equal(parse_length("400ft", 0, 100, &metres, &err), -ERANGE);
    assert_string_equal(err.text, "400ft is out of range (0 … 100, m)");
    assert_true(metres == 7);
}

/* Short decimals take a way of their own: the C library is the judge. */
static void short_decimals_are_exact(void **state)
{
    (void)state;
    struct prng prng = prng_start("short_decimals_are_exact");
    for (int round = 0; round < 20000; round++) {
        char text[40];
        double value = 0;
        const int decimals = (int)prng_int(&prng, 0, 17);
        const double size = pow(10, prng_real(&prng, -6, 12));
        (void)snprintf(text, sizeof text, "%.*f", decimals, prng_real(&prng, -size, size));
        assert_int_equal(parse_real(text, -1e300, 1e300, &value, NULL), 0);
        const double library = strtod(text, NULL);
        if (memcmp(&value, &library, sizeof value) != 0) {
            fail_msg("%s: %.17g, by the library %.17g", text, value, library);
        }
    }
}

static void durations(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t second;
        int result;
    } cases[] = {
        {"90s", 90, 0},
        {"30min", 1800, 0},
        {"2h", 7200, 0},
        {"1d", 86400, 0},
        {"1h30min", 5400, 0},
        {"1d2h3min4s", 93784, 0},
        {"90", -1, -EINVAL},
        {"", -1, -EINVAL},
        {"min", -1, -EINVAL},
        {"1.5h", -1, -EINVAL},
        {"1 h", -1, -EINVAL},
        {"30min1h", -1, -EINVAL},
        {"1h1h", -1, -EINVAL},
        {"-1h", -1, -EINVAL},
        {"1hour", -1, -EINVAL},
        {"5m", -1, -EINVAL},
        {"0s", -1, -ERANGE},
        {"8d", -1, -ERANGE},
        {"9999999999999h", -1, -EINVAL},
        {"999999999999d", -1, -ERANGE},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        int64_t second = -1;
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(parse_duration(cases[i].text, 7 * 86400, &second, NULL), cases[i].result);
        assert_true(second == cases[i].second);
    }
}

static void distances(void **state)
{
    (void)state;
    static const struct {
        const char *a, *b;
        int limit, distance;
    } cases[] = {
        {"", "", 3, 0},
        {"kitten", "sitting", 5, 3}, /* the usual textbook example of Levenshtein's distance */
        {"drive_ceiling", "drive_celing", 3, 1},
        {"ab", "ba", 3, 1}, /* a swap is one slip */
        {"abc", "xyz", 2, 3},
        {"a", "abcdef", 2, 3},
        {"abc", "abc", -1, 0},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        assert_int_equal(parse_distance(cases[i].a, cases[i].b, cases[i].limit), cases[i].distance);
        assert_int_equal(parse_distance(cases[i].b, cases[i].a, cases[i].limit), cases[i].distance);
    }
    char much[1000];
    memset(much, 'a', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    assert_int_equal(parse_distance(much, much, 3), 4);
}

static void quotes(void **state)
{
    (void)state;
    char buffer[8];
    parse_quote("short", buffer, sizeof buffer);
    assert_string_equal(buffer, "short");
    parse_quote("a\nb\x7F\x1B", buffer, sizeof buffer);
    assert_string_equal(buffer, "a?b??");
    parse_quote("L\xE4mp", buffer, sizeof buffer); /* "ä" of ISO 8859-1 */
    assert_string_equal(buffer, "L?mp");
    parse_quote("ab\xC3", buffer, sizeof buffer);
    assert_string_equal(buffer, "ab?");
    parse_quote("12345678", buffer, sizeof buffer);
    assert_string_equal(buffer, "1234…");
    parse_quote("123ä5678", buffer, sizeof buffer); /* the cut falls inside "ä" */
    assert_string_equal(buffer, "123…");
    parse_quote("12345678", buffer, 2);
    assert_string_equal(buffer, "");
    parse_quote("12345678", buffer, 1);
    assert_string_equal(buffer, "");
}

static void formats(void **state)
{
    (void)state;
    static const struct {
        double seconds;
        const char *text;
    } durations[] = {
        {0, "0 s"},
        {0.4, "0 s"},
        {45, "45 s"},
        {60, "1 min"},
        {90, "90 s"},
        {120, "2 min"},
        {720, "12 min"},
        {3599, "1 h 00 min"},
        {11100, "3 h 05 min"},
        {187200, "2 d 4 h"},
        {-45, "-45 s"},
        {(double)NAN, "unknown"},
        {(double)INFINITY, "for ever"},
    };
    char text[32];
    for (size_t i = 0; i < COUNT(durations); i++) {
        parse_format_duration(durations[i].seconds, text, sizeof text);
        assert_string_equal(text, durations[i].text);
    }
    parse_format_time_of_day(23400, text, sizeof text);
    assert_string_equal(text, "06:30");
    parse_format_time_of_day(23415, text, sizeof text);
    assert_string_equal(text, "06:30:15");
}

/* Whatever comes: an answer, never a crash, outputs untouched on failure. */
static void hostile_texts(void **state)
{
    (void)state;
    struct prng prng = prng_start("hostile_texts");
    static const char letters[] = "0123456789+-:.eETZ dhmins\t\n\xC3\xA4xX,";
    for (int round = 0; round < 20000; round++) {
        char text[24];
        size_t length = (size_t)prng_int(&prng, 0, sizeof text - 2);
        for (size_t i = 0; i < length; i++) {
            text[i] = letters[prng_int(&prng, 0, sizeof letters - 2)];
        }
        text[length] = '\0';
        double real = -77;
        int64_t whole = -77;
        int32_t second = -77;
        struct err err;
        if (parse_real(text, 0, 1, &real, &err) == 0) {
            assert_true(real >= 0 && real <= 1);
        } else {
            assert_true(real == -77);
        }
        assert_true((parse_int(text, 0, 5, &whole, &err) == 0) == (whole != -77));
        assert_true((parse_time_of_day(text, &second, &err) == 0) == (second != -77));
        second = -77;
        assert_true((parse_utc_offset(text, &second, &err) == 0) == (second != -77));
        whole = -77;
        assert_true((parse_date(text, &whole, &err) == 0) == (whole != -77));
        whole = -77;
        assert_true((parse_datetime(text, &whole, &err) == 0) == (whole != -77));
        whole = -77;
        assert_true((parse_duration(text, 86400, &whole, &err) == 0) == (whole != -77));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reals),        cmocka_unit_test(reals_ignore_the_locale),
        cmocka_unit_test(integers),     cmocka_unit_test(sentences_name_value_and_range),
        cmocka_unit_test(times_of_day), cmocka_unit_test(utc_offsets),
        cmocka_unit_test(dates),        cmocka_unit_test(every_date_goes_there_and_back),
        cmocka_unit_test(datetimes),    cmocka_unit_test(short_decimals_are_exact),
        cmocka_unit_test(durations),    cmocka_unit_test(lengths),
        cmocka_unit_test(distances),    cmocka_unit_test(quotes),
        cmocka_unit_test(formats),      cmocka_unit_test(hostile_texts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
