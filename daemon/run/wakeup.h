/* SPDX-License-Identifier: Apache-2.0 */
/* An event descriptor by which one thread wakes another. */
#ifndef LAMPWARDEN_WAKEUP_H
#define LAMPWARDEN_WAKEUP_H

#include <stdbool.h>
#include <stdint.h>

int wakeup_create(void); /* a descriptor, or a negative errno */
void wakeup_poke(int fd);
/* Waits for a poke, for at most wait_ns of real time, and takes it; false: there was none. */
bool wakeup_wait(int fd, int64_t wait_ns);

#endif
