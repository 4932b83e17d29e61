/* SPDX-License-Identifier: Apache-2.0 */
#include "clock.h"

#include <errno.h>
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

/* The stage cannot be left again: these come last, in their order. */
static void a_stage_has_its_own_day_and_pace(void **state)
{
    (void)state;
    const int64_t wall_ns = INT64_C(1800000000) * CLOCK_NS_PER_S;
    clock_begin_stage(wall_ns);
    assert_true(clock_wall_ns() - wall_ns < CLOCK_NS_PER_S);
    assert_int_equal(clock_kernel_sync(), CLOCK_SYNC_YES);
    clock_set_pace(1000);
    assert_true(clock_pace() == 1000);
    assert_int_equal(clock_to_real_ns(CLOCK_NS_PER_S), CLOCK_NS_PER_MS);
    assert_int_equal(clock_from_real_ns(CLOCK_NS_PER_MS), CLOCK_NS_PER_S);
    const int64_t boot_ns = clock_boot_ns();
    const int64_t real_ns = clock_real_ns();
    assert_int_equal(clock_sleep_until(boot_ns + 60 * CLOCK_NS_PER_S, NULL), 0);
    const int64_t took_ns = clock_real_ns() - real_ns;
    assert_in_range(took_ns, 55 * CLOCK_NS_PER_MS, CLOCK_NS_PER_S);
    assert_true(clock_wall_ns() - wall_ns >= 60 * CLOCK_NS_PER_S);
    assert_int_equal(clock_sleep_until_real(clock_real_ns() + CLOCK_NS_PER_MS, NULL), 0);
}

/* What the machine could not do in time is not left out. */
static void stage_time_waits(void **state)
{
    (void)state;
    pthread_mutex_t mutex = PTHREAD_MUTEX_INITIALIZER;
    pthread_cond_t condition = PTHREAD_COND_INITIALIZER;
    const int64_t limit_ns = clock_boot_ns() + CLOCK_NS_PER_S;
    clock_let_go_until(limit_ns);
    (void)clock_sleep_until_real(clock_real_ns() + 20 * CLOCK_NS_PER_MS, NULL);
    assert_int_equal(clock_boot_ns(), limit_ns);
    pthread_mutex_lock(&mutex);
    assert_int_equal(clock_wait_until(&condition, &mutex, limit_ns), -ETIMEDOUT);
    const int64_t until_ns = clock_real_ns() + 2 * CLOCK_NS_PER_MS;
    assert_int_equal(clock_wait_until_real(&condition, &mutex, until_ns), -ETIMEDOUT);
    assert_true(clock_real_ns() >= until_ns); /* though the stage stands still */
    assert_int_equal(clock_wait_until_real(&condition, &mutex, until_ns), -ETIMEDOUT);
    assert_int_equal(clock_wait_until(&condition, &mutex, limit_ns + 1),
                     0); /* not yet, ask again */
    pthread_mutex_unlock(&mutex);
    clock_let_go_until(limit_ns + CLOCK_NS_PER_S);
    assert_in_range(clock_boot_ns(), limit_ns, limit_ns + CLOCK_NS_PER_S);
    clock_set_pace(1);
    clock_let_go_until(INT64_MAX);
    const int64_t boot_ns = clock_boot_ns();
    const int64_t real_ns = clock_real_ns();
    (void)clock_sleep_until_real(real_ns + 30 * CLOCK_NS_PER_MS, NULL);
    assert_in_range(clock_boot_ns() - boot_ns, 29 * CLOCK_NS_PER_MS, CLOCK_NS_PER_S);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(boot_time_never_falls),
        cmocka_unit_test(wall_time_is_the_systems),
        cmocka_unit_test(sleeps_until_the_moment),
        cmocka_unit_test(stops_early),
        cmocka_unit_test(the_kernel_answers),
        cmocka_unit_test(a_stage_has_its_own_day_and_pace),
        cmocka_unit_test(stage_time_waits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
