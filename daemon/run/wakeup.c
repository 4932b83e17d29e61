/* SPDX-License-Identifier: Apache-2.0 */
#include "wakeup.h"

#include "clock.h"

#include <errno.h>
#include <poll.h>
#include <sys/eventfd.h>
#include <time.h>
#include <unistd.h>

int wakeup_create(void)
{
    const int fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    return fd < 0 ? -errno : fd;
}

void wakeup_poke(int fd)
{
    const uint64_t one = 1;
    (void)!write(fd, &one, sizeof one); /* fails only when it is already set: that is enough */
}

bool wakeup_wait(int fd, int64_t wait_ns)
{
    struct timespec timeout = {.tv_sec = wait_ns / CLOCK_NS_PER_S,
                               .tv_nsec = wait_ns % CLOCK_NS_PER_S};
    struct pollfd poll_on = {.fd = fd, .events = POLLIN};
    uint64_t count = 0;
    if (ppoll(&poll_on, 1, &timeout, NULL) != 1) {
        return false;
    }
    return read(fd, &count, sizeof count) == (ssize_t)sizeof count;
}
