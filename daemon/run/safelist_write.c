/* SPDX-License-Identifier: Apache-2.0 */
#include "safelist.h"

#include "config.h"
#include "err.h"
#include "fileio.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A control character would begin a line of its own. */
static bool is_one_line(const char *text)
{
    for (; *text; text++) {
        if ((unsigned char)*text < ' ') {
            return false;
        }
    }
    return true;
}

static int put_option(FILE *out, const struct option *option, const struct option_value *value,
                      struct err *err)
{
    switch (option->type) {
    case OPTION_TEXT:
    case OPTION_CHOICE:
        if (!value->text) {
            return 0;
        }
        if (!is_one_line(value->text)) {
            return err_fail(err, EINVAL, "%s holds a control character", option->name);
        }
        (void)fprintf(out, "set %s %s\n", option->name, value->text);
        return 0;
    case OPTION_INT:
        (void)fprintf(out, "set %s %" PRId64 "\n", option->name, value->integer);
        return 0;
    case OPTION_REAL:
        if (isfinite(value->real)) { /* else its fallback */
            (void)fprintf(out, "set %s %.17g\n", option->name, value->real);
        }
        return 0;
    case OPTION_BOOL:
        (void)fprintf(out, "set %s %s\n", option->name, value->flag ? "true" : "false");
        return 0;
    }
    return 0;
}

static int put_options(FILE *out, const struct option *table, const struct option_value *values,
                       struct err *err)
{
    int code = 0;
    for (size_t i = 0; code == 0 && i < option_count(table); i++) {
        code = put_option(out, &table[i], &values[i], err);
    }
    return code;
}

static int put_bus(FILE *out, const struct config *config, int index, struct err *err)
{
    const struct config_bus *bus = &config->buses[index];
    if (!is_one_line(bus->name)) {
        return err_fail(err, EINVAL, "bus %d: its name holds a control character", index);
    }
    (void)fprintf(out, "bus %s %s\n", bus->driver->name, bus->name);
    int code = put_options(out, bus->driver->bus_options, bus->options, err);
    for (int i = 0; code == 0 && i < config->output_count; i++) {
        const struct config_output *output = &config->outputs[i];
        if (output->bus != index) {
            continue;
        }
        bool is_dim = output->kind == OUTPUT_DIM;
        (void)fprintf(out, "output %s %s\n", is_dim ? "dim" : "switch",
                      is_one_line(output->name) ? output->name : "?");
        code = put_options(out, is_dim ? bus->driver->dim_options : bus->driver->switch_options,
                           output->options, err);
    }
    if (code < 0) {
        err_prefix(err, "bus %s", bus->name);
    }
    return code;
}

static bool has_outputs(const struct config *config, int bus)
{
    for (int i = 0; i < config->output_count; i++) {
        if (config->outputs[i].bus == bus) {
            return true;
        }
    }
    return false;
}

int safelist_write(const struct config *config, const char *path, struct err *err)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return err_fail(err, ENOMEM, "no memory for the list of outputs");
    }
    int code = 0;
    (void)fprintf(out, "lampwarden-safe-list 1\n");
    for (int i = 0; code == 0 && i < config->bus_count; i++) {
        if (has_outputs(config, i)) {
            code = put_bus(out, config, i, err);
        }
    }
    (void)fprintf(out, "end %d\n", config->output_count);
    if (fclose(out) != 0 && code == 0) {
        code = err_fail(err, ENOMEM, "no memory for the list of outputs");
    }
    if (code == 0) {
        code = fileio_replace(path, text, size, 0600, err);
    }
    free(text);
    return code;
}
