/* SPDX-License-Identifier: Apache-2.0 */
/* Colour where it is wanted, and nowhere else; a pseudo terminal stands for the screen. */
#include "tint.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static enum tint of(const char *line)
{
    return tint_of_line(line, strlen(line));
}

static void a_mark_stands_alone(void **state)
{
    (void)state;
    assert_int_equal(of("! the journal is degraded"), TINT_ALARM);
    assert_int_equal(of("  ! no answer"), TINT_ALARM);
    assert_int_equal(of("  06:00:00 * lights on"), TINT_NOTICE);
    assert_int_equal(of("2026-11-02 06:00:00 ! heat"), TINT_ALARM);
    assert_int_equal(of("2026-11-02 06:00:00   heat"), TINT_NONE);
    assert_int_equal(of("  0.300* 12.5"), TINT_NONE); /* a footnote's mark */
    assert_int_equal(of("lettuce: ! on"), TINT_NONE);
    assert_int_equal(of("!"), TINT_NONE);
    assert_int_equal(of(""), TINT_NONE);
    assert_int_equal(tint_of_line("! cut", 1), TINT_NONE);
}

/* What reaches a screen when "x" is written as an alarm. */
static void show(char *ret, size_t size)
{
    const int screen = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(screen >= 0);
    assert_int_equal(grantpt(screen), 0);
    assert_int_equal(unlockpt(screen), 0);
    char path[64];
    assert_int_equal(ptsname_r(screen, path, sizeof path), 0);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    tint_begin(out, TINT_ALARM);
    (void)fputc('x', out);
    tint_end(out, TINT_ALARM);
    assert_int_equal(fflush(out), 0);
    const ssize_t count = read(screen, ret, size - 1);
    assert_true(count > 0);
    ret[count] = '\0';
    (void)fclose(out);
    (void)close(screen);
}

static void a_terminal_decides(void **state)
{
    (void)state;
    char seen[64];
    assert_int_equal(setenv("TERM", "xterm", 1), 0);
    assert_int_equal(unsetenv("NO_COLOR"), 0);
    show(seen, sizeof seen);
    assert_string_equal(seen, "\033[1;31mx\033[0m");
    assert_int_equal(setenv("NO_COLOR", "", 1), 0); /* empty is as good as not set */
    show(seen, sizeof seen);
    assert_string_equal(seen, "\033[1;31mx\033[0m");
    assert_int_equal(setenv("NO_COLOR", "1", 1), 0);
    show(seen, sizeof seen);
    assert_string_equal(seen, "x");
    assert_int_equal(unsetenv("NO_COLOR"), 0);
    assert_int_equal(setenv("TERM", "dumb", 1), 0);
    show(seen, sizeof seen);
    assert_string_equal(seen, "x");
    assert_int_equal(unsetenv("TERM"), 0);
    show(seen, sizeof seen);
    assert_string_equal(seen, "x");
}

static void a_file_has_no_colour(void **state)
{
    (void)state;
    assert_int_equal(setenv("TERM", "xterm", 1), 0);
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    tint_begin(out, TINT_ALARM);
    tint_end(out, TINT_ALARM);
    assert_int_equal(fclose(out), 0);
    assert_string_equal(text, "");
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_mark_stands_alone),
        cmocka_unit_test(a_terminal_decides),
        cmocka_unit_test(a_file_has_no_colour),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
