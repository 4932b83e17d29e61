/* SPDX-License-Identifier: Apache-2.0 */
/* Times as people write them. */
#include "why_time.h"

#include "err.h"
#include "parse.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define OFFSET_S 3600
#define NEWEST   "2026-11-25T18:03:00+01:00"

static int64_t wall(const char *text)
{
    int64_t wall_s = 0;
    assert_int_equal(parse_datetime(text, &wall_s, NULL), 0);
    return wall_s;
}

static void means(const char *text, const char *expected)
{
    struct err err = {""};
    int64_t wall_s = 0;
    char shown[32];
    if (why_time(text, OFFSET_S, wall(NEWEST), &wall_s, &err) != 0) {
        fail_msg("%s: %s", text, err.text);
    }
    parse_format_datetime(wall_s, OFFSET_S, shown, sizeof shown);
    assert_string_equal(shown, expected);
}

static void all_forms(void **state)
{
    (void)state;
    means("14:05", "2026-11-25T14:05:00+01:00");
    means("14:05:59", "2026-11-25T14:05:00+01:00");
    means("18:03", "2026-11-25T18:03:00+01:00"); /* the newest itself */
    means("18:04", "2026-11-24T18:04:00+01:00"); /* today it has not been yet */
    means("today 14:05", "2026-11-25T14:05:00+01:00");
    means("yesterday 14:05", "2026-11-24T14:05:00+01:00");
    means("yesterday 18:04", "2026-11-24T18:04:00+01:00");
    means("00:00", "2026-11-25T00:00:00+01:00");
    means("2026-11-24T14:05", "2026-11-24T14:05:00+01:00");
    means("2026-11-24 14:05:30", "2026-11-24T14:05:00+01:00");
    means("2026-11-24T14:05Z", "2026-11-24T15:05:00+01:00");
    means("2026-11-24 14:05+05:30", "2026-11-24T09:35:00+01:00");
}

/* Where the clock on the wall shows an hour twice, its offset says which: Directive 2000/84/EC,
 * summer time ends at 01:00 UTC on the last Sunday in October. */
static void the_doubled_hour(void **state)
{
    (void)state;
    means("2026-10-25T02:30+02:00", "2026-10-25T01:30:00+01:00");
    means("2026-10-25T02:30+01:00", "2026-10-25T02:30:00+01:00");
    means("2026-10-25T02:30", "2026-10-25T02:30:00+01:00"); /* the site's own time has it once */
}

static void what_is_no_time(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int code;
    } bad[] = {
        {"", -EINVAL},
        {"1", -EINVAL},
        {"14", -EINVAL},
        {"14:5", -EINVAL},
        {"24:00", -ERANGE},
        {"yesterday", -EINVAL},
        {"yesterday ", -EINVAL},
        {"tomorrow 14:05", -EINVAL},
        {"2026-11-24", -EINVAL},
        {"2026-11-24x14:05", -EINVAL},
        {"2026-11-31T14:05", -ERANGE},
        {"2026-11-24T25:00", -ERANGE},
        {"now", -EINVAL},
        {"14:05 yesterday", -EINVAL},
        {"2026-11-24T", -EINVAL},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err err = {""};
        int64_t wall_s = 42;
        const int code = why_time(bad[i].text, OFFSET_S, wall(NEWEST), &wall_s, &err);
        if (code != bad[i].code) {
            fail_msg("\"%s\": %d, %s", bad[i].text, code, err.text);
        }
        assert_true(strlen(err.text) > 10);
        assert_int_equal(wall_s, 42);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_forms),
        cmocka_unit_test(the_doubled_hour),
        cmocka_unit_test(what_is_no_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
