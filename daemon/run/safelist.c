/* SPDX-License-Identifier: Apache-2.0 */
#include "safelist.h"

#include "driver.h"
#include "err.h"
#include "fileio.h"
#include "parse.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { OPTIONS_MAX = 48, VALUE_SETS_MAX = 1024, FILE_LIMIT = 1024 * 1024, FAULTS_MAX = 20 };

struct values {
    struct values *next;
    struct option_value values[OPTIONS_MAX];
};

struct safelist_bus {
    const struct driver *driver;
    struct bus *bus;
    int output_count;
    struct values *sets; /* drivers may keep pointers to their values */
    char name[64];
};

/* What the lines so far have begun: a bus or an output whose options are coming in. */
struct reader {
    const char *file;
    int line;
    struct safelist *list;
    struct safelist_bus *bus; /* the present one; NULL before the first */
    const struct option *table;
    struct values *set; /* NULL: nothing is open */
    bool is_given[OPTIONS_MAX];
    bool is_output;
    bool is_spoilt;   /* the open set holds a line that cannot be read */
    bool is_skipping; /* nothing is certain before the next bus */
    enum output_kind kind;
    bool is_ended;
};

static void free_bus(struct safelist_bus *bus)
{
    if (bus->bus) {
        bus->driver->destroy(bus->bus);
    }
    while (bus->sets) {
        struct values *set = bus->sets;
        bus->sets = set->next;
        free(set);
    }
    free(bus);
}

static void note_fault(struct safelist *list, const char *sentence)
{
    const size_t used = list->faults ? strlen(list->faults) : 0;
    const size_t more = strlen(sentence) + 2;
    if (list->fault_count++ >= FAULTS_MAX) {
        return;
    }
    char *faults = realloc(list->faults, used + more);
    if (faults) {
        (void)snprintf(faults + used, more, "%s\n", sentence);
        list->faults = faults;
    }
}

/* What hangs on the present bus from here on is left out. */
static void skip_to_next_bus(struct reader *reader)
{
    if (reader->bus && !reader->bus->bus) { /* not even the bus stands */
        reader->list->bus_count--;
        free_bus(reader->bus);
    }
    reader->bus = NULL;
    reader->set = NULL;
    reader->is_skipping = true;
}

static int fail(const struct reader *reader, struct err *err, const char *what, const char *word)
{
    return err_fail(err, EINVAL, "%s:%d: %s%s%s", reader->file, reader->line, what,
                    word ? ": " : "", word ? word : "");
}

static int find_choice(const char *choices, const char *word)
{
    size_t length = strlen(word);
    int index = 0;
    for (const char *at = choices; at && *at; index++) {
        size_t span = strcspn(at, " ");
        if (span == length && strncmp(at, word, span) == 0) {
            return index;
        }
        at += span;
        at += strspn(at, " ");
    }
    return -1;
}

static int read_value(const struct option *option, const char *text, struct option_value *ret,
                      struct err *err)
{
    struct option_value value = {.text = text};
    int choice = 0;
    int code = 0;
    switch (option->type) {
    case OPTION_TEXT:
        if ((double)strlen(text) > option->high || (double)strlen(text) < option->low) {
            return err_fail(err, EINVAL, "a text has %.0f … %.0f bytes", option->low, option->high);
        }
        break;
    case OPTION_INT:
        code = parse_int(text, (int64_t)option->low, (int64_t)option->high, &value.integer, err);
        break;
    case OPTION_REAL:
        code = parse_real(text, option->low, option->high, &value.real, err);
        break;
    case OPTION_BOOL:
        value.flag = strcmp(text, "true") == 0;
        if (!value.flag && strcmp(text, "false") != 0) {
            return err_fail(err, EINVAL, "'%s' is neither true nor false", text);
        }
        break;
    case OPTION_CHOICE:
        choice = find_choice(option->choices, text);
        if (choice < 0) {
            return err_fail(err, EINVAL, "'%s' is none of: %s", text, option->choices);
        }
        value.integer = choice;
        break;
    }
    if (code == 0) {
        *ret = value;
    }
    return code;
}

static int fill_fallbacks(struct reader *reader, struct err *err)
{
    for (size_t i = 0; i < option_count(reader->table); i++) {
        const struct option *option = &reader->table[i];
        if (reader->is_given[i]) {
            continue;
        }
        if (!option->fallback) {
            return fail(reader, err, "an option is missing", option->name);
        }
        if (read_value(option, option->fallback, &reader->set->values[i], NULL) < 0) {
            return fail(reader, err, "an option has no value", option->name);
        }
    }
    return 0;
}

/* The options of the open bus or output are complete: hand it to the driver. */
static int close_open(struct reader *reader, struct err *err)
{
    struct safelist_bus *bus = reader->bus;
    int code = 0;
    if (!reader->set) {
        return 0;
    }
    if (!reader->is_spoilt) {
        code = fill_fallbacks(reader, err);
    }
    if (code == 0 && !reader->is_spoilt && reader->is_output) {
        code = bus->driver->add_output(bus->bus, reader->kind, reader->set->values, err);
        bus->output_count += code >= 0;
        reader->list->output_count += code >= 0;
    } else if (code == 0 && !reader->is_spoilt) {
        code = bus->driver->create(reader->set->values, &bus->bus, err);
    }
    if (!reader->is_output && !bus->bus) {
        skip_to_next_bus(reader);
    }
    reader->set = NULL;
    return code < 0 ? code : 0;
}

static int open_set(struct reader *reader, const struct option *table, struct err *err)
{
    if (option_count(table) > OPTIONS_MAX) {
        return fail(reader, err, "too many options", NULL);
    }
    struct values *set = calloc(1, sizeof *set);
    if (!set) {
        return err_fail(err, ENOMEM, "no memory for the list of outputs");
    }
    set->next = reader->bus->sets;
    reader->bus->sets = set;
    reader->set = set;
    reader->is_spoilt = false;
    reader->table = table;
    memset(reader->is_given, 0, sizeof reader->is_given);
    return 0;
}

static int begin_bus(struct reader *reader, const char *driver_name, const char *name,
                     struct err *err)
{
    const struct driver *driver = driver_find(driver_name);
    if (!driver) {
        return fail(reader, err, "no such driver", driver_name);
    }
    if (reader->list->bus_count == SAFELIST_BUSES_MAX) {
        return fail(reader, err, "too many buses", NULL);
    }
    struct safelist_bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for the list of outputs");
    }
    bus->driver = driver;
    (void)snprintf(bus->name, sizeof bus->name, "%s", name ? name : "?");
    reader->list->buses[reader->list->bus_count++] = bus;
    reader->bus = bus;
    reader->is_output = false;
    reader->is_skipping = false;
    return open_set(reader, driver->bus_options, err);
}

static int begin_output(struct reader *reader, const char *kind, struct err *err)
{
    if (!reader->bus || !reader->bus->bus) {
        return fail(reader, err, "an output without a bus", NULL);
    }
    reader->is_output = true;
    if (strcmp(kind, "dim") == 0) {
        reader->kind = OUTPUT_DIM;
        return open_set(reader, reader->bus->driver->dim_options, err);
    }
    if (strcmp(kind, "switch") == 0) {
        reader->kind = OUTPUT_SWITCH;
        return open_set(reader, reader->bus->driver->switch_options, err);
    }
    return fail(reader, err, "an output is dim or switch, not", kind);
}

static int set_option(struct reader *reader, const char *name, const char *text, struct err *err)
{
    for (size_t i = 0; reader->set && i < option_count(reader->table); i++) {
        if (strcmp(reader->table[i].name, name) != 0) {
            continue;
        }
        int code = read_value(&reader->table[i], text ? text : "", &reader->set->values[i], err);
        if (code < 0) {
            err_prefix(err, "%s:%d: %s", reader->file, reader->line, name);
        }
        reader->is_given[i] = true;
        return code;
    }
    return fail(reader, err, "no such option here", name);
}

static int end_list(struct reader *reader, const char *count_text, struct err *err)
{
    int64_t count = 0;
    int code = parse_int(count_text, 0, VALUE_SETS_MAX, &count, NULL);
    reader->is_ended = true;
    if (code < 0 || count != reader->list->output_count) {
        return fail(reader, err, "the list does not hold as many outputs as its end says",
                    count_text);
    }
    return 0;
}

static int read_first_line(const struct reader *reader, const char *verb, const char *word,
                           struct err *err)
{
    bool is_ours = strcmp(verb, "lampwarden-safe-list") == 0 && strcmp(word, "1") == 0;
    return is_ours ? 0 : fail(reader, err, "not a list of outputs", NULL);
}

/* A line of no known form may have been any: a set, an output, a bus. */
static int read_unknown(struct reader *reader, const char *verb, struct err *err)
{
    skip_to_next_bus(reader);
    return fail(reader, err, "not a line of a list of outputs", verb);
}

static int read_line(struct reader *reader, char *line, struct err *err)
{
    char *rest = line;
    const char *verb = strsep(&rest, " ");
    const char *word = strsep(&rest, " "); /* `rest` is now the rest of the line, or NULL */
    if (reader->is_ended || !word) {
        return read_unknown(reader, verb, err);
    }
    if (reader->line == 1) {
        return read_first_line(reader, verb, word, err);
    }
    if (strcmp(verb, "set") == 0) {
        int code = reader->is_skipping ? 0 : set_option(reader, word, rest, err);
        reader->is_spoilt = reader->is_spoilt || code < 0;
        return code;
    }
    bool is_bus = strcmp(verb, "bus") == 0;
    bool is_output = strcmp(verb, "output") == 0;
    bool is_end = strcmp(verb, "end") == 0 && !rest;
    if (!is_bus && !is_output && !is_end) {
        return read_unknown(reader, verb, err);
    }
    int code = close_open(reader, err);
    if (code < 0) {
        note_fault(reader->list, err->text);
    }
    if (is_bus) {
        code = begin_bus(reader, word, rest, err);
        if (code < 0) {
            skip_to_next_bus(reader);
        }
    } else if (is_output) {
        code = reader->is_skipping ? 0 : begin_output(reader, word, err);
    } else {
        code = end_list(reader, word, err);
    }
    return code;
}

static void read_lines(struct reader *reader, char *text)
{
    char *rest = text;
    for (char *line = strsep(&rest, "\n"); line && rest; line = strsep(&rest, "\n")) {
        struct err err = {""};
        reader->line++;
        if (read_line(reader, line, &err) < 0) {
            note_fault(reader->list, err.text);
        }
    }
    if (!reader->is_ended) {
        struct err err = {""};
        reader->is_spoilt = true; /* who knows what else belonged to the last one */
        (void)close_open(reader, NULL);
        (void)fail(reader, &err, "the list is cut short", NULL);
        note_fault(reader->list, err.text);
    }
}

int safelist_parse(const char *name, const char *text, struct safelist *ret, struct err *err)
{
    struct safelist list = {.text = strdup(text)};
    struct reader reader = {.file = name, .list = &list};
    if (!list.text) {
        return err_fail(err, ENOMEM, "no memory for the list of outputs");
    }
    read_lines(&reader, list.text);
    if (list.output_count == 0 && list.fault_count > 0) {
        (void)err_fail(err, EINVAL, "%.*s", list.faults ? (int)strcspn(list.faults, "\n") : 0,
                       list.faults ? list.faults : "");
        safelist_finish(&list);
        return -EINVAL;
    }
    *ret = list;
    return 0;
}

int safelist_read(const char *path, struct safelist *ret, struct err *err)
{
    char *text = NULL;
    int code = fileio_read(path, FILE_LIMIT, &text, NULL, err);
    if (code == 0) {
        code = safelist_parse(path, text, ret, err);
        free(text);
    }
    return code;
}

void safelist_finish(struct safelist *list)
{
    for (int i = list->bus_count - 1; i >= 0; i--) {
        free_bus(list->buses[i]);
    }
    free(list->faults);
    free(list->text);
    *list = (struct safelist){0};
}

const char *safelist_bus_name(const struct safelist *list, int bus)
{
    return list->buses[bus]->name;
}

int safelist_bus_outputs(const struct safelist *list, int bus)
{
    return list->buses[bus]->output_count;
}

int safelist_make_safe(struct safelist *list, int bus, struct err *err)
{
    return list->buses[bus]->driver->make_safe(list->buses[bus]->bus, err);
}
