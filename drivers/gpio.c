/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Switches on the lines of one GPIO chip.
 *
 * Lines are requested as outputs, inactive, with their polarity in the same call, so that no pin
 * passes through another level, and are held until `disconnect`: all of one polarity together, or
 * each alone when one is busy. That output's writes give its error and ask again, the others run.
 *
 * A line closes only after it was read back open since it was requested and since its last error.
 * What a pin does after the program ended depends on the kernel: an external pull decides, and the
 * stop step drives every line open.
 */
#include "driver.h"
#include "gpio_chip.h"
#include "gpio_find.h"

#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WORDS_MAX = 48, KERNEL_ENOTSUPP = 524 /* linux/errno.h; some drivers let it out */ };

struct line {
    const char *name; /* "": by offset alone */
    int offset;       /* −1: by name alone */
    bool is_active_low;
    int place;          /* offset in the chip once it was found, else −1 */
    bool was_seen_open; /* since it was requested, and since its last error */
    bool was_read;      /* the chip can read it back */
};

struct bus {
    const char *label, *folder;
    struct gpio_chip *chip; /* NULL: not connected */
    int line_count;
    struct line lines[GPIO_CHIP_LINES_MAX];
};

extern const struct driver driver_gpio;

enum { BUS_LABEL, BUS_FOLDER };

static const struct option bus_options[] = {
    [BUS_LABEL] =
        {.name = "chip",
         .type = OPTION_TEXT,
         .unit = "",
         .low = 1,
         .high = GPIO_NAME_SIZE - 1,
         .help = "Label of the GPIO chip as gpiodetect shows it in brackets. Never its number: "
                 "numbers change with board and kernel. Exactly one chip must carry it."},
    [BUS_FOLDER] = {.name = "folder",
                    .type = OPTION_TEXT,
                    .unit = "",
                    .low = 1,
                    .high = 200,
                    .fallback = "/dev",
                    .help = "Where the gpiochip devices stand; elsewhere only in containers."},
    {.name = NULL},
};

enum { SWITCH_LINE, SWITCH_OFFSET, SWITCH_ACTIVE_LOW };

static const struct option switch_options[] = {
    [SWITCH_LINE] =
        {.name = "line",
         .type = OPTION_TEXT,
         .unit = "",
         .low = 0,
         .high = GPIO_NAME_SIZE - 1,
         .fallback = "",
         .help = "Name of the line as gpioinfo shows it; unique in its chip unless the offset is "
                 "given too. With both, the name must stand at that offset."},
    [SWITCH_OFFSET] =
        {.name = "offset",
         .type = OPTION_INT,
         .unit = "",
         .low = -1,
         .high = 1023,
         .fallback = "-1",
         .help = "Offset of the line in its chip, for lines without a name; -1: by name."},
    [SWITCH_ACTIVE_LOW] =
        {.name = "active_low",
         .type = OPTION_BOOL,
         .unit = "",
         .fallback = "false",
         .help = "true: a low pin closes the switch. Either way fit an external pull "
                 "towards open, so that a floating or unpowered pin means dark: what a "
                 "pin does after the program has ended depends on the kernel. Take no "
                 "pin that the board moves while it boots (UART, strap, ID pins)."},
    {.name = NULL},
};

static const char *line_words(const struct line *line, char words[static WORDS_MAX])
{
    if (line->name[0]) {
        (void)snprintf(words, WORDS_MAX, "line \"%s\"", line->name);
    } else {
        (void)snprintf(words, WORDS_MAX, "line %d", line->offset);
    }
    return words;
}

static int find_line(struct bus *bus, struct line *line, struct err *err)
{
    if (line->place >= 0) {
        return 0;
    }
    unsigned place;
    int rc = gpio_find_line(bus->chip, line->name, line->offset, &place, err);
    if (rc < 0) {
        return rc;
    }
    for (int i = 0; i < bus->line_count; i++) {
        if (bus->lines[i].place == (int)place) {
            return err_fail(err, ENOTUNIQ, "line %u is used by two outputs", place);
        }
    }
    line->place = (int)place;
    return 0;
}

/* Asks for all lines of one polarity at once; when that fails, open_line asks for each alone. */
static void hold_together(struct bus *bus, bool is_active_low)
{
    unsigned offsets[GPIO_CHIP_LINES_MAX];
    int count = 0;
    for (int i = 0; i < bus->line_count; i++) {
        struct line *line = &bus->lines[i];
        if (line->is_active_low == is_active_low && find_line(bus, line, NULL) == 0 &&
            !gpio_chip_is_held(bus->chip, (unsigned)line->place)) {
            offsets[count++] = (unsigned)line->place;
        }
    }
    if (count > 0) {
        (void)gpio_chip_hold(bus->chip, offsets, count, is_active_low);
    }
}

static int fail_line(const struct line *line, int rc, const char *what, struct err *err)
{
    char words[WORDS_MAX];
    return err_fail(err, -rc, "%s %s: %s", line_words(line, words), what, err_name(rc));
}

static int fail_busy(struct bus *bus, const struct line *line, struct err *err)
{
    struct gpio_line_info info = {.consumer = ""};
    (void)gpio_chip_line(bus->chip, (unsigned)line->place, &info);
    char words[WORDS_MAX];
    return err_fail(err, EBUSY, "%s is held by \"%s\"", line_words(line, words),
                    info.consumer[0] ? info.consumer : "an unnamed user");
}

static int hold_alone(struct bus *bus, struct line *line, struct err *err)
{
    int rc = find_line(bus, line, err);
    if (rc < 0 || gpio_chip_is_held(bus->chip, (unsigned)line->place)) {
        return rc;
    }
    unsigned place = (unsigned)line->place;
    rc = gpio_chip_hold(bus->chip, &place, 1, line->is_active_low);
    if (rc == -EBUSY) {
        return fail_busy(bus, line, err);
    }
    return rc < 0 ? fail_line(line, rc, "cannot be requested", err) : 0;
}

/* What gpiolib says for a chip that has no way to ask; one that could be asked has a fault. */
static bool cannot_be_asked(const struct line *line, int rc)
{
    return !line->was_read &&
           (rc == -EIO || rc == -EINVAL || rc == -EOPNOTSUPP || rc == -KERNEL_ENOTSUPP);
}

/* Drives a held line and reads it back. */
static int drive_line(struct bus *bus, struct line *line, bool is_closed, double *ret_seen,
                      struct err *err)
{
    int rc = gpio_chip_set(bus->chip, (unsigned)line->place, is_closed);
    if (rc < 0) {
        return fail_line(line, rc, is_closed ? "cannot be closed" : "cannot be opened", err);
    }
    bool seen = false;
    rc = gpio_chip_get(bus->chip, (unsigned)line->place, &seen);
    if (rc < 0 && !cannot_be_asked(line, rc)) {
        return fail_line(line, rc, "cannot be read back", err);
    }
    line->was_read = line->was_read || rc == 0;
    *ret_seen = rc < 0 ? (double)NAN : seen;
    return 0;
}

/* Holds the line if it is not held yet, drives it open and looks. */
static int open_line(struct bus *bus, struct line *line, struct err *err)
{
    line->was_seen_open = false;
    int rc = hold_alone(bus, line, err);
    if (rc < 0) {
        return rc;
    }
    double seen = (double)NAN;
    rc = drive_line(bus, line, false, &seen, err);
    if (rc < 0) {
        return rc;
    }
    if (seen > 0) {
        char words[WORDS_MAX];
        return err_fail(err, EPROTO, "%s was driven open and reads back closed",
                        line_words(line, words));
    }
    line->was_seen_open = true; /* or cannot be asked: NaN */
    return 0;
}

/* Holds what can be held and drives every line open. Returns the first error. */
static int open_each(struct bus *bus, int *ret_safe, struct err *err)
{
    *ret_safe = 0;
    int first = bus->chip ? 0 : gpio_find_chip(bus->folder, bus->label, &bus->chip, err);
    if (first < 0) {
        return first;
    }
    hold_together(bus, false);
    hold_together(bus, true);
    for (int i = 0; i < bus->line_count; i++) {
        struct err one = {""};
        int rc = open_line(bus, &bus->lines[i], &one);
        if (rc == 0) {
            ++*ret_safe;
        } else if (first == 0) {
            first = rc;
            (void)err_fail(err, -rc, "%s", one.text);
        }
    }
    return first;
}

static void gpio_disconnect(struct bus *bus)
{
    gpio_chip_close(bus->chip);
    bus->chip = NULL;
    for (int i = 0; i < bus->line_count; i++) {
        bus->lines[i].place = -1;
        bus->lines[i].was_seen_open = bus->lines[i].was_read = false;
    }
}

/* A chip that was unplugged and is back is a new one: what was held of the old one is worth
 * nothing.
 */
static int open_all(struct bus *bus, int *ret_safe, struct err *err)
{
    bool is_old = bus->chip != NULL;
    int rc = open_each(bus, ret_safe, err);
    if (is_old && (rc == -ENODEV || rc == -EBADF)) {
        gpio_disconnect(bus);
        rc = open_each(bus, ret_safe, err);
    }
    return rc;
}

static int gpio_create(const struct option_value *options, struct bus **ret, struct err *err)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for a GPIO chip");
    }
    bus->label = options[BUS_LABEL].text;
    bus->folder = options[BUS_FOLDER].text;
    *ret = bus;
    return 0;
}

static int gpio_add_sensor(struct bus *bus, enum sensor_kind kind,
                           const struct option_value *options, struct err *err)
{
    (void)bus;
    (void)kind;
    (void)options;
    return err_fail(err, ENOTSUP, "a GPIO chip has no sensors");
}

static bool same_line(const struct line *a, const struct line *b)
{
    return a->offset >= 0 || b->offset >= 0 ? a->offset == b->offset : !strcmp(a->name, b->name);
}

static int gpio_add_output(struct bus *bus, enum output_kind kind,
                           const struct option_value *options, struct err *err)
{
    if (kind != OUTPUT_SWITCH) {
        return err_fail(err, ENOTSUP, "a GPIO line can switch, not dim");
    }
    if (bus->line_count == GPIO_CHIP_LINES_MAX) {
        return err_fail(err, ENOSPC, "more than %d switches on one GPIO chip", GPIO_CHIP_LINES_MAX);
    }
    struct line line = {
        .name = options[SWITCH_LINE].text,
        .offset = (int)options[SWITCH_OFFSET].integer,
        .is_active_low = options[SWITCH_ACTIVE_LOW].flag,
        .place = -1,
    };
    if (!line.name[0] && line.offset < 0) {
        return err_fail(err, EINVAL, "line (a name) or offset must be given");
    }
    for (int i = 0; i < bus->line_count; i++) {
        if (same_line(&line, &bus->lines[i])) {
            char words[WORDS_MAX];
            return err_fail(err, ENOTUNIQ, "%s is used by two outputs", line_words(&line, words));
        }
    }
    bus->lines[bus->line_count++] = line;
    return 0;
}

static int gpio_connect(struct bus *bus, struct err *err)
{
    int safe;
    int rc = open_all(bus, &safe, err);
    if (rc < 0 && safe == 0) {
        gpio_disconnect(bus);
        return rc;
    }
    return 0;
}

static int gpio_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    (void)ret_samples;
    if (!bus->chip) {
        return err_fail(err, ENOTCONN, "not connected");
    }
    struct gpio_line_info info;
    int rc = gpio_chip_line(bus->chip, 0, &info); /* the kernel answers, not the device */
    return rc == -ENODEV ? err_fail(err, ENODEV, "the chip \"%s\" is gone", bus->label) : 0;
}

static int gpio_write(struct bus *bus, int output, double value, double *ret_seen, struct err *err)
{
    if (output < 0 || output >= bus->line_count) {
        return err_fail(err, EINVAL, "there is no output %d", output);
    }
    bool is_closed = value > 0;
    if (!(fabs(value - is_closed) <= 0)) {
        return err_fail(err, EINVAL, "%g is no switch position (0 open, 1 closed)", value);
    }
    if (!bus->chip) {
        return err_fail(err, ENOTCONN, "not connected");
    }
    struct line *line = &bus->lines[output];
    int rc = line->was_seen_open ? 0 : open_line(bus, line, err);
    if (rc < 0) {
        return rc;
    }
    double seen;
    rc = drive_line(bus, line, is_closed, &seen, err);
    if (rc < 0) {
        /* Nobody knows whether it closed: open, and it stays so until it was seen open. */
        line->was_seen_open = false;
        (void)gpio_chip_set(bus->chip, (unsigned)line->place, false);
        return rc;
    }
    *ret_seen = seen;
    return 0;
}

static int gpio_make_safe(struct bus *bus, struct err *err)
{
    int safe;
    return open_all(bus, &safe, err);
}

static void gpio_destroy(struct bus *bus)
{
    if (bus) {
        gpio_disconnect(bus);
    }
    free(bus);
}

const struct driver driver_gpio = {
    .name = "gpio",
    .help = gpio_chip_help,
    .bus_options = bus_options,
    .switch_options = switch_options,
    .create = gpio_create,
    .add_sensor = gpio_add_sensor,
    .add_output = gpio_add_output,
    .connect = gpio_connect,
    .read = gpio_read,
    .write = gpio_write,
    .make_safe = gpio_make_safe,
    .disconnect = gpio_disconnect,
    .destroy = gpio_destroy,
};
