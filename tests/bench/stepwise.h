/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The daemon's tick on simulated time, for figures: whole days in seconds.
 *
 * Simulated time has to carry the devices along. So stepwise.c takes the place of worker.c: the
 * same mailboxes and real "bench" drivers, but turned between two ticks by the one thread there is,
 * and the clock that the drivers ask (clock_boot_ns, wrapped by the linker) is the simulated one.
 * Every tick thus finds fresh readings and outputs that obey. One daemon at a time in one process.
 */
#ifndef LAMPWARDEN_STEPWISE_H
#define LAMPWARDEN_STEPWISE_H

#include "tick.h"

/* config, journal and resume_path as in tick.h; the config is taken over also on failure. */
int stepwise_open(struct config *config, struct journal *journal, const char *resume_path,
                  int64_t wall_s, struct tick **ret, struct err *err);

/* What the workers do in one second: carry out the wishes, read the sensors. */
void stepwise_devices(void);

/* The next second's tick alone. */
void stepwise_tick(struct tick *tick);

#endif
