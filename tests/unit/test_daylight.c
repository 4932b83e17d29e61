/* SPDX-License-Identifier: Apache-2.0 */
/* Daylight as a rehearsal reads it: known where the file says something, and nowhere else. */
#include "daylight.h"

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

static void what_is_no_daylight(void **state)
{
    (void)state;
    struct daylight daylight = {.at = 0};
    onefile_put("time,ppfd_umol\n");
    assert_int_equal(daylight_load(onefile_path(), &daylight, &err), -EINVAL);
    assert_non_null(strstr(err.text, "/data: no rows of daylight"));
    onefile_put("time,ppfd_umol\n1970-01-01T00:00Z,4001\n");
    assert_int_equal(daylight_load(onefile_path(), &daylight, &err), -ERANGE);
    assert_non_null(strstr(err.text, "/data:2: 4001 is out of range (0 … 4000)"));
}

/* Steps of half an hour: a value holds for two hours. */
static void a_value_holds_for_four_steps(void **state)
{
    (void)state;
    struct daylight daylight;
    onefile_put("time,ppfd_umol\n1970-01-01T01:00Z,5\n1970-01-01T01:30Z,7.5\n1970-01-01T02:00Z,8\n"
                "1970-01-01T09:00Z,9\n");
    assert_int_equal(daylight_load(onefile_path(), &daylight, &err), 0);
    assert_true(isnan(daylight_umol(&daylight, 3599)));
    assert_true(daylight_umol(&daylight, 3600) == 5);
    assert_true(daylight_umol(&daylight, 4 * 3600 - 1) == 8);
    assert_true(isnan(daylight_umol(&daylight, 4 * 3600))); /* a gap */
    assert_true(daylight_umol(&daylight, 9 * 3600) == 9);
    assert_true(isnan(daylight_umol(&daylight, 11 * 3600))); /* the end */
    assert_true(daylight_umol(&daylight, 3600) == 5);        /* backwards too */
    daylight_free(&daylight);
    assert_true(isnan(daylight_umol(&daylight, 3600)));
}

static void a_night_may_be_left_out(void **state)
{
    (void)state;
    struct daylight daylight;
    onefile_put("time,ppfd_umol\n1970-01-01T01:00Z,5\n1970-01-01T01:30Z,0\n");
    assert_int_equal(daylight_load(onefile_path(), &daylight, &err), 0);
    assert_true(daylight_umol(&daylight, 5400 + 86399) == 0);
    assert_true(isnan(daylight_umol(&daylight, 5400 + 86400)));
    daylight_free(&daylight);
}

#define GAPS 3

static void gaps_are_named(void **state)
{
    (void)state;
    static const char *const want[GAPS] = {
        "sky.csv begins at 1970-01-01T02:00:00+01:00: it is dark outside until then, first in "
        "light day 1969-12-31",
        "sky.csv has no row between 1970-01-01T03:00:00+01:00 and 1970-01-01T10:00:00+01:00: it is "
        "dark outside from 1970-01-01T05:00:00+01:00 until then, first in light day 1970-01-01",
        "sky.csv ends at 1970-01-01T10:00:00+01:00: it is dark outside from "
        "1970-01-01T12:00:00+01:00 on, first in light day 1970-01-01",
    };
    const struct lightday_rules rules = {.utc_offset_s = 3600, .start_s = 2 * 3600};
    struct daylight daylight;
    onefile_put("time,ppfd_umol\n1970-01-01T01:00Z,5\n1970-01-01T01:30Z,7.5\n1970-01-01T02:00Z,8\n"
                "1970-01-01T09:00Z,9\n");
    assert_int_equal(daylight_load(onefile_path(), &daylight, &err), 0);
    struct daylight_gap gap = {.to_s = 0};
    for (int i = 0; i < GAPS; i++) {
        char text[DAYLIGHT_WORDS_MAX];
        assert_true(daylight_gap(&daylight, gap.to_s, 86400, &gap));
        daylight_words_gap("sky.csv", &gap, &rules, text, sizeof text);
        assert_string_equal(text, want[i]);
    }
    assert_int_equal(gap.to_s, 86400);
    assert_false(daylight_gap(&daylight, gap.to_s, 86400, &gap));
    assert_false(daylight_gap(&daylight, 3600, 4 * 3600, &gap));
    assert_true(daylight_gap(&daylight, 20 * 3600, 86400, &gap));
    assert_int_equal(gap.from_s, 20 * 3600);
    daylight_free(&daylight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_daylight),
        cmocka_unit_test(a_value_holds_for_four_steps),
        cmocka_unit_test(a_night_may_be_left_out),
        cmocka_unit_test(gaps_are_named),
    };
    return cmocka_run_group_tests(tests, onefile_begin, onefile_end);
}
