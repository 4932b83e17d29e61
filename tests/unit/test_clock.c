/* SPDX-License-Identifier: Apache-2.0 */
#include "clock.h"

#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <time.h>

#include <cmocka.h>

static void boot_time_never_falls(void **state)
{
    (void)state;
    int64_t last_ns = clock_boot_ns();
    assert_true(last_ns > 0);
    for (int i = 0; i < 10000; i++) {
        int64_t now_ns = clock_boot_ns();
        assert_true(now_ns >= last_ns);
        last_ns = now_ns;
    }
}

static void wall_time_is_the_systems(void **state)
{
    (void)state;
    int64_t before_s = (int64_t)time(NULL);
    int64_t now_s = clock_wall_ns() / CLOCK_NS_PER_S;
    assert_true(now_s >= before_s - 1 && now_s <= before_s + 5);
}

static void sleeps_until_the_moment(void **state)
{
    (void)state;
    _Atomic _Bool stop = false;
    int64_t until_ns = clock_boot_ns() + 80 * CLOCK_NS_PER_MS;
    assert_int_equal(clock_sleep_until(until_ns, &stop), 0);
    assert_true(clock_boot_ns() >= until_ns);
    assert_int_equal(clock_sleep_until(clock_boot_ns() - 1, &stop), 0);
    assert_int_equal(clock_sleep_until(0, NULL), 0);
}

static void *set_stop(void *stop)
{
    atomic_store((_Atomic _Bool *)stop, true);
    return NULL;
}

static void stops_early(void **state)
{
    (void)state;
    _Atomic _Bool stop = false;
    pthread_t other;
    int64_t far_ns = clock_boot_ns() + 60 * CLOCK_NS_PER_S;
    assert_int_equal(pthread_create(&other, NULL, set_stop, &stop), 0);
    assert_int_equal(clock_sleep_until(far_ns, &stop), 1);
    assert_int_equal(pthread_join(other, NULL), 0);
    assert_true(clock_boot_ns() < far_ns);
}

static void the_kernel_answers(void **state)
{
    (void)state;
    enum clock_sync sync = clock_kernel_sync();
    assert_in_range(sync, CLOCK_SYNC_NO, CLOCK_SYNC_UNKNOWN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(boot_time_never_falls),   cmocka_unit_test(wall_time_is_the_systems),
        cmocka_unit_test(sleeps_until_the_moment), cmocka_unit_test(stops_early),
        cmocka_unit_test(the_kernel_answers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
