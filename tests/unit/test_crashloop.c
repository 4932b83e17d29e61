/* SPDX-License-Identifier: Apache-2.0 */
#include "crashloop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const int64_t second = 1000000000;

static void three_ends_in_ten_minutes(void **state)
{
    (void)state;
    struct crashloop loop = {0};
    assert_false(crashloop_begin(&loop, 100 * second));
    assert_false(crashloop_begin(&loop, 110 * second));
    assert_false(crashloop_begin(&loop, 120 * second));
    assert_true(crashloop_begin(&loop, 130 * second));
    assert_false(crashloop_begin(&loop, 721 * second)); /* the first two are long ago */
    assert_int_equal(loop.count, 5);
}

static void slow_deaths_do_not_count(void **state)
{
    (void)state;
    struct crashloop loop = {0};
    for (int i = 0; i < 100; i++) {
        assert_false(crashloop_begin(&loop, (100 + i * 250) * second));
    }
    assert_int_equal(loop.count, CRASHLOOP_KEPT);
}

static void odd_files_count_as_none(void **state)
{
    (void)state;
    static const char *const odd[] = {"",         "\n\n",  "x\n",   "1\n-5\n",
                                      "1\n2 3\n", "1e9\n", "nan\n", "99999999999999999999\n"};
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++) {
        struct crashloop loop = {.count = 3};
        crashloop_parse(&loop, odd[i]);
        assert_int_equal(loop.count, 0);
    }
    struct crashloop loop;
    crashloop_parse(&loop, "1\n2\n3\n4\n5\n6\n7\n8\n9\n10\n");
    assert_int_equal(loop.count, CRASHLOOP_KEPT);
    assert_int_equal(loop.starts_ns[0], 3);
}

static void keeps_a_file(void **state)
{
    (void)state;
    char folder[] = "/tmp/lampwarden-crash-XXXXXX";
    char path[64];
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/starts", folder);
    for (int i = 0; i < 3; i++) {
        assert_false(crashloop_note_start(path, (100 + i) * second));
    }
    assert_true(crashloop_note_start(path, 103 * second));
    crashloop_note_stop(path);
    assert_false(crashloop_note_start(path, 104 * second)); /* a stop forgives */
    crashloop_note_stop(path);
    crashloop_note_stop(path);
    assert_int_equal(rmdir(folder), 0);
    assert_false(crashloop_note_start("/nonexistent/starts", second));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_ends_in_ten_minutes),
        cmocka_unit_test(slow_deaths_do_not_count),
        cmocka_unit_test(odd_files_count_as_none),
        cmocka_unit_test(keeps_a_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
