/* SPDX-License-Identifier: Apache-2.0 */
#include "wire.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <sched.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define NS_PER_S INT64_C(1000000000)
#define SPIN_NS  INT64_C(100000)
/* A pause of the master longer than this is no lateness. */
#define PAUSE_NS (NS_PER_S / 10)

enum { BITS = 11, FAST_BAUD = 19200, FAST_T35_NS = 1750000, REQUEST = 8, OVERHEAD = 5 };
enum { REGISTERS_MAX = 125, FRAME_MAX = 256, LATE_MAX = 65536, READ_HOLDING = 3 };

struct wire {
    struct wire_setup setup;
    pthread_t thread;
    int line, keep, stop; /* master; our own slave, so that it never hangs up; eventfd */
    char device[64];
    int64_t free_ns; /* the last byte of the last answer was handed over */
    struct wire_count count;
    double idle_us;
    int idles, lates;
    float late_us[LATE_MAX];
};

int64_t wire_bytes_ns(int baud, int bytes)
{
    return bytes * BITS * NS_PER_S / baud;
}

int64_t wire_t35_ns(int baud)
{
    return baud > FAST_BAUD ? FAST_T35_NS : wire_bytes_ns(baud, 7) / 2;
}

int64_t wire_read_ns(const struct wire_setup *setup, int registers)
{
    return wire_bytes_ns(setup->baud, REQUEST + OVERHEAD + 2 * registers) +
           2 * wire_t35_ns(setup->baud) + setup->turnaround_ns;
}

static int64_t now_ns(void)
{
    struct timespec now = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * NS_PER_S + now.tv_nsec;
}

static void wait_until(int64_t moment_ns, int64_t spin_ns)
{
    int64_t sleep_ns = moment_ns - spin_ns;
    struct timespec until = {sleep_ns / NS_PER_S, sleep_ns % NS_PER_S};
    (void)clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
    while (now_ns() < moment_ns) {
    }
}

/* Modbus over Serial Line V1.02, 6.2: polynomial A001 reflected, start FFFF, low byte first. */
static uint16_t crc16(const uint8_t *bytes, int size)
{
    unsigned crc = 0xFFFF;
    for (int i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = crc & 1 ? crc >> 1 ^ 0xA001 : crc >> 1;
        }
    }
    return (uint16_t)crc;
}

static int close_frame(uint8_t *frame, int size)
{
    uint16_t crc = crc16(frame, size);
    frame[size] = (uint8_t)crc;
    frame[size + 1] = (uint8_t)(crc >> 8);
    return size + 2;
}

/* Returns the size of the answer; 0: none. */
static int answer(struct wire *wire, const uint8_t *request, uint8_t *ret)
{
    int address = request[2] << 8 | request[3];
    int count = request[4] << 8 | request[5];
    if (crc16(request, REQUEST) != 0 || request[1] != READ_HOLDING) {
        wire->count.broken++;
        return 0;
    }
    if (request[0] == wire->setup.dead_unit) {
        wire->count.silences++;
        return 0;
    }
    wire->count.answers++;
    ret[0] = request[0];
    if (count < 1 || count > REGISTERS_MAX || (wire->setup.one_by_one && count > 1)) {
        ret[1] = READ_HOLDING | 0x80;
        ret[2] = 2;
        return close_frame(ret, 3);
    }
    ret[1] = READ_HOLDING;
    ret[2] = (uint8_t)(2 * count);
    for (int i = 0; i < count; i++) {
        ret[3 + 2 * i] = request[0];
        ret[4 + 2 * i] = (uint8_t)(address + i);
    }
    return close_frame(ret, 3 + 2 * count);
}

static void note_late(struct wire *wire, int64_t late_ns)
{
    double late_us = (double)late_ns / 1e3;
    wire->count.late_mean_us += late_us;
    wire->late_us[wire->lates % LATE_MAX] = (float)late_us;
    wire->lates++;
}

/* Hands every byte over when it is over on the line. */
static void send_frame(struct wire *wire, int64_t begin_ns, const uint8_t *frame, int size)
{
    int sent = 0;
    while (sent < size) {
        bool is_last = sent == size - 1;
        wait_until(begin_ns + wire_bytes_ns(wire->setup.baud, sent + 1), is_last ? SPIN_NS : 0);
        int64_t now = now_ns();
        int due = sent + 1;
        while (due < size && begin_ns + wire_bytes_ns(wire->setup.baud, due + 1) <= now) {
            due++;
        }
        if (due == size) {
            note_late(wire, now - begin_ns - wire_bytes_ns(wire->setup.baud, size));
            wire->free_ns = now;
        }
        /* a master that has closed the line loses the answer, as on a real one */
        (void)!write(wire->line, frame + sent, (size_t)(due - sent));
        sent = due;
    }
}

static void note_gap(struct wire *wire, int64_t seen_ns)
{
    int64_t idle_ns = seen_ns - wire->free_ns - wire_t35_ns(wire->setup.baud);
    if (wire->free_ns == 0 || idle_ns > PAUSE_NS) {
        return;
    }
    wire->count.short_gaps += idle_ns < 0;
    wire->idle_us += (double)idle_ns / 1e3;
    wire->idles++;
}

static void serve(struct wire *wire, int64_t seen_ns, const uint8_t *request)
{
    const struct wire_setup *setup = &wire->setup;
    uint8_t frame[FRAME_MAX];
    note_gap(wire, seen_ns);
    int size = answer(wire, request, frame);
    int64_t over_ns = seen_ns + wire_bytes_ns(setup->baud, REQUEST);
    if (size > 0) {
        send_frame(wire, over_ns + wire_t35_ns(setup->baud) + setup->turnaround_ns, frame, size);
    } else {
        wire->free_ns = over_ns;
    }
}

static void *run(void *context)
{
    struct wire *wire = context;
    struct pollfd fds[] = {{.fd = wire->line, .events = POLLIN},
                           {.fd = wire->stop, .events = POLLIN}};
    uint8_t request[REQUEST];
    int size = 0;
    int64_t seen_ns = 0;
    while (poll(fds, 2, -1) >= 0 && !(fds[1].revents & POLLIN)) {
        seen_ns = size == 0 ? now_ns() : seen_ns;
        ssize_t got = read(wire->line, request + size, (size_t)(REQUEST - size));
        size += got > 0 ? (int)got : 0;
        if (size == REQUEST) {
            serve(wire, seen_ns, request);
            size = 0;
        }
    }
    return NULL;
}

static bool open_pair(struct wire *wire)
{
    wire->line = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    wire->stop = eventfd(0, EFD_CLOEXEC);
    wire->keep = -1;
    if (wire->line < 0 || wire->stop < 0 || grantpt(wire->line) != 0 || unlockpt(wire->line) != 0 ||
        ptsname_r(wire->line, wire->device, sizeof wire->device) != 0) {
        return false;
    }
    wire->keep = open(wire->device, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios raw;
    if (wire->keep < 0 || tcgetattr(wire->keep, &raw) != 0) {
        return false;
    }
    cfmakeraw(&raw);
    return tcsetattr(wire->keep, TCSANOW, &raw) == 0;
}

static void release(struct wire *wire)
{
    int fds[] = {wire->line, wire->keep, wire->stop};
    for (size_t i = 0; i < sizeof fds / sizeof *fds; i++) {
        if (fds[i] >= 0) {
            (void)close(fds[i]); /* nothing to lose in it */
        }
    }
    free(wire);
}

struct wire *wire_start(const struct wire_setup *setup)
{
    struct wire *wire = calloc(1, sizeof *wire);
    if (!wire) {
        return NULL;
    }
    wire->setup = *setup;
    if (!open_pair(wire) || pthread_create(&wire->thread, NULL, run, wire) != 0) {
        release(wire);
        return NULL;
    }
    struct sched_param priority = {.sched_priority = 2};
    /* forbidden: then the lateness that is counted grows with the load of the machine */
    (void)pthread_setschedparam(wire->thread, SCHED_FIFO, &priority);
    return wire;
}

const char *wire_device(const struct wire *wire)
{
    return wire->device;
}

static int compare(const void *left, const void *right)
{
    const float *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

static void conclude(struct wire *wire)
{
    int kept = wire->lates < LATE_MAX ? wire->lates : LATE_MAX;
    if (kept > 0) {
        qsort(wire->late_us, (size_t)kept, sizeof wire->late_us[0], compare);
        wire->count.late_mean_us /= wire->lates;
        wire->count.late_p99_us = (double)wire->late_us[kept * 99 / 100];
    }
    if (wire->idles > 0) {
        wire->count.idle_mean_us = wire->idle_us / wire->idles;
    }
}

void wire_stop(struct wire *wire, struct wire_count *ret)
{
    if (!wire) {
        return;
    }
    const uint64_t one = 1;
    (void)!write(wire->stop, &one, sizeof one); /* a counter of 0 takes it */
    (void)pthread_join(wire->thread, NULL);
    conclude(wire);
    if (ret) {
        *ret = wire->count;
    }
    release(wire);
}
