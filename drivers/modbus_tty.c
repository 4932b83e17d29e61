/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_tty.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/serial.h>
#include <poll.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

/* Characters of an answer: slept through at once, so that a shorter one is noticed; and the last
 * ones, which are waited for one by one. */
enum { STEP_MAX = 8, LAST_WAITED_FOR = 2 };

int modbus_tty_lock(const char *device, int *ret, struct err *err)
{
    int descriptor = open(device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (descriptor < 0) {
        int code = errno;
        return err_fail(err, code, "%s: cannot be opened (%s)", device, err_name(code));
    }
    int rc = 0;
    if (!isatty(descriptor)) {
        rc = err_fail(err, ENOTTY, "%s: not a serial line", device);
    } else if (flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
        int code = errno == EWOULDBLOCK ? EBUSY : errno;
        rc = err_fail(err, code, "%s: %s", device,
                      code == EBUSY ? "another process uses this line" : err_name(code));
    }
    if (rc < 0) {
        (void)close(descriptor); /* nothing was written */
        return rc;
    }
    *ret = descriptor;
    return 0;
}

int modbus_tty_claim(int descriptor, int lock, bool kernel_direction, struct err *err)
{
    struct stat talks, locked;
    if (fstat(descriptor, &talks) != 0 || fstat(lock, &locked) != 0 ||
        talks.st_rdev != locked.st_rdev) {
        return err_fail(err, EIO, "the line's name led to another device while it was opened");
    }
    if (ioctl(descriptor, TIOCEXCL) != 0) {
        int code = errno;
        return err_fail(err, code, "the line cannot be claimed (%s)", err_name(code));
    }
    (void)tcflush(descriptor, TCIOFLUSH); /* the line state machine discards what comes later */
    if (!kernel_direction) {
        return 0;
    }
    struct serial_rs485 rs485;
    if (ioctl(descriptor, TIOCGRS485, &rs485) == 0) {
        rs485.flags |= SER_RS485_ENABLED;
        if (ioctl(descriptor, TIOCSRS485, &rs485) == 0) {
            return 0;
        }
    }
    int code = errno;
    return err_fail(err, code,
                    "this serial port's driver cannot switch an RS-485 transmitter (%s): use an "
                    "adapter that does it by itself",
                    err_name(code));
}

static bool wait_for_first(int descriptor, int64_t deadline_ns)
{
    int64_t left_ns = deadline_ns - clock_real_ns();
    struct pollfd wait = {.fd = descriptor, .events = POLLIN};
    struct timespec time = {left_ns / CLOCK_NS_PER_S, left_ns % CLOCK_NS_PER_S};
    return left_ns > 0 && ppoll(&wait, 1, &time, NULL) == 1;
}

void modbus_tty_sleep_through(int descriptor, size_t expected, int64_t char_ns, int64_t deadline_ns)
{
    int before = 0, there = 0, whole = (int)expected;
    if (char_ns == 0 || !wait_for_first(descriptor, deadline_ns)) {
        return;
    }
    while (ioctl(descriptor, FIONREAD, &there) == 0 && there > before) {
        int missing = whole - there;
        int step = missing - LAST_WAITED_FOR < STEP_MAX ? missing - LAST_WAITED_FOR : STEP_MAX;
        int64_t until_ns = clock_real_ns() + step * char_ns;
        if (step < 1 || until_ns > deadline_ns) {
            return;
        }
        (void)clock_sleep_until_real(until_ns, NULL);
        before = there;
    }
}

void modbus_tty_release(int descriptor)
{
    (void)tcflush(descriptor, TCIOFLUSH); /* may be gone already: nothing to save */
    (void)ioctl(descriptor, TIOCNXCL);
}
