/* SPDX-License-Identifier: Apache-2.0 */
#include "clock.h"

#include <errno.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <sys/timex.h>
#include <time.h>
#include <unistd.h>

#define SLEEP_STEP_NS     (50 * CLOCK_NS_PER_MS)
#define STILL_NS          (CLOCK_NS_PER_MS / 5)
#define SYNC_MAX_ERROR_US 16000000 /* the kernel's own limit: NTP_PHASE_LIMIT, 16 s */

static int64_t now_of(clockid_t id)
{
    struct timespec now = {0};
    (void)clock_gettime(id, &now); /* fails only for an unknown id */
    return now.tv_sec * CLOCK_NS_PER_S + now.tv_nsec;
}

int64_t clock_real_ns(void)
{
    return now_of(CLOCK_BOOTTIME);
}

/* The time of a demonstration: stage time = boot_ns + pace × (real − real_ns), at most limit_ns. */
static struct {
    bool is_on; /* set before any thread runs, never again */
    pthread_mutex_t mutex;
    double pace;
    int64_t real_ns, boot_ns, limit_ns;
    int64_t offset_ns; /* of wall time */
} stage = {.mutex = PTHREAD_MUTEX_INITIALIZER, .pace = 1};

/* Call with the mutex held; so the next one. */
static int64_t flowing(int64_t real_ns)
{
    return stage.boot_ns + (int64_t)((double)(real_ns - stage.real_ns) * stage.pace);
}

static void stop_here(void)
{
    const int64_t real_ns = clock_real_ns();
    const int64_t boot_ns = flowing(real_ns);
    stage.boot_ns = boot_ns < stage.limit_ns ? boot_ns : stage.limit_ns;
    stage.real_ns = real_ns;
}

void clock_begin_stage(int64_t wall_ns)
{
    stage.is_on = true;
    stage.pace = 1;
    stage.real_ns = stage.boot_ns = clock_real_ns();
    stage.limit_ns = INT64_MAX;
    stage.offset_ns = wall_ns - stage.boot_ns;
}

void clock_set_pace(double pace)
{
    if (stage.is_on) {
        (void)pthread_mutex_lock(&stage.mutex);
        stop_here();
        stage.pace = pace;
        (void)pthread_mutex_unlock(&stage.mutex);
    }
}

static double pace_now(void)
{
    (void)pthread_mutex_lock(&stage.mutex);
    const double pace = stage.pace;
    (void)pthread_mutex_unlock(&stage.mutex);
    return pace;
}

double clock_pace(void)
{
    return stage.is_on ? pace_now() : 1;
}

void clock_let_go_until(int64_t boot_ns)
{
    if (stage.is_on) {
        (void)pthread_mutex_lock(&stage.mutex);
        stop_here();
        stage.limit_ns = boot_ns;
        (void)pthread_mutex_unlock(&stage.mutex);
    }
}

int64_t clock_to_real_ns(int64_t span_ns)
{
    return stage.is_on ? (int64_t)((double)span_ns / pace_now()) : span_ns;
}

int64_t clock_from_real_ns(int64_t real_ns)
{
    return stage.is_on ? (int64_t)((double)real_ns * pace_now()) : real_ns;
}

int64_t clock_boot_ns(void)
{
    if (!stage.is_on) {
        return clock_real_ns();
    }
    (void)pthread_mutex_lock(&stage.mutex);
    const int64_t boot_ns = flowing(clock_real_ns());
    const int64_t now_ns = boot_ns < stage.limit_ns ? boot_ns : stage.limit_ns;
    (void)pthread_mutex_unlock(&stage.mutex);
    return now_ns;
}

int64_t clock_wall_ns(void)
{
    return stage.is_on ? clock_boot_ns() + stage.offset_ns : now_of(CLOCK_REALTIME);
}

static void rest(int64_t real_ns)
{
    struct timespec step = {.tv_nsec = (long)(real_ns < SLEEP_STEP_NS ? real_ns : SLEEP_STEP_NS)};
    (void)clock_nanosleep(CLOCK_MONOTONIC, 0, &step, NULL); /* a signal only shortens a step */
}

int clock_sleep_until_real(int64_t real_ns, const _Atomic _Bool *stop)
{
    for (;;) {
        if (stop && atomic_load(stop)) {
            return 1;
        }
        const int64_t left_ns = real_ns - clock_real_ns();
        if (left_ns <= 0) {
            return 0;
        }
        rest(left_ns);
    }
}

/* Real time to wait for a moment of boot time. On a stage in steps: small ones while it stands
 * still, and none so long that a change of the pace would be missed. */
static int64_t wait_of(int64_t left_ns)
{
    const int64_t real_ns = clock_to_real_ns(left_ns);
    if (!stage.is_on) {
        return real_ns;
    }
    return real_ns < STILL_NS ? STILL_NS : real_ns < SLEEP_STEP_NS ? real_ns : SLEEP_STEP_NS;
}

int clock_sleep_until(int64_t boot_ns, const _Atomic _Bool *stop)
{
    for (;;) {
        if (stop && atomic_load(stop)) {
            return 1;
        }
        const int64_t left_ns = boot_ns - clock_boot_ns();
        if (left_ns <= 0) {
            return 0;
        }
        rest(wait_of(left_ns));
    }
}

/* So much real time at most, as conditions count it: they know no boot time. */
static int wait_for(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t left_ns)
{
    const int64_t until_ns = now_of(CLOCK_MONOTONIC) + left_ns;
    struct timespec until = {.tv_sec = until_ns / CLOCK_NS_PER_S,
                             .tv_nsec = (long)(until_ns % CLOCK_NS_PER_S)};
    return -pthread_cond_clockwait(condition, mutex, CLOCK_MONOTONIC, &until);
}

int clock_wait_until_real(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t real_ns)
{
    const int64_t left_ns = real_ns - clock_real_ns();
    return left_ns <= 0 ? -ETIMEDOUT : wait_for(condition, mutex, left_ns);
}

int clock_wait_until(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t boot_ns)
{
    int64_t left_ns = boot_ns - clock_boot_ns();
    if (left_ns <= 0) {
        return -ETIMEDOUT;
    }
    const int code = wait_for(condition, mutex, wait_of(left_ns));
    return stage.is_on && code == -ETIMEDOUT && clock_boot_ns() < boot_ns ? 0 : code;
}

enum clock_sync clock_kernel_sync(void)
{
    struct timex state = {.modes = 0};
    if (stage.is_on) {
        return CLOCK_SYNC_YES; /* there is nothing beside it that could be right */
    }
    if (adjtimex(&state) >= 0) {
        return state.maxerror < SYNC_MAX_ERROR_US ? CLOCK_SYNC_YES : CLOCK_SYNC_NO;
    }
    if (access("/run/systemd/timesync/synchronized", F_OK) == 0) {
        return CLOCK_SYNC_YES;
    }
    return access("/run/systemd/timesync", F_OK) == 0 ? CLOCK_SYNC_NO : CLOCK_SYNC_UNKNOWN;
}
