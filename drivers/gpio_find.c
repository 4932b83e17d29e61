/* SPDX-License-Identifier: Apache-2.0 */
#include "gpio_find.h"
#include "gpio_chip.h"
#include "listing.h"

#include "err.h"
#include "parse.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SLIPS_MAX = 3 }; /* wrong letters in a name that still counts as meant */

/* --- chips --------------------------------------------------------------------------------- */

struct search {
    struct gpio_chip *found;
    int matches;
    bool is_denied; /* a chip could not be opened for want of rights */
    struct listing list;
};

/* Boards keep links under old numbers: the same chip twice is one chip. */
static bool is_same(const struct gpio_chip *a, const struct gpio_chip *b)
{
    return strcmp(gpio_chip_info(a)->name, gpio_chip_info(b)->name) == 0;
}

static void search_entry(struct search *search, const char *folder, const char *label,
                         const char *entry)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/%s", folder, entry);
    struct gpio_chip *chip = NULL;
    int rc = gpio_chip_open(path, &chip);
    if (rc < 0) {
        search->is_denied = search->is_denied || rc == -EACCES || rc == -EPERM;
        listing_add(&search->list, "%s (%s)", entry, err_name(rc));
        return;
    }
    listing_add(&search->list, "%s \"%s\"", entry, gpio_chip_info(chip)->label);
    if (strcmp(gpio_chip_info(chip)->label, label) == 0) {
        search->matches += !search->found || !is_same(search->found, chip);
        if (!search->found) {
            search->found = chip;
            return;
        }
    }
    gpio_chip_close(chip);
}

static int is_chip_entry(const struct dirent *entry)
{
    return strncmp(entry->d_name, "gpiochip", strlen("gpiochip")) == 0;
}

int gpio_find_chip(const char *folder, const char *label, struct gpio_chip **ret, struct err *err)
{
    struct search search = {0};
    struct dirent **entries;
    int count = scandir(folder, &entries, is_chip_entry, alphasort);
    if (count < 0) {
        int code = errno;
        return err_fail(err, code, "%s: %s", folder, err_name(code));
    }
    for (int i = 0; i < count; i++) {
        search_entry(&search, folder, label, entries[i]->d_name);
        free(entries[i]);
    }
    free((void *)entries);
    const char *list = listing_text(&search.list);
    if (search.matches == 1) {
        *ret = search.found;
        return 0;
    }
    gpio_chip_close(search.found);
    if (search.matches > 1) {
        return err_fail(err, ENOTUNIQ,
                        "%d GPIO chips are labelled \"%s\", one is needed; there is: %s",
                        search.matches, label, list);
    }
    return err_fail(err, search.is_denied ? EACCES : ENODEV,
                    "no GPIO chip is labelled \"%s\"; there is: %s", label, list);
}

/* --- lines --------------------------------------------------------------------------------- */

static int get_line(struct gpio_chip *chip, unsigned offset, struct gpio_line_info *ret,
                    struct err *err)
{
    int rc = gpio_chip_line(chip, offset, ret);
    return rc < 0 ? err_fail(err, -rc, "line %u: %s", offset, err_name(rc)) : 0;
}

struct names {
    char nearest[GPIO_NAME_SIZE];
    int distance; /* of the nearest */
    struct listing list;
};

static void lower(char to[static GPIO_NAME_SIZE], const char *from)
{
    size_t i = 0;
    for (; i < GPIO_NAME_SIZE - 1 && from[i]; i++) {
        to[i] = (char)tolower((unsigned char)from[i]);
    }
    to[i] = '\0';
}

/* A name that is not the wanted one, for the message when that is missing. */
static void note_other(struct names *names, const char *name, const char *wanted)
{
    if (!name[0]) {
        return;
    }
    listing_add(&names->list, "%s", name);
    char name_lower[GPIO_NAME_SIZE];
    char wanted_lower[GPIO_NAME_SIZE];
    lower(name_lower, name);
    lower(wanted_lower, wanted);
    int distance = parse_distance(name_lower, wanted_lower, SLIPS_MAX);
    if (distance < names->distance && (size_t)distance * 2 < strlen(name)) {
        names->distance = distance;
        (void)snprintf(names->nearest, sizeof names->nearest, "%s", name);
    }
}

static int fail_missing(const struct names *names, const char *wanted, struct err *err)
{
    if (names->nearest[0]) {
        return err_fail(err, ENOENT, "no line of the chip is named \"%s\"; is \"%s\" meant?",
                        wanted, names->nearest);
    }
    return err_fail(err, ENOENT, "no line of the chip is named \"%s\"; there is: %s", wanted,
                    listing_text(&names->list));
}

static int find_by_name(struct gpio_chip *chip, const char *name, unsigned *ret_offset,
                        struct err *err)
{
    struct names others = {.distance = SLIPS_MAX + 1};
    unsigned lines = gpio_chip_info(chip)->line_count;
    unsigned found = lines;
    for (unsigned i = 0; i < lines; i++) {
        struct gpio_line_info line;
        int rc = get_line(chip, i, &line, err);
        if (rc < 0) {
            return rc;
        }
        if (strcmp(line.name, name) != 0) {
            note_other(&others, line.name, name);
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
        return fail_missing(&others, name, err);
    }
    *ret_offset = found;
    return 0;
}

int gpio_find_line(struct gpio_chip *chip, const char *name, int offset, unsigned *ret_offset,
                   struct err *err)
{
    if (offset < 0) {
        return find_by_name(chip, name, ret_offset, err);
    }
    unsigned lines = gpio_chip_info(chip)->line_count;
    if ((unsigned)offset >= lines) {
        return err_fail(err, ENOENT, "line %d is out of range (0 … %u)", offset, lines - 1);
    }
    struct gpio_line_info line;
    int rc = get_line(chip, (unsigned)offset, &line, err);
    if (rc < 0) {
        return rc;
    }
    if (name[0] && strcmp(line.name, name) != 0) {
        return err_fail(err, ENOENT, "line %d is named \"%s\", not \"%s\"", offset, line.name,
                        name);
    }
    *ret_offset = (unsigned)offset;
    return 0;
}
