/* SPDX-License-Identifier: Apache-2.0 */
#include "clock.h"

#include <errno.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <sys/timex.h>
#include <time.h>
#include <unistd.h>

#define SLEEP_STEP_NS     (50 * CLOCK_NS_PER_MS)
#define SYNC_MAX_ERROR_US 16000000 /* the kernel's own limit: NTP_PHASE_LIMIT, 16 s */

static int64_t now_of(clockid_t id)
{
    struct timespec now = {0};
    (void)clock_gettime(id, &now); /* fails only for an unknown id */
    return now.tv_sec * CLOCK_NS_PER_S + now.tv_nsec;
}

int64_t clock_boot_ns(void)
{
    return now_of(CLOCK_BOOTTIME);
}

int64_t clock_wall_ns(void)
{
    return now_of(CLOCK_REALTIME);
}

int clock_sleep_until(int64_t boot_ns, const _Atomic _Bool *stop)
{
    for (;;) {
        if (stop && atomic_load(stop)) {
            return 1;
        }
        int64_t now_ns = clock_boot_ns();
        if (now_ns >= boot_ns) {
            return 0;
        }
        int64_t step_ns = boot_ns - now_ns < SLEEP_STEP_NS ? boot_ns - now_ns : SLEEP_STEP_NS;
        struct timespec step = {.tv_nsec = (long)step_ns};
        (void)clock_nanosleep(CLOCK_MONOTONIC, 0, &step, NULL); /* a signal only shortens a step */
    }
}

int clock_wait_until(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t boot_ns)
{
    int64_t left_ns = boot_ns - clock_boot_ns();
    if (left_ns <= 0) {
        return -ETIMEDOUT;
    }
    int64_t until_ns = now_of(CLOCK_MONOTONIC) + left_ns; /* conditions know no boot time */
    struct timespec until = {.tv_sec = until_ns / CLOCK_NS_PER_S,
                             .tv_nsec = (long)(until_ns % CLOCK_NS_PER_S)};
    return -pthread_cond_clockwait(condition, mutex, CLOCK_MONOTONIC, &until);
}

enum clock_sync clock_kernel_sync(void)
{
    struct timex state = {.modes = 0};
    if (adjtimex(&state) >= 0) {
        return state.maxerror < SYNC_MAX_ERROR_US ? CLOCK_SYNC_YES : CLOCK_SYNC_NO;
    }
    if (access("/run/systemd/timesync/synchronized", F_OK) == 0) {
        return CLOCK_SYNC_YES;
    }
    return access("/run/systemd/timesync", F_OK) == 0 ? CLOCK_SYNC_NO : CLOCK_SYNC_UNKNOWN;
}
