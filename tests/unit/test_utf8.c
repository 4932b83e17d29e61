/* SPDX-License-Identifier: Apache-2.0 */
/* What is a character and what is none, beside the table of the Unicode Standard. */
#include "utf8.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* The Unicode Standard 15.0, table 3-7 "Well-Formed UTF-8 Byte Sequences": the second byte's range
 * by the first; further ones are 80..BF. */
static const struct {
    unsigned first, last; /* byte 1 */
    unsigned low, high;   /* byte 2 */
    size_t length;
} rows[] = {
    {0x00, 0x7F, 0, 0, 1},       {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3},
    {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3},
    {0xF0, 0xF0, 0x90, 0xBF, 4}, {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
};

static size_t expected(unsigned first, unsigned second)
{
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const int is_row = first >= rows[i].first && first <= rows[i].last;
        if (is_row && (rows[i].length == 1 || (second >= rows[i].low && second <= rows[i].high))) {
            return rows[i].length;
        }
    }
    return 0;
}

static void sequences_are_those_of_the_table(void **state)
{
    (void)state;
    for (unsigned first = 0; first < 256; first++) {
        for (unsigned second = 0; second < 256; second++) {
            const char text[] = {(char)first, (char)second, '\x80', '\xBF', '\0'};
            assert_int_equal(utf8_sequence(text, SIZE_MAX), expected(first, second));
        }
    }
}

static void ends_are_respected(void **state)
{
    (void)state;
    assert_int_equal(utf8_sequence("\xE2\x80\xA6", 3), 3);
    assert_int_equal(utf8_sequence("\xE2\x80\xA6", 2), 0);
    assert_int_equal(utf8_sequence("\xE2", SIZE_MAX), 0);
    assert_int_equal(utf8_sequence("\xE2\x80", SIZE_MAX), 0);
    assert_int_equal(utf8_sequence("\xE2\x80q", SIZE_MAX), 0);
    assert_int_equal(utf8_sequence("\xF0\x9F\x8C", SIZE_MAX), 0);
    assert_int_equal(utf8_sequence("", SIZE_MAX), 1);
}

static void columns_are_characters(void **state)
{
    (void)state;
    const char unit[] = "µmol m⁻² s⁻¹";
    assert_int_equal(utf8_columns(unit, strlen(unit)), 12);
    assert_int_equal(utf8_columns(unit, 2), 1);
    assert_int_equal(utf8_columns("", 0), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sequences_are_those_of_the_table),
        cmocka_unit_test(ends_are_respected),
        cmocka_unit_test(columns_are_characters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
