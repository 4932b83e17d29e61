/* SPDX-License-Identifier: Apache-2.0 */
/*
 * gpio_chip.h through libgpiod 1.
 *
 * Lines requested together share one handle of the kernel. libgpiod 1 sets a handle from its first
 * line on and fills the rest with 0, so a handle is always set and read as a whole, with what each
 * line was told last. A line that could not be set counts as inactive then.
 */
#include "gpio_chip.h"

#include <errno.h>
#include <gpiod.h>
#include <stdio.h>
#include <stdlib.h>

enum { LINES_MAX = GPIO_CHIP_LINES_MAX };

const char gpio_chip_help[] = "Switches on the lines of a GPIO chip of this computer (libgpiod 1).";

struct held_line {
    struct gpiod_line *handle; /* the library's, freed with the chip */
    int request;               /* lines of one request share this number */
    bool is_active;            /* what the line was told last */
};

struct gpio_chip {
    struct gpiod_chip *handle;
    struct gpio_chip_info info;
    int request_count;
    int line_count;
    struct held_line lines[LINES_MAX]; /* lines of one request stand in the order of the request */
};

static void copy_name(char to[static GPIO_NAME_SIZE], const char *from)
{
    (void)snprintf(to, GPIO_NAME_SIZE, "%s", from ? from : "");
}

int gpio_chip_open(const char *path, struct gpio_chip **ret)
{
    struct gpiod_chip *handle = gpiod_chip_open(path);
    if (!handle) {
        return -errno;
    }
    struct gpio_chip *chip = calloc(1, sizeof *chip);
    if (!chip) {
        gpiod_chip_close(handle);
        return -ENOMEM;
    }
    chip->handle = handle;
    copy_name(chip->info.name, gpiod_chip_name(handle));
    copy_name(chip->info.label, gpiod_chip_label(handle));
    chip->info.line_count = gpiod_chip_num_lines(handle);
    *ret = chip;
    return 0;
}

void gpio_chip_close(struct gpio_chip *chip)
{
    if (chip) {
        gpiod_chip_close(chip->handle); /* releases the lines */
    }
    free(chip);
}

const struct gpio_chip_info *gpio_chip_info(const struct gpio_chip *chip)
{
    return &chip->info;
}

int gpio_chip_line(struct gpio_chip *chip, unsigned offset, struct gpio_line_info *ret)
{
    /* Looking a line up refreshes what the library knows of it. */
    struct gpiod_line *line = gpiod_chip_get_line(chip->handle, offset);
    if (!line) {
        return -errno;
    }
    copy_name(ret->name, gpiod_line_name(line));
    copy_name(ret->consumer, gpiod_line_consumer(line));
    return 0;
}

/* --- holding ------------------------------------------------------------------------------- */

int gpio_chip_hold(struct gpio_chip *chip, const unsigned *offsets, int count, bool is_active_low)
{
    static const int all_inactive[LINES_MAX] = {0};
    if (count < 1 || count > LINES_MAX - chip->line_count) {
        return -ENOSPC;
    }
    struct gpiod_line_bulk bulk = GPIOD_LINE_BULK_INITIALIZER;
    for (int i = 0; i < count; i++) {
        struct gpiod_line *line = gpiod_chip_get_line(chip->handle, offsets[i]);
        if (!line) {
            return -errno;
        }
        gpiod_line_bulk_add(&bulk, line);
    }
    int flags = is_active_low ? GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW : 0;
    if (gpiod_line_request_bulk_output_flags(&bulk, "lampwarden", flags, all_inactive) < 0) {
        return -errno;
    }
    for (int i = 0; i < count; i++) {
        chip->lines[chip->line_count++] = (struct held_line){
            .handle = gpiod_line_bulk_get_line(&bulk, (unsigned)i),
            .request = chip->request_count,
        };
    }
    chip->request_count++;
    return 0;
}

static int held_index(const struct gpio_chip *chip, unsigned offset)
{
    for (int i = 0; i < chip->line_count; i++) {
        if (gpiod_line_offset(chip->lines[i].handle) == offset) {
            return i;
        }
    }
    return -1;
}

bool gpio_chip_is_held(const struct gpio_chip *chip, unsigned offset)
{
    return held_index(chip, offset) >= 0;
}

/* --- levels -------------------------------------------------------------------------------- */

/* The lines of one request in its order, what they were told, and where line `index` stands among
 * them. */
static unsigned gather(const struct gpio_chip *chip, int index, struct gpiod_line_bulk *bulk,
                       int values[static LINES_MAX])
{
    unsigned place = 0;
    for (int i = 0; i < chip->line_count; i++) {
        if (chip->lines[i].request != chip->lines[index].request) {
            continue;
        }
        unsigned next = gpiod_line_bulk_num_lines(bulk);
        values[next] = chip->lines[i].is_active;
        place = i == index ? next : place;
        gpiod_line_bulk_add(bulk, chip->lines[i].handle);
    }
    return place;
}

int gpio_chip_set(struct gpio_chip *chip, unsigned offset, bool is_active)
{
    int index = held_index(chip, offset);
    if (index < 0) {
        return -EPERM;
    }
    struct gpiod_line_bulk bulk = GPIOD_LINE_BULK_INITIALIZER;
    int values[LINES_MAX];
    chip->lines[index].is_active = is_active;
    (void)gather(chip, index, &bulk, values);
    if (gpiod_line_set_value_bulk(&bulk, values) < 0) {
        int code = errno;
        chip->lines[index].is_active = false;
        return -code;
    }
    return 0;
}

int gpio_chip_get(struct gpio_chip *chip, unsigned offset, bool *ret)
{
    int index = held_index(chip, offset);
    if (index < 0) {
        return -EPERM;
    }
    struct gpiod_line_bulk bulk = GPIOD_LINE_BULK_INITIALIZER;
    int values[LINES_MAX];
    unsigned place = gather(chip, index, &bulk, values);
    if (gpiod_line_get_value_bulk(&bulk, values) < 0) {
        return -errno;
    }
    *ret = values[place] != 0;
    return 0;
}
