/* SPDX-License-Identifier: Apache-2.0 */
/*
 * gpio_chip.h through libgpiod 1.6, and nothing else in the program includes gpiod.h.
 *
 * Lines requested together share one handle of the kernel. libgpiod 1 sets a handle from its first
 * line on and fills the rest with 0, so a handle is always set and read as a whole, with what each
 * line was told last.
 */
#include "gpio_chip.h"
#include "listing.h"

#include "err.h"

#include <dirent.h>
#include <errno.h>
#include <gpiod.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LINES_MAX = GPIO_CHIP_LINES_MAX };

struct held_line {
    struct gpiod_line *handle; /* the library's, freed with the chip */
    int request;               /* lines of one request share this number */
    bool is_active;            /* what the line was told last */
};

struct gpio_chip {
    struct gpiod_chip *handle;
    int request_count;
    int line_count;
    struct held_line lines[LINES_MAX]; /* lines of one request stand in the order of the request */
};

/* --- finding the chip ---------------------------------------------------------------------- */

struct search {
    struct gpiod_chip *found;
    int matches;
    int open_error;
    struct listing list;
};

static void search_entry(struct search *search, const char *folder, const char *label,
                         const char *entry)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/%s", folder, entry);
    struct gpiod_chip *chip = gpiod_chip_open(path);
    if (!chip) {
        search->open_error = errno;
        listing_add(&search->list, "%s (%s)", entry, err_name(search->open_error));
        return;
    }
    listing_add(&search->list, "%s \"%s\"", entry, gpiod_chip_label(chip));
    if (strcmp(gpiod_chip_label(chip), label) == 0) {
        /* Boards keep links under old numbers: the same chip twice is one chip. */
        if (!search->found || strcmp(gpiod_chip_name(search->found), gpiod_chip_name(chip)) != 0) {
            search->matches++;
        }
        if (!search->found) {
            search->found = chip;
            return;
        }
    }
    gpiod_chip_close(chip);
}

static int is_chip_entry(const struct dirent *entry)
{
    return strncmp(entry->d_name, "gpiochip", strlen("gpiochip")) == 0;
}

static int search_folder(struct search *search, const char *folder, const char *label,
                         struct err *err)
{
    struct dirent **entries;
    int count = scandir(folder, &entries, is_chip_entry, alphasort);
    if (count < 0) {
        int code = errno;
        return err_fail(err, code, "%s: %s", folder, err_name(code));
    }
    for (int i = 0; i < count; i++) {
        search_entry(search, folder, label, entries[i]->d_name);
        free(entries[i]);
    }
    free((void *)entries);
    const char *list = listing_text(&search->list);
    if (search->matches > 1) {
        return err_fail(err, ENOTUNIQ,
                        "%d GPIO chips are labelled \"%s\", one is needed; there is: %s",
                        search->matches, label, list);
    }
    if (search->matches == 0) {
        return err_fail(err, search->open_error ? search->open_error : ENODEV,
                        "no GPIO chip is labelled \"%s\"; there is: %s", label, list);
    }
    return 0;
}

int gpio_chip_open(const char *folder, const char *label, struct gpio_chip **ret, struct err *err)
{
    struct search search = {0};
    int rc = search_folder(&search, folder, label, err);
    struct gpio_chip *chip = rc == 0 ? calloc(1, sizeof *chip) : NULL;
    if (!chip) {
        if (search.found) {
            gpiod_chip_close(search.found);
        }
        return rc < 0 ? rc : err_fail(err, ENOMEM, "no memory for a GPIO chip");
    }
    chip->handle = search.found;
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

/* --- finding and holding lines ------------------------------------------------------------- */

static int get_line(struct gpio_chip *chip, unsigned offset, struct gpiod_line **ret,
                    struct err *err)
{
    struct gpiod_line *line = gpiod_chip_get_line(chip->handle, offset);
    if (!line) {
        int code = errno;
        return err_fail(err, code, "line %u: %s", offset, err_name(code));
    }
    *ret = line;
    return 0;
}

static const char *line_name(struct gpiod_line *line)
{
    const char *name = gpiod_line_name(line);
    return name ? name : "";
}

static int find_by_name(struct gpio_chip *chip, const char *name, unsigned *ret_offset,
                        struct err *err)
{
    unsigned lines = gpiod_chip_num_lines(chip->handle);
    unsigned found = lines;
    for (unsigned i = 0; i < lines; i++) {
        struct gpiod_line *line = NULL;
        int rc = get_line(chip, i, &line, err);
        if (rc < 0) {
            return rc;
        }
        if (strcmp(line_name(line), name) != 0) {
            continue;
        }
        if (found < lines) {
            return err_fail(err, ENOTUNIQ,
                            "lines %u and %u are both named \"%s\": give the offset as well", found,
                            i, name);
        }
        found = i;
    }
    if (found == lines) {
        return err_fail(err, ENOENT, "no line of the chip is named \"%s\"", name);
    }
    *ret_offset = found;
    return 0;
}

int gpio_chip_find(struct gpio_chip *chip, const char *name, int offset, unsigned *ret_offset,
                   struct err *err)
{
    if (offset < 0) {
        return find_by_name(chip, name, ret_offset, err);
    }
    unsigned lines = gpiod_chip_num_lines(chip->handle);
    if ((unsigned)offset >= lines) {
        return err_fail(err, ENOENT, "line %d is out of range (0 … %u)", offset, lines - 1);
    }
    struct gpiod_line *line = NULL;
    int rc = get_line(chip, (unsigned)offset, &line, err);
    if (rc < 0) {
        return rc;
    }
    if (name[0] && strcmp(line_name(line), name) != 0) {
        return err_fail(err, ENOENT, "line %d is named \"%s\", not \"%s\"", offset, line_name(line),
                        name);
    }
    *ret_offset = (unsigned)offset;
    return 0;
}

int gpio_chip_hold(struct gpio_chip *chip, const unsigned *offsets, int count, bool is_active_low)
{
    static const int all_inactive[LINES_MAX] = {0};
    if (count < 1 || count > LINES_MAX - chip->line_count) {
        return -ENOSPC;
    }
    struct gpiod_line_bulk bulk = GPIOD_LINE_BULK_INITIALIZER;
    for (int i = 0; i < count; i++) {
        struct gpiod_line *line = NULL;
        int rc = get_line(chip, offsets[i], &line, NULL);
        if (rc < 0) {
            return rc;
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

const char *gpio_chip_consumer(struct gpio_chip *chip, unsigned offset)
{
    /* Looked up again: get_line refreshes what the kernel says of the line. */
    struct gpiod_line *line = gpiod_chip_get_line(chip->handle, offset);
    const char *consumer = line ? gpiod_line_consumer(line) : NULL;
    return consumer && consumer[0] ? consumer : "an unnamed user";
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

int gpio_chip_get(struct gpio_chip *chip, unsigned offset, double *ret)
{
    int index = held_index(chip, offset);
    if (index < 0) {
        return -EPERM;
    }
    struct gpiod_line_bulk bulk = GPIOD_LINE_BULK_INITIALIZER;
    int values[LINES_MAX];
    unsigned place = gather(chip, index, &bulk, values);
    if (gpiod_line_get_value_bulk(&bulk, values) < 0) {
        if (errno == ENODEV || errno == EBADF) {
            return -errno;
        }
        *ret = (double)NAN; /* chips without a way to read back say EIO or EINVAL */
        return 0;
    }
    *ret = values[place];
    return 0;
}
