/* SPDX-License-Identifier: Apache-2.0 */
#include "calendar_words.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void lists_and_ranges(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t days, months; /* −1: refused */
    } cases[] = {
        {"Mon-Fri", 0x1F, -1},
        {"Mon-Sun", 0x7F, -1},
        {"Sat, Sun", 0x60, -1},
        {"Fri-Mon", 0x71, -1},
        {"sun", 0x40, -1},
        {" WED ,Mon - Tue ", 0x07, -1},
        {"Tue-Tue", 0x02, -1},
        {"Jan-Dec", -1, 0xFFF},
        {"Nov-Feb", -1, 0xC03},
        {"Mar,Mar", -1, 0x004},
        {"Apr, Jul-Aug", -1, 0xC8},
        {"", -1, -1},
        {"Mon-", -1, -1},
        {"-Fri", -1, -1},
        {"Mon,", -1, -1},
        {"Monday", -1, -1},
        {"Mo", -1, -1},
        {"Mon Tue", -1, -1},
        {"Mon-Wed-Fri", -1, -1},
        {"Mon;Tue", -1, -1},
        {"Mai", -1, -1},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int64_t days = -1;
        int64_t months = -1;
        print_message("\"%s\"\n", cases[i].text);
        assert_int_equal(calendar_weekdays(cases[i].text, &days), cases[i].days < 0 ? -EINVAL : 0);
        assert_int_equal(calendar_months(cases[i].text, &months),
                         cases[i].months < 0 ? -EINVAL : 0);
        assert_true(days == cases[i].days && months == cases[i].months);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(lists_and_ranges)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
