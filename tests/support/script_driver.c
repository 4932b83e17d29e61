/* SPDX-License-Identifier: Apache-2.0 */
#include "script_driver.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct bus {
    struct script *script;
};

static const struct option bus_options[] = {
    {.name = "script", .type = OPTION_TEXT, .unit = "", .high = 1e9, .help = "a test's script"},
    {.name = NULL},
};

static const struct option no_options[] = {{.name = NULL}};

static int create(const struct option_value *options, struct bus **ret, struct err *err)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory");
    }
    memcpy(&bus->script, &options[0].text, sizeof bus->script);
    *ret = bus;
    return 0;
}

static int add_sensor(struct bus *bus, enum sensor_kind kind, const struct option_value *options,
                      struct err *err)
{
    (void)kind;
    (void)options;
    (void)err;
    return bus->script->sensor_count++ < SCRIPT_POINTS_MAX ? 0 : -ENOSPC;
}

static int add_output(struct bus *bus, enum output_kind kind, const struct option_value *options,
                      struct err *err)
{
    (void)kind;
    (void)options;
    (void)err;
    return bus->script->output_count++ < SCRIPT_POINTS_MAX ? 0 : -ENOSPC;
}

static int connect_locked(struct script *script, struct err *err)
{
    script->connects++;
    if (script->is_gone) {
        return err_fail(err, EIO, "the device is gone");
    }
    if (script->fail_connects > 0) {
        script->fail_connects--;
        return err_fail(err, -script->connect_error, "the device does not open");
    }
    memset(script->output, 0, sizeof script->output);
    return 0;
}

static int do_connect(struct bus *bus, struct err *err)
{
    pthread_mutex_lock(&bus->script->mutex);
    int code = connect_locked(bus->script, err);
    pthread_mutex_unlock(&bus->script->mutex);
    return code;
}

static int read_locked(struct script *script, struct sample *ret_samples, struct err *err)
{
    script->reads++;
    script->probes_in_a_row = 0;
    while (script->is_held) {
        pthread_cond_wait(&script->released, &script->mutex);
    }
    if (script->is_gone) {
        return err_fail(err, EIO, "the device is gone");
    }
    if (script->read_error != 0) {
        return err_fail(err, -script->read_error, "the device does not answer");
    }
    for (int i = 0; i < script->sensor_count; i++) {
        ret_samples[i] = (struct sample){.value = script->sensor[i],
                                         .taken_ns = clock_boot_ns(),
                                         .error = script->sensor_error[i]};
    }
    return 0;
}

static int do_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    pthread_mutex_lock(&bus->script->mutex);
    int code = read_locked(bus->script, ret_samples, err);
    pthread_mutex_unlock(&bus->script->mutex);
    return code;
}

static int write_locked(struct script *script, int output, double value, double *ret_seen,
                        struct err *err)
{
    if (script->log_count < SCRIPT_LOG_MAX) {
        script->log[script->log_count].output = output;
        script->log[script->log_count].value = value;
        script->log_count++;
    }
    if (script->is_gone) {
        return err_fail(err, EIO, "the device is gone");
    }
    if (script->fail_writes > 0) {
        script->fail_writes--;
        return err_fail(err, -script->write_error, "the device refuses");
    }
    if (!script->is_stuck[output]) {
        script->output[output] = value;
    }
    *ret_seen = script->output[output];
    return 0;
}

static int do_write(struct bus *bus, int output, double value, double *ret_seen, struct err *err)
{
    pthread_mutex_lock(&bus->script->mutex);
    int code = write_locked(bus->script, output, value, ret_seen, err);
    pthread_mutex_unlock(&bus->script->mutex);
    return code;
}

static int probe_locked(struct script *script, int address, char *ret_words, size_t size,
                        struct err *err)
{
    script->probes++;
    script->probes_in_a_row++;
    if (script->probes_in_a_row > script->most_in_a_row) {
        script->most_in_a_row = script->probes_in_a_row;
    }
    if (script->is_gone) {
        return err_fail(err, EIO, "the device is gone");
    }
    if (script->fail_probes > 0) {
        script->fail_probes--;
        return err_fail(err, -script->probe_error, "not now");
    }
    if (address >= SCRIPT_ADDRESSES_MAX || !script->is_there[address]) {
        return err_fail(err, ETIMEDOUT, "no answer");
    }
    (void)snprintf(ret_words, size, "register 0 holds %d", address);
    return 0;
}

static int do_probe(struct bus *bus, int address, char *ret_words, size_t size, struct err *err)
{
    pthread_mutex_lock(&bus->script->mutex);
    int code = probe_locked(bus->script, address, ret_words, size, err);
    pthread_mutex_unlock(&bus->script->mutex);
    return code;
}

static int do_make_safe(struct bus *bus, struct err *err)
{
    struct script *script = bus->script;
    pthread_mutex_lock(&script->mutex);
    script->make_safes++;
    int code = script->is_gone ? err_fail(err, EIO, "the device is gone") : 0;
    if (code == 0) {
        memset(script->output, 0, sizeof script->output);
    }
    pthread_mutex_unlock(&script->mutex);
    return code;
}

static void do_disconnect(struct bus *bus)
{
    pthread_mutex_lock(&bus->script->mutex);
    bus->script->disconnects++;
    pthread_mutex_unlock(&bus->script->mutex);
}

static void destroy(struct bus *bus)
{
    if (bus) {
        pthread_mutex_lock(&bus->script->mutex);
        bus->script->destroys++;
        pthread_mutex_unlock(&bus->script->mutex);
        free(bus);
    }
}

const struct driver script_driver = {
    .name = "script",
    .help = "Does what a test says.",
    .bus_options = bus_options,
    .sensor_options = no_options,
    .dim_options = no_options,
    .switch_options = no_options,
    .create = create,
    .add_sensor = add_sensor,
    .add_output = add_output,
    .connect = do_connect,
    .read = do_read,
    .write = do_write,
    .make_safe = do_make_safe,
    .disconnect = do_disconnect,
    .probe = do_probe,
    .destroy = destroy,
};

void script_init(struct script *script)
{
    *script = (struct script){.connects = 0};
    pthread_mutex_init(&script->mutex, NULL);
    pthread_cond_init(&script->released, NULL);
}

void script_finish(struct script *script)
{
    pthread_cond_destroy(&script->released);
    pthread_mutex_destroy(&script->mutex);
}

static const int64_t patience_ns = 20 * CLOCK_NS_PER_S;

static void breathe(void)
{
    (void)clock_sleep_until(clock_boot_ns() + 2 * CLOCK_NS_PER_MS, NULL);
}

bool script_wait(struct script *script, const int *field, int at_least)
{
    for (int64_t until_ns = clock_boot_ns() + patience_ns; clock_boot_ns() < until_ns; breathe()) {
        pthread_mutex_lock(&script->mutex);
        bool is_there = *field >= at_least;
        pthread_mutex_unlock(&script->mutex);
        if (is_there) {
            return true;
        }
    }
    return false;
}

bool script_wait_output(struct script *script, int output, double value)
{
    for (int64_t until_ns = clock_boot_ns() + patience_ns; clock_boot_ns() < until_ns; breathe()) {
        pthread_mutex_lock(&script->mutex);
        bool is_there = script->output[output] == value;
        pthread_mutex_unlock(&script->mutex);
        if (is_there) {
            return true;
        }
    }
    return false;
}

int script_get(struct script *script, const int *field)
{
    pthread_mutex_lock(&script->mutex);
    int value = *field;
    pthread_mutex_unlock(&script->mutex);
    return value;
}

void script_set(struct script *script, int *field, int value)
{
    pthread_mutex_lock(&script->mutex);
    *field = value;
    pthread_mutex_unlock(&script->mutex);
}

void script_set_flag(struct script *script, bool *field, bool value)
{
    pthread_mutex_lock(&script->mutex);
    *field = value;
    pthread_cond_broadcast(&script->released);
    pthread_mutex_unlock(&script->mutex);
}
