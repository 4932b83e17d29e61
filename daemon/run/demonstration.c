/* SPDX-License-Identifier: Apache-2.0 */
#include "demonstration.h"

#include "bench_ask.h"
#include "clock.h"
#include "err.h"
#include "page_guard.h"
#include "log.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const int64_t before_on_s = 600;

void demonstration_words(double pace, char *buffer, size_t size)
{
    if (pace > 1) {
        (void)snprintf(buffer, size, "bench, %g times as fast", pace);
    } else {
        (void)snprintf(buffer, size, "bench");
    }
}

/* The value of an option by its name; NULL: the table has none of that name. */
static const struct option_value *value_of(const struct option *table,
                                           const struct option_value *values, const char *name)
{
    for (size_t i = 0; table && table[i].name; i++) {
        if (strcmp(table[i].name, name) == 0) {
            return &values[i];
        }
    }
    return NULL;
}

static int check_inside(const struct config_bus *bus, struct err *err)
{
    const struct option_value *pace = value_of(bus->driver->bus_options, bus->options, "pace");
    if (pace && pace->real != 1) {
        return err_fail(err, EINVAL,
                        "bus %s has a pace of its own (%g): leave it out, --pace is enough",
                        bus->name, pace->real);
    }
    return 0;
}

static void note_unit(bool units[256], const struct option *table,
                      const struct option_value *options)
{
    const struct option_value *unit = value_of(table, options, "unit");
    if (unit && unit->integer >= 0 && unit->integer < 256) {
        units[unit->integer] = true;
    }
}

/* Every unit that the configuration names on a bus. */
static void collect_units(const struct config *config, int bus, bool units[256])
{
    for (int i = 0; i < config->sensor_count; i++) {
        const struct config_sensor *sensor = &config->sensors[i];
        if (sensor->bus == bus) {
            note_unit(units, config->buses[bus].driver->sensor_options, sensor->options);
        }
    }
    for (int i = 0; i < config->output_count; i++) {
        const struct config_output *output = &config->outputs[i];
        const struct driver *driver = config->buses[bus].driver;
        if (output->bus == bus) {
            note_unit(units,
                      output->kind == OUTPUT_DIM ? driver->dim_options : driver->switch_options,
                      output->options);
        }
    }
}

static int check_device(const struct config *config, int index, double pace, struct err *err)
{
    const struct config_bus *bus = &config->buses[index];
    const struct option_value *host = value_of(bus->driver->bus_options, bus->options, "host");
    const struct option_value *port = value_of(bus->driver->bus_options, bus->options, "port");
    bool units[256] = {false};
    if (!host || !port || page_reach(host->text) != PAGE_REACH_LOOPBACK) {
        return err_fail(err, EPERM,
                        "bus %s leaves this computer (%s): a demonstration moves simulated lamps "
                        "only, on a loopback address",
                        bus->name, host ? host->text : "no host");
    }
    collect_units(config, index, units);
    for (int unit = 0; unit < 256; unit++) {
        double its = 0;
        int code = units[unit] ? bench_ask(host->text, (int)port->integer, unit, &its, err) : 0;
        if (code < 0) {
            err_prefix(err, "bus %s", bus->name);
            return code;
        }
        if (units[unit] && fabs(its - pace) > 0.05) {
            return err_fail(err, EINVAL,
                            "bus %s: its bench lives %g times as fast, not %g: start it with "
                            "lampwarden-bench --pace %g",
                            bus->name, its, pace, pace);
        }
    }
    return 0;
}

int demonstration_check(const struct config *config, double pace, struct err *err)
{
    for (int i = 0; i < config->bus_count; i++) {
        const char *driver = config->buses[i].driver->name;
        int code = strcmp(driver, "bench") == 0 ? check_inside(&config->buses[i], err)
                   : strcmp(driver, "modbus-tcp") == 0
                       ? check_device(config, i, pace, err)
                       : err_fail(err, EPERM,
                                  "bus %s is no bench (driver %s): a demonstration moves simulated "
                                  "lamps only",
                                  config->buses[i].name, driver);
        if (code < 0) {
            return code;
        }
    }
    return 0;
}

/* Tomorrow, so that no clock can say that it is in the past. */
static int64_t first_moment_s(const struct config *config)
{
    int32_t on_s = UNITS_S_PER_DAY;
    for (int i = 0; i < config->stage_count; i++) {
        on_s = config->stages[i].window.on_s < on_s ? config->stages[i].window.on_s : on_s;
    }
    const int64_t local_s = clock_wall_ns() / CLOCK_NS_PER_S + config->site.utc_offset_s;
    const int64_t tomorrow_s = (local_s / UNITS_S_PER_DAY + 1) * UNITS_S_PER_DAY;
    return tomorrow_s + on_s - before_on_s - config->site.utc_offset_s;
}

/* What lies there is deleted: it must not be a link to somewhere else, nor anybody else's. */
static int make_folders(const char *runtime, const char *folder, struct err *err)
{
    struct stat found;
    if ((mkdir(runtime, 0755) != 0 && errno != EEXIST) ||
        (mkdir(folder, 0755) != 0 && errno != EEXIST) || lstat(folder, &found) != 0) {
        const int code = errno;
        return err_fail(err, code,
                        "%s: cannot be created: %s; --runtime names a folder where it can", folder,
                        err_name(code));
    }
    if (!S_ISDIR(found.st_mode) || found.st_uid != geteuid()) {
        return err_fail(err, EPERM,
                        "%s: it is no folder of your own; --runtime names one where it can be",
                        folder);
    }
    return 0;
}

int demonstration_begin(struct demonstration *demonstration, const struct app_options *given,
                        const struct config *config, struct err *err)
{
    char words[DEMONSTRATION_WORDS];
    if (strlen(given->runtime_folder) > 180) {
        return err_fail(err, ENAMETOOLONG, "%s: too long for a folder", given->runtime_folder);
    }
    (void)snprintf(demonstration->folder, sizeof demonstration->folder, "%.180s/demonstration",
                   given->runtime_folder);
    (void)snprintf(demonstration->journal, sizeof demonstration->journal, "%s/journal.db",
                   demonstration->folder);
    (void)snprintf(demonstration->socket, sizeof demonstration->socket, "%s/control",
                   demonstration->folder);
    const int code = make_folders(given->runtime_folder, demonstration->folder, err);
    if (code < 0) {
        return code;
    }
    demonstration->options = *given;
    demonstration->options.runtime_folder = demonstration->folder;
    demonstration->options.state_folder = demonstration->folder;
    demonstration->options.journal_path = demonstration->journal;
    if (!given->socket_path) {
        demonstration->options.socket_path = demonstration->socket;
    }
    clock_begin_stage(first_moment_s(config) * CLOCK_NS_PER_S);
    demonstration_words(given->pace, words, sizeof words);
    log_warning("demonstration (%s): its lamps are simulated, and so is its time; socket %s, "
                "journal %s",
                words, demonstration->options.socket_path, demonstration->journal);
    return 0;
}

void demonstration_clear(const char *folder)
{
    static const char *const names[] = {"resume", "starts", "journal.db", "journal.db-wal",
                                        "journal.db-shm"};
    char path[320];
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        (void)snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        (void)unlink(path); /* most often there is none */
    }
}
