/* SPDX-License-Identifier: Apache-2.0 */
/* GPIO chips and lines by what they are called; numbers change with board and kernel. */
#ifndef LAMPWARDEN_GPIO_FIND_H
#define LAMPWARDEN_GPIO_FIND_H

struct err;
struct gpio_chip;

/* The chip in `folder` (usual /dev) whose label is exactly that; -ENODEV when there is none,
 * -EACCES when there may be one among those that are not ours to open; -ENOTUNIQ when there are
 * several. The sentence lists what there is. The caller closes it. */
int gpio_find_chip(const char *folder, const char *label, struct gpio_chip **ret, struct err *err);

/* The line of that name, or at that offset (offset ≥ 0), or both at once: then the name must stand
 * there. -ENOENT: no such line, the sentence offers the nearest name or lists them; -ENOTUNIQ:
 * several lines carry the name. */
int gpio_find_line(struct gpio_chip *chip, const char *name, int offset, unsigned *ret_offset,
                   struct err *err);

#endif
