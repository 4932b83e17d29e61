/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One GPIO chip and the output lines held on it: what the gpio driver needs from a library. A build
 * has one of gpio_v1.c (libgpiod 1) and gpio_v2.c (libgpiod 2), and nothing else includes gpiod.h.
 *
 * Levels are logical: `is_active` counts from the polarity that the line was requested with. No
 * call moves a line that it does not name. One thread at a time. Errors are negative errno values
 * as the kernel gave them: -ENODEV when the chip is gone.
 */
#ifndef LAMPWARDEN_GPIO_CHIP_H
#define LAMPWARDEN_GPIO_CHIP_H

#include <stdbool.h>

/* Held at once: what one request takes in both of the kernel's interfaces (uapi/linux/gpio.h). */
#define GPIO_CHIP_LINES_MAX 64
#define GPIO_NAME_SIZE      32 /* as the kernel keeps names, with the NUL */

struct gpio_chip;

/* The driver's sentence about itself, with the library of this build. */
extern const char gpio_chip_help[];

struct gpio_chip_info {
    char name[GPIO_NAME_SIZE]; /* of the device, "gpiochip0", whatever file was opened */
    char label[GPIO_NAME_SIZE];
    unsigned line_count;
};

struct gpio_line_info {
    char name[GPIO_NAME_SIZE];     /* "": it has none */
    char consumer[GPIO_NAME_SIZE]; /* who holds it; "": nobody, or somebody without a name */
};

/* By the path of its device file. */
int gpio_chip_open(const char *path, struct gpio_chip **ret);

/* Releases every line; NULL is fine. */
void gpio_chip_close(struct gpio_chip *chip);

const struct gpio_chip_info *gpio_chip_info(const struct gpio_chip *chip);

/* As it is now. */
int gpio_chip_line(struct gpio_chip *chip, unsigned offset, struct gpio_line_info *ret);

/* Requests lines as outputs, inactive, with one polarity, in one call: all or none. -EBUSY when
 * one is held by somebody else. */
int gpio_chip_hold(struct gpio_chip *chip, const unsigned *offsets, int count, bool is_active_low);

bool gpio_chip_is_held(const struct gpio_chip *chip, unsigned offset);

/* For a held line, else -EPERM. After an error it may be set inactive together with others. */
int gpio_chip_set(struct gpio_chip *chip, unsigned offset, bool is_active);
int gpio_chip_get(struct gpio_chip *chip, unsigned offset, bool *ret);

#endif
