/* SPDX-License-Identifier: Apache-2.0 */
#include "alone.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

struct alone {
    const struct config *config;
    const struct driver *driver;
    struct bus *bus;
    bool is_connected;
    int count;
    int sensors[CONFIG_SENSORS_MAX]; /* by id on the bus → index in the configuration */
    struct sample samples[CONFIG_SENSORS_MAX];
    struct quality qualities[CONFIG_SENSORS_MAX];
};

static int add_sensors(struct alone *alone, int bus, struct err *err)
{
    int code = 0;
    for (int i = 0; code >= 0 && i < alone->config->sensor_count; i++) {
        const struct config_sensor *sensor = &alone->config->sensors[i];
        if (sensor->bus != bus) {
            continue;
        }
        quality_reset(&alone->qualities[alone->count]);
        alone->samples[alone->count] = (struct sample){.value = (double)NAN, .error = -EAGAIN};
        alone->sensors[alone->count++] = i;
        code = alone->driver->add_sensor(alone->bus, sensor->kind, sensor->options, err);
        if (code < 0) {
            err_prefix(err, "sensor %s", sensor->name);
        }
    }
    return code < 0 ? code : 0;
}

static int reconnect(struct alone *alone, struct err *err)
{
    int code = alone->is_connected ? 0 : alone->driver->connect(alone->bus, err);
    alone->is_connected = code >= 0;
    return code < 0 ? code : 0;
}

/* What a call left of the connection. */
static int after(struct alone *alone, int code)
{
    if (driver_is_gone(code)) {
        alone->driver->disconnect(alone->bus);
        alone->is_connected = false;
    }
    return code;
}

int alone_open(const struct config *config, int bus, bool must_connect, struct alone **ret,
               struct err *err)
{
    const struct config_bus *its = &config->buses[bus];
    struct alone *alone = calloc(1, sizeof *alone);
    if (!alone) {
        return err_fail(err, ENOMEM, "no memory for bus %s", its->name);
    }
    alone->config = config;
    alone->driver = its->driver;
    int code = its->driver->create(its->options, &alone->bus, err);
    if (code >= 0) {
        code = add_sensors(alone, bus, err);
    }
    if (code >= 0) {
        code = reconnect(alone, err);
        code = code == -EBUSY || must_connect ? code : 0;
    }
    if (code < 0) {
        alone_close(alone);
        return code;
    }
    *ret = alone;
    return 0;
}

void alone_close(struct alone *alone)
{
    if (alone && alone->bus) {
        alone->driver->destroy(alone->bus);
    }
    free(alone);
}

int alone_read(struct alone *alone, struct picture_sensor *ret_sensors, struct err *err)
{
    int code = reconnect(alone, err);
    if (code >= 0 && alone->count > 0) {
        code = after(alone, alone->driver->read(alone->bus, alone->samples, err));
    }
    const int64_t now_ns = clock_boot_ns();
    for (int i = 0; i < alone->count; i++) {
        struct picture_sensor *its = &ret_sensors[alone->sensors[i]];
        if (code < 0) {
            alone->samples[i] = (struct sample){.value = (double)NAN, .error = code};
        }
        its->sample = alone->samples[i];
        const struct quality_sample sample = {its->sample.value, its->sample.taken_ns,
                                              its->sample.error, (double)NAN};
        its->reading = quality_step(&alone->config->sensors[alone->sensors[i]].quality,
                                    &alone->qualities[i], &sample, (double)NAN, now_ns);
        its->fault = alone->qualities[i].fault;
    }
    return code < 0 ? code : 0;
}

int alone_probe(struct alone *alone, int address, char *ret_words, size_t size, struct err *err)
{
    if (!alone->driver->probe) {
        return err_fail(err, ENOTSUP, "it has no addresses to ask (driver %s)",
                        alone->driver->name);
    }
    return after(alone, alone->driver->probe(alone->bus, address, ret_words, size, err));
}
