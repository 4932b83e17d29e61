/* SPDX-License-Identifier: Apache-2.0 */
#include "lockholder.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <unistd.h>

#include <cmocka.h>

static void found_while_held(void **state)
{
    (void)state;
    char path[] = "/dev/shm/lampwarden-lock-XXXXXX"; /* a tmpfs, as /run is */
    int fd = mkstemp(path);
    if (fd < 0 || access("/proc/locks", R_OK) != 0) {
        skip();
    }
    assert_int_equal(lockholder_find(path), 0);
    assert_int_equal(flock(fd, LOCK_SH), 0);
    assert_int_equal(lockholder_find(path), 0); /* somebody only looks */
    assert_int_equal(flock(fd, LOCK_EX), 0);
    assert_int_equal(lockholder_find(path), getpid());
    assert_int_equal(flock(fd, LOCK_UN), 0);
    assert_int_equal(lockholder_find(path), 0);
    assert_int_equal(close(fd), 0);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(lockholder_find(path), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(found_while_held)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
