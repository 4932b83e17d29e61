/* SPDX-License-Identifier: Apache-2.0 */
#include "fake_gpiod.h"

#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>
#include <string.h>

enum { CHIPS_MAX = 8, PINS_MAX = 64, LINKS_MAX = 4, HISTORY_MAX = 256 };

struct pin {
    char name[32], consumer[32];
    bool is_taken;
    int stuck; /* −1: not */
    bool is_active_low;
    bool value; /* logical, while driven */
    char history[HISTORY_MAX];
    int handle;     /* lines of one request share it; 0: not held by the program */
    unsigned place; /* in its request */
};

struct model {
    char device[32], label[32];
    unsigned pin_count;
    int open_error, set_error, get_error;
    bool is_gone;
    struct pin pins[PINS_MAX];
};

struct gpiod_line {
    struct gpiod_chip *chip;
    unsigned offset;
    bool is_requested;
};

struct gpiod_chip {
    struct model *model;
    struct gpiod_line lines[PINS_MAX];
};

static struct {
    struct model chips[CHIPS_MAX];
    int chip_count, link_count, handles, open_count;
    struct {
        char device[32];
        int chip;
    } links[LINKS_MAX];
} world;

/* --- the test's side ----------------------------------------------------------------------- */

static void require(bool holds)
{
    if (!holds) {
        abort(); /* the test asks for more than the stand-in has */
    }
}

static void copy_name(char to[static 32], const char *from)
{
    require(strlen(from) < 32);
    strcpy(to, from); /* NOLINT(clang-analyzer-security.insecureAPI.strcpy): length checked above */
}

static void note(struct pin *pin, char level)
{
    size_t used = strlen(pin->history);
    require(used + 1 < HISTORY_MAX);
    if (used == 0 || pin->history[used - 1] != level) {
        pin->history[used] = level;
    }
}

static void note_driven(struct pin *pin)
{
    note(pin, pin->value != pin->is_active_low ? 'H' : 'L');
}

void fake_gpiod_reset(void)
{
    memset(&world, 0, sizeof world);
}

int fake_gpiod_add_chip(const char *device, const char *label, unsigned lines)
{
    require(world.chip_count < CHIPS_MAX && lines <= PINS_MAX);
    struct model *chip = &world.chips[world.chip_count];
    copy_name(chip->device, device);
    copy_name(chip->label, label);
    chip->pin_count = lines;
    for (unsigned i = 0; i < lines; i++) {
        chip->pins[i].stuck = -1;
        note(&chip->pins[i], 'z');
    }
    return world.chip_count++;
}

void fake_gpiod_add_link(const char *device, int chip)
{
    require(world.link_count < LINKS_MAX);
    copy_name(world.links[world.link_count].device, device);
    world.links[world.link_count++].chip = chip;
}

void fake_gpiod_name_line(int chip, unsigned offset, const char *name)
{
    copy_name(world.chips[chip].pins[offset].name, name);
}

void fake_gpiod_take(int chip, unsigned offset, const char *consumer)
{
    struct pin *pin = &world.chips[chip].pins[offset];
    pin->is_taken = true;
    copy_name(pin->consumer, consumer);
}

void fake_gpiod_free(int chip, unsigned offset)
{
    struct pin *pin = &world.chips[chip].pins[offset];
    pin->is_taken = false;
    pin->consumer[0] = '\0';
}

void fake_gpiod_fail_open(int chip, int error)
{
    world.chips[chip].open_error = error;
}

void fake_gpiod_fail_set(int chip, int error)
{
    world.chips[chip].set_error = error;
}

void fake_gpiod_fail_get(int chip, int error)
{
    world.chips[chip].get_error = error;
}

void fake_gpiod_stick(int chip, unsigned offset, int level)
{
    world.chips[chip].pins[offset].stuck = level;
}

void fake_gpiod_unplug(int chip)
{
    world.chips[chip].is_gone = true;
}

const char *fake_gpiod_history(int chip, unsigned offset)
{
    return world.chips[chip].pins[offset].history;
}

bool fake_gpiod_is_held(int chip, unsigned offset)
{
    return world.chips[chip].pins[offset].handle != 0;
}

int fake_gpiod_requests(void)
{
    return world.handles;
}

int fake_gpiod_open_chips(void)
{
    return world.open_count;
}

/* --- the library's side -------------------------------------------------------------------- */

static int fail(int error)
{
    errno = error;
    return -1;
}

static struct model *find_model(const char *path)
{
    const char *slash = strrchr(path, '/');
    const char *device = slash ? slash + 1 : path;
    for (int i = 0; i < world.link_count; i++) {
        if (strcmp(world.links[i].device, device) == 0) {
            return &world.chips[world.links[i].chip];
        }
    }
    for (int i = 0; i < world.chip_count; i++) {
        if (!world.chips[i].is_gone && strcmp(world.chips[i].device, device) == 0) {
            return &world.chips[i];
        }
    }
    return NULL;
}

struct gpiod_chip *gpiod_chip_open(const char *path)
{
    struct model *model = find_model(path);
    if (!model || model->open_error) {
        errno = model ? model->open_error : ENOENT;
        return NULL;
    }
    struct gpiod_chip *chip = calloc(1, sizeof *chip);
    if (!chip) {
        return NULL;
    }
    chip->model = model;
    for (unsigned i = 0; i < PINS_MAX; i++) {
        chip->lines[i] = (struct gpiod_line){.chip = chip, .offset = i};
    }
    world.open_count++;
    return chip;
}

void gpiod_chip_close(struct gpiod_chip *chip)
{
    for (unsigned i = 0; i < PINS_MAX; i++) {
        if (chip->lines[i].is_requested) {
            struct pin *pin = &chip->model->pins[i];
            pin->handle = 0;
            pin->consumer[0] = '\0';
            note(pin, 'z');
        }
    }
    world.open_count--;
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

static struct pin *pin_of(const struct gpiod_line *line)
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
    for (unsigned i = 0; i < bulk->num_lines; i++) {
        struct gpiod_line *line = bulk->lines[i];
        if (line->chip->model->is_gone) {
            return fail(ENODEV);
        }
        if (pin_of(line)->is_taken || pin_of(line)->handle) {
            return fail(EBUSY);
        }
    }
    world.handles++;
    for (unsigned i = 0; i < bulk->num_lines; i++) {
        struct pin *pin = pin_of(bulk->lines[i]);
        bulk->lines[i]->is_requested = true;
        pin->handle = world.handles;
        pin->place = i;
        pin->is_active_low = flags & GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW;
        pin->value = default_vals[i] != 0;
        copy_name(pin->consumer, consumer);
        note_driven(pin);
    }
    return 0;
}

/* The pins of the handle that the first line of the bulk belongs to, in the order of the request.
 */
static unsigned handle_pins(const struct gpiod_line_bulk *bulk, struct pin *pins[static PINS_MAX])
{
    struct model *model = bulk->lines[0]->chip->model;
    int handle = pin_of(bulk->lines[0])->handle;
    unsigned count = 0;
    for (unsigned i = 0; handle && i < model->pin_count; i++) {
        if (model->pins[i].handle == handle) {
            pins[model->pins[i].place] = &model->pins[i];
            count++;
        }
    }
    return count;
}

static int check_bulk(const struct gpiod_line_bulk *bulk, int error)
{
    if (bulk->lines[0]->chip->model->is_gone) {
        return ENODEV;
    }
    for (unsigned i = 0; i < bulk->num_lines; i++) {
        if (!bulk->lines[i]->is_requested) {
            return EPERM;
        }
    }
    return error;
}

int gpiod_line_set_value_bulk(struct gpiod_line_bulk *bulk, const int *values)
{
    int error = check_bulk(bulk, bulk->lines[0]->chip->model->set_error);
    if (error) {
        return fail(error);
    }
    struct pin *pins[PINS_MAX];
    unsigned count = handle_pins(bulk, pins);
    for (unsigned i = 0; i < count; i++) {
        pins[i]->value = i < bulk->num_lines && values[i] != 0;
        note_driven(pins[i]);
    }
    return 0;
}

int gpiod_line_get_value_bulk(struct gpiod_line_bulk *bulk, int *values)
{
    int error = check_bulk(bulk, bulk->lines[0]->chip->model->get_error);
    if (error) {
        return fail(error);
    }
    struct pin *pins[PINS_MAX];
    unsigned count = handle_pins(bulk, pins);
    for (unsigned i = 0; i < bulk->num_lines && i < count; i++) {
        bool is_stuck = pins[i]->stuck >= 0;
        values[i] = is_stuck ? (pins[i]->stuck != 0) != pins[i]->is_active_low : pins[i]->value;
    }
    return 0;
}
