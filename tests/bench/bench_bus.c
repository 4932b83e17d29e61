/* SPDX-License-Identifier: Apache-2.0 */
/*
 * How near the Modbus driver comes to what a serial line allows. The real driver, through struct
 * driver, reads without a pause from slaves on a line that takes a real line's time: every byte of
 * 11 bits, 3.5 characters after every frame, 1 ms turnaround (tests/support/wire.h).
 *
 * wire_ratio: registers read a second over those that the line allows, the best of ten parts.
 *
 * merge_gain: registers read a second over those of a device that refuses to give more than one at
 * a time, at 19200 Bd.
 *
 * dead_device_loss: share of their rate that 15 devices lose through a dead 16th, at 19200 Bd with
 * the default timeout (1 s) and quarantine (2 s), over one whole period of the steady state: from
 * the end of the first attempt that is followed by 60 s without one, in the second minute, to the
 * end of the next. In the first minute the dead device is asked six times and costs about 30 %. The
 * driver's clock runs ahead here: a wait for nothing but the clock, the quarantine, takes no real
 * time, and each round of answers that was really read is followed by 19 that are only counted, at
 * the rate of 15 devices alone. The timeouts pass in real time.
 *
 * wakeups_per_read: how often the reading thread waits for one answer of 17 characters that come
 * one by one, its silence included; 16 devices at 19200 Bd. A serial port with a buffer gives
 * fewer.
 *
 * wire_late_us: the line's own lateness, 99th percentile: what it delayed beyond a real line.
 *
 * machine_late_us: the same of an ordinary thread that sleeps until a moment.
 *
 * The line and the thread that reads ask for real-time priority; but a pseudo-terminal hands bytes
 * on in a thread of the kernel that has none. So where machine_late_us nears 1 ms, the machine is
 * busy and low ratios say little about the driver.
 *
 * The driver keeps 3.5 characters and one bit before a request: of the ratios that costs 0.3 % at
 * both speeds; the rest is the time from the last byte to its thread and back. A request that comes
 * before the 3.5 characters makes the measurement fail.
 */
#include "clock.h"
#include "err.h"
#include "log.h"
#include "option_fill.h"
#include "wire.h"

#include <math.h>
#include <pthread.h>
#include <sched.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

enum { REGISTERS = 6, DEVICES_MAX = 16, SENSORS_MAX = REGISTERS * DEVICES_MAX, PARTS = 10 };

static const double ratio_s = 4, merge_s = 3, reference_s = 2;
static const int64_t turnaround_ns = CLOCK_NS_PER_MS;
static const int64_t attempt_ns = CLOCK_NS_PER_S; /* the driver's default timeout */

/* --- the driver's clock ---------------------------------------------------------------------- */

/* Names that --wrap gives to the linker. */
int64_t __wrap_clock_real_ns(void);
int64_t __real_clock_real_ns(void);
int __wrap_clock_sleep_until_real(int64_t real_ns, const _Atomic _Bool *stop);
int __real_clock_sleep_until_real(int64_t real_ns, const _Atomic _Bool *stop);

static int64_t ahead_ns;

int64_t __wrap_clock_real_ns(void)
{
    return __real_clock_real_ns() + ahead_ns;
}

int __wrap_clock_sleep_until_real(int64_t real_ns, const _Atomic _Bool *stop)
{
    return __real_clock_sleep_until_real(real_ns - ahead_ns, stop);
}

/* --- an ordinary thread on this machine ------------------------------------------------------ */

enum { LATES_MAX = 20000 };

static struct {
    pthread_t thread;
    atomic_bool stop;
    int count;
    double late_us[LATES_MAX];
} bystander;

static double now_us(void)
{
    struct timespec now = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e6 + (double)now.tv_nsec / 1e3;
}

static void *stand_by(void *context)
{
    (void)context;
    while (!atomic_load(&bystander.stop) && bystander.count < LATES_MAX) {
        double until_us = now_us() + 10000;
        struct timespec until = {(time_t)(until_us / 1e6), (long)(fmod(until_us, 1e6) * 1e3)};
        (void)clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
        bystander.late_us[bystander.count++] = now_us() - until_us;
    }
    return NULL;
}

static int compare(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

static double bystander_late_us(void)
{
    atomic_store(&bystander.stop, true);
    (void)pthread_join(bystander.thread, NULL);
    if (bystander.count == 0) {
        return (double)NAN;
    }
    qsort(bystander.late_us, (size_t)bystander.count, sizeof bystander.late_us[0], compare);
    return bystander.late_us[bystander.count * 99 / 100];
}

/* --- a bus and its line ---------------------------------------------------------------------- */

struct bed {
    struct wire_setup setup;
    int devices;
    struct wire *wire;
    const struct driver *driver;
    struct bus *bus;
    struct option_fill bus_options, options;
    struct sample samples[SENSORS_MAX];
    int64_t taken_ns[SENSORS_MAX]; /* of the last sample that was counted */
    double answers;                /* of six registers */
};

static double late_p99_us;      /* the worst of all lines */
static double waits_per_answer; /* of the last one */

static bool bed_open(struct bed *bed, const struct wire_setup *setup, int devices)
{
    *bed = (struct bed){.setup = *setup, .devices = devices, .driver = driver_find("modbus-rtu")};
    char text[200];
    struct err err = {"no pseudo-terminal, or built without the driver"};
    bed->wire = wire_start(setup);
    if (!bed->wire || !bed->driver) {
        (void)fprintf(stderr, "%s\n", err.text);
        return false;
    }
    (void)snprintf(text, sizeof text, "device=%s baud=%d", wire_device(bed->wire), setup->baud);
    int rc = bed->driver->create(option_fill(&bed->bus_options, bed->driver->bus_options, text),
                                 &bed->bus, &err);
    for (int i = 0; rc >= 0 && i < devices * REGISTERS; i++) {
        (void)snprintf(text, sizeof text, "unit=%d register=%d", 1 + i / REGISTERS, i % REGISTERS);
        rc = bed->driver->add_sensor(bed->bus, SENSOR_PPFD,
                                     option_fill(&bed->options, bed->driver->sensor_options, text),
                                     &err);
    }
    if (rc >= 0) {
        rc = bed->driver->connect(bed->bus, &err);
    }
    if (rc < 0) {
        (void)fprintf(stderr, "%s\n", err.text);
    }
    return rc >= 0;
}

static bool bed_close(struct bed *bed, const char *name)
{
    struct wire_count count = {0};
    if (bed->driver) {
        bed->driver->destroy(bed->bus);
    }
    wire_stop(bed->wire, &count);
    late_p99_us = fmax(late_p99_us, count.late_p99_us);
    (void)fprintf(stderr,
                  "%s: %d answers, %d silences; line late by %.0f us (99 %%: %.0f us), the driver "
                  "%.0f us after 3.5 characters\n",
                  name, count.answers, count.silences, count.late_mean_us, count.late_p99_us,
                  count.idle_mean_us);
    if (count.short_gaps > 0 || count.broken > 0) {
        (void)fprintf(stderr, "%s: %d gaps below 3.5 characters, %d broken requests\n", name,
                      count.short_gaps, count.broken);
        return false;
    }
    return true;
}

/* One read, as the worker calls it. Returns how many registers it brought; ret_rc: its result. */
static int read_once(struct bed *bed, int *ret_rc)
{
    int fresh = 0;
    *ret_rc = bed->driver->read(bed->bus, bed->samples, NULL);
    for (int i = 0; i < bed->devices * REGISTERS; i++) {
        const struct sample *sample = &bed->samples[i];
        int expected = (1 + i / REGISTERS) * 256 + i % REGISTERS;
        bool is_right = sample->value == expected;
        if (sample->error == 0 && is_right && sample->taken_ns != bed->taken_ns[i]) {
            bed->taken_ns[i] = sample->taken_ns;
            fresh++;
        }
    }
    bed->answers += (double)fresh / REGISTERS;
    return fresh;
}

/* Registers a second of a bus on which nothing is wrong, in the best of some parts of the time:
 * none can be better than the driver, all are worse where the machine stalls. NaN: something was
 * wrong. */
static double measure_rate(struct bed *bed, double duration_s)
{
    double best = 0;
    int rc = 0;
    (void)read_once(bed, &rc); /* what the plan learns from refusals */
    for (int i = 0; i < PARTS; i++) {
        double registers = 0;
        int64_t begin_ns = clock_real_ns(), end_ns = begin_ns;
        while (rc == 0 && end_ns - begin_ns < (int64_t)(duration_s * 1e9 / PARTS)) {
            registers += read_once(bed, &rc);
            end_ns = clock_real_ns();
        }
        best = fmax(best, registers / ((double)(end_ns - begin_ns) / 1e9));
    }
    return rc == 0 ? best : (double)NAN;
}

static double rate_of(const struct wire_setup *setup, int devices, double duration_s,
                      const char *name)
{
    static struct bed bed;
    struct rusage before, after;
    bool is_open = bed_open(&bed, setup, devices);
    (void)getrusage(RUSAGE_THREAD, &before);
    double rate = is_open ? measure_rate(&bed, duration_s) : (double)NAN;
    (void)getrusage(RUSAGE_THREAD, &after);
    waits_per_answer = (double)(after.ru_nvcsw - before.ru_nvcsw) / fmax(bed.answers, 1);
    return bed_close(&bed, name) ? rate : (double)NAN;
}

/* --- the figures ----------------------------------------------------------------------------- */

static bool print_ratio(int baud, int devices)
{
    const struct wire_setup setup = {.baud = baud, .turnaround_ns = turnaround_ns};
    char name[40];
    (void)snprintf(name, sizeof name, "bus.wire_ratio_%d_%d", baud, devices);
    double rate = rate_of(&setup, devices, ratio_s, name);
    double allowed = REGISTERS * 1e9 / (double)wire_read_ns(&setup, REGISTERS);
    (void)printf("%s %.3f 1\n", name, rate / allowed);
    (void)fprintf(stderr, "%s: %.1f of %.1f registers a second\n", name, rate, allowed);
    return !isnan(rate);
}

static bool print_merge_gain(void)
{
    struct wire_setup setup = {.baud = 19200, .turnaround_ns = turnaround_ns};
    double merged = rate_of(&setup, 1, merge_s, "bus.merge_gain");
    setup.one_by_one = true;
    double single = rate_of(&setup, 1, merge_s, "bus.merge_gain, one by one");
    (void)printf("bus.merge_gain %.2f 1\n", merged / single);
    return !isnan(merged / single);
}

/* The driver's clock runs ahead; what is left of the time passes, so that silences are kept. */
static void skip(int64_t time_ns)
{
    static const struct timespec rest = {.tv_nsec = 20 * CLOCK_NS_PER_MS};
    int64_t begin_ns = clock_real_ns();
    (void)clock_nanosleep(CLOCK_MONOTONIC, 0, &rest, NULL);
    ahead_ns += time_ns - (clock_real_ns() - begin_ns);
}

/* Goes on to the end of the next attempt to reach the dead device; each round that was really read
 * stands for `pace` of them, those beyond the first at `rate`. Returns the registers that were
 * read, or would have been. */
static double pass_attempt(struct bed *bed, int pace, double rate, double *ret_s)
{
    double registers = 0;
    int rc = 0;
    int64_t begin_ns = clock_real_ns();
    for (;;) {
        int64_t from_ns = clock_real_ns();
        double fresh = read_once(bed, &rc);
        int64_t took_ns = clock_real_ns() - from_ns;
        registers += fresh;
        if (took_ns >= attempt_ns) {
            break;
        }
        if (rc == 0 && fresh == (bed->devices - 1) * REGISTERS) {
            registers += (pace - 1) * fresh;
            skip((int64_t)((pace - 1) * fresh / rate * 1e9));
        } else if (fresh == 0) {
            ahead_ns += CLOCK_NS_PER_MS; /* the quarantine: nothing on the line, only time */
        }
    }
    *ret_s = (double)(clock_real_ns() - begin_ns) / 1e9;
    return registers;
}

static bool print_dead_device_loss(void)
{
    enum { ATTEMPTS_BEFORE = 7, PACE_BEFORE = 100, PACE = 20 };
    static struct bed bed;
    struct wire_setup setup = {.baud = 19200, .turnaround_ns = turnaround_ns};
    double alone = rate_of(&setup, DEVICES_MAX - 1, reference_s, "bus.dead_device_loss, without");
    setup.dead_unit = DEVICES_MAX;
    bool is_good = bed_open(&bed, &setup, DEVICES_MAX);
    double with = (double)NAN;
    if (is_good) {
        double period_s = 0, early = 0, early_s = 0;
        for (int i = 0; i < ATTEMPTS_BEFORE; i++) {
            early += pass_attempt(&bed, PACE_BEFORE, alone, &period_s);
            early_s += period_s;
        }
        with = pass_attempt(&bed, PACE, alone, &period_s) / period_s;
        (void)fprintf(stderr,
                      "bus.dead_device_loss: %.1f of %.1f registers a second over %.1f s, %.1f in "
                      "the %.0f s before\n",
                      with, alone, period_s, early / early_s, early_s);
    }
    is_good = bed_close(&bed, "bus.dead_device_loss") && is_good;
    ahead_ns = 0;
    (void)printf("bus.dead_device_loss %.1f %%\n", 100 * (1 - with / alone));
    return is_good && !isnan(with / alone);
}

/* Below the line's. Threads that are begun later are ordinary ones. */
static void go_first(void)
{
    const struct sched_param priority = {.sched_priority = 1};
    if (sched_setscheduler(0, SCHED_FIFO | SCHED_RESET_ON_FORK, &priority) != 0) {
        (void)fprintf(stderr, "no real-time priority: a busy machine lowers the ratios\n");
    }
}

int main(void)
{
    static const int bauds[] = {9600, 19200}, devices[] = {1, 4, 16};
    log_set_level(LOG_LEVEL_ERROR);
    if (pthread_create(&bystander.thread, NULL, stand_by, NULL) != 0) {
        return 1;
    }
    go_first();
    bool is_good = true;
    for (size_t i = 0; i < 6; i++) {
        is_good = print_ratio(bauds[i / 3], devices[i % 3]) && is_good;
    }
    double wakeups = waits_per_answer;
    is_good = print_merge_gain() && is_good;
    is_good = print_dead_device_loss() && is_good;
    (void)printf("bus.wakeups_per_read %.1f 1\n", wakeups);
    (void)printf("bus.wire_late_us %.0f us\n", late_p99_us);
    (void)printf("bus.machine_late_us %.0f us\n", bystander_late_us());
    return is_good ? 0 : 1;
}
