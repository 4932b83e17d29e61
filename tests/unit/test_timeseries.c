/* SPDX-License-Identifier: Apache-2.0 */
/* The reader of both files of values over time. */
#include "timeseries.h"

#include "err.h"
#include "onefile.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct err err;
static const struct timeseries_form full_rows = {
    .name = "volts", .low = -1, .high = 10, .bytes_max = 4096};
static const struct timeseries_form with_holes = {
    .name = "volts", .low = -1, .high = 10, .may_be_empty = true, .bytes_max = 4096};

static void rows_as_written(void **state)
{
    (void)state;
    struct timeseries series;
    onefile_put("# a comment\r\n\r\ntime,volts\r\n1970-01-01T01:00+01:00,-1\r\n# another\n"
                "1970-01-01 00:00:01Z,\n\n1970-01-01T00:00:02Z,10");
    assert_int_equal(timeseries_load(onefile_path(), &with_holes, &series, &err), 0);
    assert_int_equal(series.count, 3);
    for (int i = 0; i < 3; i++) {
        assert_true(series.wall_s[i] == i);
    }
    assert_true(series.value[0] == -1 && isnan(series.value[1]) && series.value[2] == 10);
    timeseries_free(&series);
    timeseries_free(&series);
    onefile_put("time,volts\n");
    assert_int_equal(timeseries_load(onefile_path(), &with_holes, &series, &err), 0);
    assert_int_equal(series.count, 0);
    timeseries_free(&series);
}

static void refused_rows(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want; /* behind the path */
    } cases[] = {
        {"time,volt\n", ":1: the header is 'time,volt', not 'time,volts'"},
        {"tim\n", ":1: the header is 'tim', not 'time,volts'"},
        {"#\n\ntime,volts\n5\n", ":4: '5' is not 'time,volts'"},
        {"time,volts\n1970-01-01T00:00Z,11\n", ":2: 11 is out of range (-1 … 10)"},
        {"time,volts\n1970-01-01T00:00Z,\n", ":2: \"\" is not a number (-1 … 10)"},
        {"time,volts\n1970-01-01T00:01Z,1\n1970-01-01T00:00Z,1\n",
         ":3: time '1970-01-01T00:00Z' is not later than the row before"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct timeseries series = {.count = 77};
        onefile_put(cases[i].text);
        assert_int_equal(timeseries_load(onefile_path(), &full_rows, &series, &err),
                         strstr(cases[i].want, "range") ? -ERANGE : -EINVAL);
        assert_int_equal(series.count, 77);
        assert_int_equal(strncmp(err.text, onefile_path(), strlen(onefile_path())), 0);
        assert_string_equal(err.text + strlen(onefile_path()), cases[i].want);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_as_written),
        cmocka_unit_test(refused_rows),
    };
    return cmocka_run_group_tests(tests, onefile_begin, onefile_end);
}
