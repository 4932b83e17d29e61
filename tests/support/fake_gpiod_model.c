/* SPDX-License-Identifier: Apache-2.0 */
#include "fake_gpiod_model.h"
#include "fake_gpiod.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CHIPS_MAX = 8, LINKS_MAX = 4 };

static struct {
    struct fake_chip chips[CHIPS_MAX];
    int chip_count, link_count, handles, open_count;
    struct {
        char device[FAKE_NAME_SIZE];
        int chip;
    } links[LINKS_MAX];
} world;

static void require(bool holds)
{
    if (!holds) {
        abort(); /* the test asks for more than the stand-in has */
    }
}

static void copy_name(char to[static FAKE_NAME_SIZE], const char *from)
{
    require(snprintf(to, FAKE_NAME_SIZE, "%s", from) < FAKE_NAME_SIZE);
}

static void note(struct fake_pin *pin, char level)
{
    size_t used = strlen(pin->history);
    require(used + 1 < sizeof pin->history);
    if (used == 0 || pin->history[used - 1] != level) {
        pin->history[used] = level;
    }
}

/* --- the test's side ----------------------------------------------------------------------- */

void fake_gpiod_reset(void)
{
    memset(&world, 0, sizeof world);
}

int fake_gpiod_add_chip(const char *device, const char *label, unsigned lines)
{
    require(world.chip_count < CHIPS_MAX && lines <= FAKE_PINS_MAX);
    struct fake_chip *chip = &world.chips[world.chip_count];
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

static struct fake_pin *pin_at(int chip, unsigned offset)
{
    require(chip < world.chip_count && offset < world.chips[chip].pin_count);
    return &world.chips[chip].pins[offset];
}

void fake_gpiod_name_line(int chip, unsigned offset, const char *name)
{
    copy_name(pin_at(chip, offset)->name, name);
}

void fake_gpiod_take(int chip, unsigned offset, const char *consumer)
{
    pin_at(chip, offset)->is_taken = true;
    copy_name(pin_at(chip, offset)->consumer, consumer);
}

void fake_gpiod_free(int chip, unsigned offset)
{
    pin_at(chip, offset)->is_taken = false;
    pin_at(chip, offset)->consumer[0] = '\0';
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
    pin_at(chip, offset)->stuck = level;
}

void fake_gpiod_unplug(int chip)
{
    world.chips[chip].is_gone = true;
}

const char *fake_gpiod_history(int chip, unsigned offset)
{
    return pin_at(chip, offset)->history;
}

const char *fake_gpiod_consumer(int chip, unsigned offset)
{
    return pin_at(chip, offset)->consumer;
}

bool fake_gpiod_is_held(int chip, unsigned offset)
{
    return pin_at(chip, offset)->handle != 0;
}

int fake_gpiod_requests(void)
{
    return world.handles;
}

int fake_gpiod_open_chips(void)
{
    return world.open_count;
}

/* --- the libraries' side ------------------------------------------------------------------- */

int fake_fail(int error)
{
    errno = error;
    return -1;
}

static struct fake_chip *find_chip(const char *device)
{
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

struct fake_chip *fake_open(const char *path)
{
    const char *slash = strrchr(path, '/');
    struct fake_chip *chip = find_chip(slash ? slash + 1 : path);
    if (!chip || chip->open_error) {
        errno = chip ? chip->open_error : ENOENT;
        return NULL;
    }
    world.open_count++;
    return chip;
}

void fake_close(void)
{
    require(world.open_count > 0);
    world.open_count--;
}

int fake_hold(struct fake_chip *chip, const struct fake_request *request)
{
    require(request->count > 0 && request->count <= FAKE_REQUEST_MAX);
    if (chip->is_gone) {
        return fake_fail(ENODEV);
    }
    for (unsigned i = 0; i < request->count; i++) {
        if (request->offsets[i] >= chip->pin_count) {
            return fake_fail(EINVAL);
        }
        const struct fake_pin *pin = &chip->pins[request->offsets[i]];
        if (pin->is_taken || pin->handle) {
            return fake_fail(EBUSY);
        }
    }
    world.handles++;
    for (unsigned i = 0; i < request->count; i++) {
        struct fake_pin *pin = &chip->pins[request->offsets[i]];
        pin->handle = world.handles;
        pin->place = i;
        pin->is_active_low = request->is_active_low;
        copy_name(pin->consumer, request->consumer);
        fake_drive(pin, request->values[i]);
    }
    return world.handles;
}

void fake_release(struct fake_chip *chip, int handle)
{
    for (unsigned i = 0; i < chip->pin_count; i++) {
        struct fake_pin *pin = &chip->pins[i];
        if (pin->handle == handle) {
            pin->handle = 0;
            pin->consumer[0] = '\0';
            note(pin, 'z');
        }
    }
}

struct fake_pin *fake_pin_of(struct fake_chip *chip, int handle, unsigned place)
{
    for (unsigned i = 0; i < chip->pin_count; i++) {
        if (chip->pins[i].handle == handle && chip->pins[i].place == place) {
            return &chip->pins[i];
        }
    }
    return NULL;
}

void fake_drive(struct fake_pin *pin, bool value)
{
    pin->value = value;
    note(pin, value != pin->is_active_low ? 'H' : 'L');
}

bool fake_level(const struct fake_pin *pin)
{
    return pin->stuck >= 0 ? (pin->stuck != 0) != pin->is_active_low : pin->value;
}
