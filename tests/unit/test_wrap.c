/* SPDX-License-Identifier: Apache-2.0 */
/* Lines for 80 columns. */
#include "wrap.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void assert_wrapped(const char *text, int hang, const char *wanted)
{
    char *got = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&got, &size);
    assert_non_null(out);
    wrap_text(out, text, hang);
    assert_int_equal(fclose(out), 0);
    assert_string_equal(got, wanted);
    free(got);
}

#define TENS "0123456789 123456789 123456789 123456789 123456789 123456789 123456789 "

static void short_lines_stay(void **state)
{
    (void)state;
    assert_wrapped("", 0, "");
    assert_wrapped("\n  a   b\n\nc", 4, "\n  a   b\n\nc");
    assert_wrapped(TENS "123456789\n", 0, TENS "123456789\n"); /* 80 */
}

static void long_lines_go_on_below(void **state)
{
    (void)state;
    assert_wrapped(TENS "1234567890 next", 2,
                   "0123456789 123456789 123456789 123456789 123456789 123456789 123456789\n"
                   "  1234567890 next");
    assert_wrapped(TENS TENS "end\n", 3,
                   "0123456789 123456789 123456789 123456789 123456789 123456789 123456789\n"
                   "   " TENS "end\n");
}

/* 80 signs of two and three bytes are 80 columns. */
static void characters_are_counted(void **state)
{
    (void)state;
    assert_wrapped("µmol m⁻² s⁻¹ 89 123456789 123456789 123456789 123456789 123456789 123456789 "
                   "1234\n",
                   0,
                   "µmol m⁻² s⁻¹ 89 123456789 123456789 123456789 123456789 123456789 123456789 "
                   "1234\n");
}

static void below_the_last_column(void **state)
{
    (void)state;
    assert_wrapped("  DLI        4.00 of 17.00 mol so far, on course for 9.10 mol; out of reach: "
                   "7.90 mol by heat foldback\n",
                   WRAP_BY_COLUMN,
                   "  DLI        4.00 of 17.00 mol so far, on course for 9.10 mol; out of reach:\n"
                   "             7.90 mol by heat foldback\n");
}

static void a_word_stays_whole(void **state)
{
    (void)state;
    assert_wrapped("/a/folder/of/a/very/long/name/that/nobody/can/break/anywhere/because/it/is/one/"
                   "word/x.conf:12: warning\n",
                   2,
                   "/a/folder/of/a/very/long/name/that/nobody/can/break/anywhere/because/it/is/one/"
                   "word/x.conf:12:\n  warning\n");
}

/* A paragraph, an option and a command. */
static void a_help(void **state)
{
    (void)state;
    char *got = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&got, &size);
    assert_non_null(out);
    wrap_help(out, "usage: lampwarden day [OPTION...]\n\n" TENS "123456789 next\nend of it.\n\n"
                   "  --json   " TENS "more\n           and more\n  --csv    short\n"
                   "example: lampwarden day\n         lampwarden day --json\n");
    assert_int_equal(fclose(out), 0);
    assert_string_equal(
        got, "usage: lampwarden day [OPTION...]\n\n" TENS "123456789\nnext end of it.\n\n"
             "  --json   0123456789 123456789 123456789 123456789 123456789 123456789\n"
             "           123456789 more and more\n  --csv    short\n"
             "example: lampwarden day\n         lampwarden day --json\n");
    free(got);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(short_lines_stay),       cmocka_unit_test(long_lines_go_on_below),
        cmocka_unit_test(characters_are_counted), cmocka_unit_test(below_the_last_column),
        cmocka_unit_test(a_word_stays_whole),     cmocka_unit_test(a_help),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
