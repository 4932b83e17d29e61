/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One GPIO chip and the output lines held on it: what the gpio driver needs from a library.
 * gpio_v1.c does it with libgpiod 1.6; another library gets a file of its own beside it.
 *
 * Levels are logical: `is_active` counts from the polarity that the line was requested with. No
 * call moves a line that it does not name. One thread at a time. Errors are negative errno values.
 */
#ifndef LAMPWARDEN_GPIO_CHIP_H
#define LAMPWARDEN_GPIO_CHIP_H

#include <stdbool.h>

#define GPIO_CHIP_LINES_MAX                                                                        \
    64 /* held at once: what one request of the kernel's first interface takes */

struct err;
struct gpio_chip;

/* The chip in `folder` (usual /dev) whose label is exactly that; -ENODEV when there is none,
 * -ENOTUNIQ when there are several. The sentence lists what there is. */
int gpio_chip_open(const char *folder, const char *label, struct gpio_chip **ret, struct err *err);

/* Releases every line; NULL is fine. */
void gpio_chip_close(struct gpio_chip *chip);

/* The line of that name, or at that offset (offset ≥ 0), or both at once: then the name must stand
 * there. -ENOENT: no such line; -ENOTUNIQ: several lines carry the name. */
int gpio_chip_find(struct gpio_chip *chip, const char *name, int offset, unsigned *ret_offset,
                   struct err *err);

/* Requests lines as outputs, inactive, with one polarity, in one call: all or none. -EBUSY when
 * one is held by somebody else. */
int gpio_chip_hold(struct gpio_chip *chip, const unsigned *offsets, int count, bool is_active_low);

bool gpio_chip_is_held(const struct gpio_chip *chip, unsigned offset);

/* Who holds the line, in words; the text lives until the next call for the chip. */
const char *gpio_chip_consumer(struct gpio_chip *chip, unsigned offset);

/* For a held line. A line that could not be set counts as inactive when its neighbours are set. */
int gpio_chip_set(struct gpio_chip *chip, unsigned offset, bool is_active);

/* 0, 1, or NaN where the chip cannot read an output back; -ENODEV when the chip is gone. */
int gpio_chip_get(struct gpio_chip *chip, unsigned offset, double *ret);

#endif
