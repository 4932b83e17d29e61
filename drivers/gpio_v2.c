/* SPDX-License-Identifier: Apache-2.0 */
/*
 * gpio_chip.h through libgpiod 2, which speaks the kernel's second interface.
 *
 * A request holds a group of lines; lines are set and read one by one through it, so that no line
 * hears of its neighbours.
 */
#include "gpio_chip.h"

#include <errno.h>
#include <gpiod.h>
#include <stdio.h>
#include <stdlib.h>

enum { LINES_MAX = GPIO_CHIP_LINES_MAX };

const char gpio_chip_help[] = "Switches on the lines of a GPIO chip of this computer (libgpiod 2).";

struct held_line {
    unsigned offset;
    struct gpiod_line_request *request; /* shared by the lines of a group */
};

struct gpio_chip {
    struct gpiod_chip *handle;
    struct gpio_chip_info info;
    int request_count, line_count;
    struct gpiod_line_request *requests[LINES_MAX];
    struct held_line lines[LINES_MAX];
};

static void copy_name(char to[static GPIO_NAME_SIZE], const char *from)
{
    (void)snprintf(to, GPIO_NAME_SIZE, "%s", from ? from : "");
}

static int read_info(struct gpiod_chip *handle, struct gpio_chip_info *ret)
{
    struct gpiod_chip_info *info = gpiod_chip_get_info(handle);
    if (!info) {
        return -errno;
    }
    copy_name(ret->name, gpiod_chip_info_get_name(info));
    copy_name(ret->label, gpiod_chip_info_get_label(info));
    ret->line_count = (unsigned)gpiod_chip_info_get_num_lines(info);
    gpiod_chip_info_free(info);
    return 0;
}

int gpio_chip_open(const char *path, struct gpio_chip **ret)
{
    struct gpiod_chip *handle = gpiod_chip_open(path);
    if (!handle) {
        return -errno;
    }
    struct gpio_chip *chip = calloc(1, sizeof *chip);
    int rc = chip ? read_info(handle, &chip->info) : -ENOMEM;
    if (rc < 0) {
        gpiod_chip_close(handle);
        free(chip);
        return rc;
    }
    chip->handle = handle;
    *ret = chip;
    return 0;
}

void gpio_chip_close(struct gpio_chip *chip)
{
    if (!chip) {
        return;
    }
    for (int i = 0; i < chip->request_count; i++) {
        gpiod_line_request_release(chip->requests[i]);
    }
    gpiod_chip_close(chip->handle);
    free(chip);
}

const struct gpio_chip_info *gpio_chip_info(const struct gpio_chip *chip)
{
    return &chip->info;
}

int gpio_chip_line(struct gpio_chip *chip, unsigned offset, struct gpio_line_info *ret)
{
    struct gpiod_line_info *info = gpiod_chip_get_line_info(chip->handle, offset);
    if (!info) {
        return -errno;
    }
    copy_name(ret->name, gpiod_line_info_get_name(info));
    copy_name(ret->consumer, gpiod_line_info_get_consumer(info));
    gpiod_line_info_free(info);
    return 0;
}

/* --- holding ------------------------------------------------------------------------------- */

/* What a request is made of; the library copies settings into the configuration of lines. */
struct recipe {
    struct gpiod_line_settings *settings;
    struct gpiod_line_config *lines;
    struct gpiod_request_config *request;
};

static void free_recipe(struct recipe *recipe)
{
    if (recipe->settings) {
        gpiod_line_settings_free(recipe->settings);
    }
    if (recipe->lines) {
        gpiod_line_config_free(recipe->lines);
    }
    if (recipe->request) {
        gpiod_request_config_free(recipe->request);
    }
}

static int write_recipe(struct recipe *recipe, const unsigned *offsets, int count,
                        bool is_active_low)
{
    recipe->settings = gpiod_line_settings_new();
    recipe->lines = gpiod_line_config_new();
    recipe->request = gpiod_request_config_new();
    if (!recipe->settings || !recipe->lines || !recipe->request) {
        return -ENOMEM;
    }
    gpiod_line_settings_set_active_low(recipe->settings, is_active_low);
    gpiod_request_config_set_consumer(recipe->request, "lampwarden");
    if (gpiod_line_settings_set_direction(recipe->settings, GPIOD_LINE_DIRECTION_OUTPUT) < 0 ||
        gpiod_line_settings_set_output_value(recipe->settings, GPIOD_LINE_VALUE_INACTIVE) < 0 ||
        gpiod_line_config_add_line_settings(recipe->lines, offsets, (size_t)count,
                                            recipe->settings) < 0) {
        return -errno;
    }
    return 0;
}

int gpio_chip_hold(struct gpio_chip *chip, const unsigned *offsets, int count, bool is_active_low)
{
    if (count < 1 || count > LINES_MAX - chip->line_count) {
        return -ENOSPC;
    }
    struct recipe recipe = {0};
    struct gpiod_line_request *request = NULL;
    int rc = write_recipe(&recipe, offsets, count, is_active_low);
    if (rc == 0) {
        request = gpiod_chip_request_lines(chip->handle, recipe.request, recipe.lines);
        rc = request ? 0 : -errno;
    }
    free_recipe(&recipe);
    if (rc < 0) {
        return rc;
    }
    chip->requests[chip->request_count++] = request;
    for (int i = 0; i < count; i++) {
        chip->lines[chip->line_count++] =
            (struct held_line){.offset = offsets[i], .request = request};
    }
    return 0;
}

static struct gpiod_line_request *request_of(const struct gpio_chip *chip, unsigned offset)
{
    for (int i = 0; i < chip->line_count; i++) {
        if (chip->lines[i].offset == offset) {
            return chip->lines[i].request;
        }
    }
    return NULL;
}

bool gpio_chip_is_held(const struct gpio_chip *chip, unsigned offset)
{
    return request_of(chip, offset) != NULL;
}

/* --- levels -------------------------------------------------------------------------------- */

int gpio_chip_set(struct gpio_chip *chip, unsigned offset, bool is_active)
{
    struct gpiod_line_request *request = request_of(chip, offset);
    if (!request) {
        return -EPERM;
    }
    enum gpiod_line_value value = is_active ? GPIOD_LINE_VALUE_ACTIVE : GPIOD_LINE_VALUE_INACTIVE;
    return gpiod_line_request_set_value(request, offset, value) < 0 ? -errno : 0;
}

int gpio_chip_get(struct gpio_chip *chip, unsigned offset, bool *ret)
{
    struct gpiod_line_request *request = request_of(chip, offset);
    if (!request) {
        return -EPERM;
    }
    enum gpiod_line_value value = gpiod_line_request_get_value(request, offset);
    if (value == GPIOD_LINE_VALUE_ERROR) {
        return -errno;
    }
    *ret = value == GPIOD_LINE_VALUE_ACTIVE;
    return 0;
}
