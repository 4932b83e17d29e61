/* SPDX-License-Identifier: Apache-2.0 */
/* One owner per serial line: two masters on one line read each other's answers. */
#ifndef LAMPWARDEN_MODBUS_TTY_H
#define LAMPWARDEN_MODBUS_TTY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct err;

/* Opens the device only to lock it, before anyone touches its settings. -ENOTTY: not a serial line;
 * -EBUSY: another process holds it. The descriptor is the caller's; closing it releases the lock.
 */
int modbus_tty_lock(const char *device, int *ret, struct err *err);

/* On the descriptor that talks: nobody else may open the line; throws away what the kernel had
 * buffered; optionally the kernel switches the RS-485 transmitter. -EIO: it is not the device that
 * was locked, because the name has changed hands between the two. */
int modbus_tty_claim(int descriptor, int lock, bool kernel_direction, struct err *err);

/* Sleeps while an answer of `expected` bytes is on the line, instead of waking for each: returns,
 * without having read anything, when its last bytes are to be waited for, when it comes otherwise
 * than one character after the other, or at the deadline (real time). Never longer than the answer
 * takes, but for one that is shorter: a refusal is noticed up to 16 characters late. */
void modbus_tty_sleep_through(int descriptor, size_t expected, int64_t char_ns,
                              int64_t deadline_ns);

/* Before closing: others may open it again, and unsent bytes do not hold up the close. */
void modbus_tty_release(int descriptor);

#endif
