/* SPDX-License-Identifier: Apache-2.0 */
/* libgpiod 1 as its manual (gpiod.h 1.6.3) and the kernel's first interface have it; see
 * fake_gpiod.h. */
#include "fake_gpiod_model.h"

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>

struct gpiod_line {
    struct gpiod_chip *chip;
    unsigned offset;
    int handle; /* of the request; 0: none */
};

struct gpiod_chip {
    struct fake_chip *model;
    struct gpiod_line lines[FAKE_PINS_MAX];
};

struct gpiod_chip *gpiod_chip_open(const char *path)
{
    struct fake_chip *model = fake_open(path);
    struct gpiod_chip *chip = model ? calloc(1, sizeof *chip) : NULL;
    if (!chip) {
        return NULL;
    }
    chip->model = model;
    for (unsigned i = 0; i < FAKE_PINS_MAX; i++) {
        chip->lines[i] = (struct gpiod_line){.chip = chip, .offset = i};
    }
    return chip;
}

void gpiod_chip_close(struct gpiod_chip *chip)
{
    for (unsigned i = 0; i < FAKE_PINS_MAX; i++) {
        if (chip->lines[i].handle) {
            fake_release(chip->model, chip->lines[i].handle);
        }
    }
    fake_close();
    free(chip);
}

const char *gpiod_chip_name(struct gpiod_chip *chip)
{
    return chip->model->device;
}

const char *gpiod_chip_label(struct gpiod_chip *chip)
{
    return chip->model->label;
}

unsigned int gpiod_chip_num_lines(struct gpiod_chip *chip)
{
    return chip->model->pin_count;
}

struct gpiod_line *gpiod_chip_get_line(struct gpiod_chip *chip, unsigned int offset)
{
    if (chip->model->is_gone || offset >= chip->model->pin_count) {
        errno = chip->model->is_gone ? ENODEV : EINVAL;
        return NULL;
    }
    return &chip->lines[offset];
}

static struct fake_pin *pin_of(const struct gpiod_line *line)
{
    return &line->chip->model->pins[line->offset];
}

unsigned int gpiod_line_offset(struct gpiod_line *line)
{
    return line->offset;
}

const char *gpiod_line_name(struct gpiod_line *line)
{
    const char *name = pin_of(line)->name;
    return name[0] ? name : NULL;
}

const char *gpiod_line_consumer(struct gpiod_line *line)
{
    const char *consumer = pin_of(line)->consumer;
    return consumer[0] ? consumer : NULL;
}

int gpiod_line_request_bulk_output_flags(struct gpiod_line_bulk *bulk, const char *consumer,
                                         int flags, const int *default_vals)
{
    struct fake_request request = {
        .count = bulk->num_lines,
        .is_active_low = flags & GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW,
        .consumer = consumer,
    };
    for (unsigned i = 0; i < bulk->num_lines; i++) {
        request.offsets[i] = bulk->lines[i]->offset;
        request.values[i] = default_vals[i] != 0;
    }
    int handle = fake_hold(bulk->lines[0]->chip->model, &request);
    for (unsigned i = 0; handle > 0 && i < bulk->num_lines; i++) {
        bulk->lines[i]->handle = handle;
    }
    return handle < 0 ? -1 : 0;
}

static int check_bulk(const struct gpiod_line_bulk *bulk, int error)
{
    if (bulk->lines[0]->chip->model->is_gone) {
        return ENODEV;
    }
    for (unsigned i = 0; i < bulk->num_lines; i++) {
        if (!bulk->lines[i]->handle) {
            return EPERM;
        }
    }
    return error;
}

/* The kernel sets every line of the handle of the first one; the library has filled in 0. */
int gpiod_line_set_value_bulk(struct gpiod_line_bulk *bulk, const int *values)
{
    struct fake_chip *model = bulk->lines[0]->chip->model;
    int error = check_bulk(bulk, model->set_error);
    if (error) {
        return fake_fail(error);
    }
    struct fake_pin *pin;
    for (unsigned i = 0; (pin = fake_pin_of(model, bulk->lines[0]->handle, i)); i++) {
        fake_drive(pin, i < bulk->num_lines && values[i] != 0);
    }
    return 0;
}

int gpiod_line_get_value_bulk(struct gpiod_line_bulk *bulk, int *values)
{
    struct fake_chip *model = bulk->lines[0]->chip->model;
    int error = check_bulk(bulk, model->get_error);
    if (error) {
        return fake_fail(error);
    }
    for (unsigned i = 0; i < bulk->num_lines; i++) {
        const struct fake_pin *pin = fake_pin_of(model, bulk->lines[0]->handle, i);
        values[i] = pin && fake_level(pin);
    }
    return 0;
}
