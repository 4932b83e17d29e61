/* SPDX-License-Identifier: Apache-2.0 */
#include "log.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char heard[4096];

/* Runs `speak` with stderr led into a pipe; one call's lines are far smaller than a pipe. */
static void hear(void (*speak)(void))
{
    int ends[2];
    int kept = dup(STDERR_FILENO);
    assert_int_equal(pipe(ends), 0);
    assert_true(dup2(ends[1], STDERR_FILENO) >= 0);
    speak();
    assert_true(dup2(kept, STDERR_FILENO) >= 0);
    (void)close(kept);
    (void)close(ends[1]);
    ssize_t size = read(ends[0], heard, sizeof heard - 1);
    assert_true(size >= 0);
    heard[size] = '\0';
    (void)close(ends[0]);
}

static void speak_at_every_level(void)
{
    log_alert("a%d", 1);
    log_error("b");
    log_warning("c");
    log_info("d");
    log_debug("e");
}

static void levels_and_prefixes(void **state)
{
    (void)state;
    /* Numbers of RFC 5424, table 2, in the form of sd-daemon(3). */
    hear(speak_at_every_level);
    assert_string_equal(heard, "<1>a1\n<3>b\n<4>c\n<6>d\n");
    log_set_level(LOG_LEVEL_DEBUG);
    hear(speak_at_every_level);
    assert_string_equal(heard, "<1>a1\n<3>b\n<4>c\n<6>d\n<7>e\n");
    log_set_level(LOG_LEVEL_ALERT);
    hear(speak_at_every_level);
    assert_string_equal(heard, "<1>a1\n");
    log_set_level(LOG_LEVEL_INFO);
}

static void speak_with_a_newline(void)
{
    log_info("one\n<1>two\x1B[0m");
}

static void speak_too_long(void)
{
    char much[3000];
    memset(much, 'x', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    errno = EBADF;
    log_info("%s", much);
    assert_int_equal(errno, EBADF);
}

static void a_line_stays_one_line(void **state)
{
    (void)state;
    hear(speak_with_a_newline);
    assert_string_equal(heard, "<6>one <1>two [0m\n");
    hear(speak_too_long);
    assert_true(strlen(heard) <= 1024);
    assert_ptr_equal(strchr(heard, '\n'), heard + strlen(heard) - 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(levels_and_prefixes),
        cmocka_unit_test(a_line_stays_one_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
