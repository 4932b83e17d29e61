/* SPDX-License-Identifier: Apache-2.0 */
#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void fails_with_the_negative_code(void **state)
{
    (void)state;
    struct err err;
    assert_int_equal(err_fail(&err, EIO, "line %d: %s", 7, "no answer"), -EIO);
    assert_string_equal(err.text, "line 7: no answer");
    assert_int_equal(err_fail(NULL, ENOENT, "unheard"), -ENOENT);
}

static void cuts_what_does_not_fit(void **state)
{
    (void)state;
    char much[2 * ERR_TEXT_MAX];
    memset(much, 'x', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    struct err err;
    assert_int_equal(err_fail(&err, EINVAL, "%s", much), -EINVAL);
    assert_int_equal(strlen(err.text), ERR_TEXT_MAX - 1);
    err_prefix(&err, "%s", "bus");
    assert_int_equal(strlen(err.text), ERR_TEXT_MAX - 1);
    assert_memory_equal(err.text, "bus: xxx", 8);
    err_prefix(&err, "%s", much);
    assert_true(strlen(err.text) < ERR_TEXT_MAX);
    assert_memory_equal(err.text, "xxx", 3);
}

static void prefix_goes_before(void **state)
{
    (void)state;
    struct err err;
    (void)err_fail(&err, EIO, "no answer");
    err_prefix(&err, "bus %s", "line1");
    err_prefix(&err, "start");
    assert_string_equal(err.text, "start: bus line1: no answer");
    err_prefix(NULL, "unheard");
}

static void names_of_errnos(void **state)
{
    (void)state;
    /* POSIX.1-2017 describes ENOENT as "No such file or directory". */
    assert_string_equal(err_name(ENOENT), "No such file or directory");
    assert_string_equal(err_name(-ENOENT), "No such file or directory");
    assert_string_equal(err_name(99999), "unknown error");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fails_with_the_negative_code),
        cmocka_unit_test(cuts_what_does_not_fit),
        cmocka_unit_test(prefix_goes_before),
        cmocka_unit_test(names_of_errnos),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
