/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One bus of a configuration with its sensors, opened by hand: for an installer who has no daemon
 * yet. It has no outputs, so nothing is driven, neither when it opens nor when it closes.
 */
#ifndef LAMPWARDEN_ALONE_H
#define LAMPWARDEN_ALONE_H

#include "config.h"
#include "snapshot.h"

struct alone;

/* Opens the device; without must_connect it may also fail to answer. -EBUSY: another program,
 * usually the daemon, uses the line; else as the driver's connect. The configuration must live as
 * long. */
int alone_open(const struct config *config, int bus, bool must_connect, struct alone **ret,
               struct err *err);
void alone_close(struct alone *alone); /* NULL is fine */

/* One round. Fills the entries of this bus's sensors in an array by index in the configuration.
 * A failed round shows in them as well. */
int alone_read(struct alone *alone, struct picture_sensor *ret_sensors, struct err *err);

/* As probe of driver.h; -ENOTSUP: no addresses on this kind of bus. Needs no connection. */
int alone_probe(struct alone *alone, int address, char *ret_words, size_t size, struct err *err);

#endif
