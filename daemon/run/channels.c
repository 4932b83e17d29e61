/* SPDX-License-Identifier: Apache-2.0 */
#include "channels.h"

#include "err.h"
#include "worker.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

struct line { /* one bus */
    struct worker *worker;
    struct mailbox_health health;
    int first_sensor, first_output; /* where its points begin in the arrays in order of the buses */
    int output_count;
};

struct channels {
    int bus_count, sensor_count, output_count;
    struct line *lines;
    /* in order of the buses, as the workers number their points */
    struct sample *bus_samples;
    struct mailbox_output *bus_outputs;
    double *wishes;
    /* by index in the configuration */
    int *sensor_at, *output_at; /* → place in the arrays above */
    struct sample *samples;
};

static int allocate(struct channels *channels, const struct config *config)
{
    size_t sensors = (size_t)config->sensor_count + 1; /* + 1: calloc(0) may be NULL */
    size_t outputs = (size_t)config->output_count + 1;
    channels->sensor_count = config->sensor_count;
    channels->output_count = config->output_count;
    channels->lines = calloc((size_t)config->bus_count + 1, sizeof *channels->lines);
    channels->bus_samples = calloc(sensors, sizeof *channels->bus_samples);
    channels->bus_outputs = calloc(outputs, sizeof *channels->bus_outputs);
    channels->wishes = calloc(outputs, sizeof *channels->wishes);
    channels->sensor_at = calloc(sensors, sizeof *channels->sensor_at);
    channels->output_at = calloc(outputs, sizeof *channels->output_at);
    channels->samples = calloc(sensors, sizeof *channels->samples);
    bool has_all = channels->lines && channels->bus_samples && channels->bus_outputs &&
                   channels->wishes && channels->sensor_at && channels->output_at &&
                   channels->samples;
    for (int i = 0; has_all && i < config->output_count; i++) {
        channels->wishes[i] = (double)NAN;
    }
    return has_all ? 0 : -ENOMEM;
}

static int add_points(struct channels *channels, const struct config *config, int index,
                      struct bus *bus, struct worker_setup *setup, struct err *err)
{
    const struct driver *driver = setup->driver;
    struct line *line = &channels->lines[index];
    for (int i = 0; i < config->sensor_count; i++) {
        const struct config_sensor *sensor = &config->sensors[i];
        if (sensor->bus != index) {
            continue;
        }
        int code = driver->add_sensor(bus, sensor->kind, sensor->options, err);
        if (code < 0) {
            err_prefix(err, "sensor %s", sensor->name);
            return code;
        }
        channels->sensor_at[i] = line->first_sensor + setup->sensor_count++;
    }
    for (int i = 0; i < config->output_count; i++) {
        const struct config_output *output = &config->outputs[i];
        if (output->bus != index) {
            continue;
        }
        int code = driver->add_output(bus, output->kind, output->options, err);
        if (code < 0) {
            err_prefix(err, "output %s", output->name);
            return code;
        }
        channels->output_at[i] = line->first_output + line->output_count++;
    }
    return 0;
}

static int start_line(struct channels *channels, const struct config *config, int index,
                      struct err *err)
{
    const struct config_bus *its = &config->buses[index];
    struct line *line = &channels->lines[index];
    struct worker_setup setup = {.name = its->name, .driver = its->driver, .every_s = its->every_s};
    if (index > 0) {
        const struct line *before = line - 1;
        line->first_output = before->first_output + before->output_count;
    }
    int code = its->driver->create(its->options, &setup.bus, err);
    if (code < 0) {
        err_prefix(err, "bus %s", its->name);
        return code;
    }
    code = add_points(channels, config, index, setup.bus, &setup, err);
    enum output_kind kinds[CONFIG_OUTPUTS_MAX];
    for (int i = 0; code == 0 && i < config->output_count; i++) {
        if (config->outputs[i].bus == index) {
            kinds[channels->output_at[i] - line->first_output] = config->outputs[i].kind;
        }
    }
    setup.kinds = kinds;
    setup.output_count = line->output_count;
    if (code == 0) {
        code = worker_start(&setup, &line->worker, err);
    }
    if (code < 0) {
        its->driver->destroy(setup.bus);
        return code;
    }
    channels->bus_count = index + 1;
    if (index + 1 < config->bus_count) {
        line[1].first_sensor = line->first_sensor + setup.sensor_count;
    }
    return 0;
}

static void release(struct channels *channels)
{
    free(channels->lines);
    free(channels->bus_samples);
    free(channels->bus_outputs);
    free(channels->wishes);
    free(channels->sensor_at);
    free(channels->output_at);
    free(channels->samples);
    free(channels);
}

int channels_open(const struct config *config, struct channels **ret, struct err *err)
{
    struct channels *channels = calloc(1, sizeof *channels);
    if (!channels) {
        return err_fail(err, ENOMEM, "no memory for the channels");
    }
    int code = allocate(channels, config);
    if (code < 0) {
        release(channels);
        return err_fail(err, ENOMEM, "no memory for the channels");
    }
    for (int i = 0; i < config->bus_count && code == 0; i++) {
        code = start_line(channels, config, i, err);
    }
    if (code < 0) {
        (void)channels_close(channels, 3);
        return code;
    }
    channels_fetch(channels);
    *ret = channels;
    return 0;
}

bool channels_close(struct channels *channels, double timeout_s)
{
    if (!channels) {
        return true;
    }
    bool has_ended = true;
    for (int i = 0; i < channels->bus_count; i++) {
        worker_ask_end(channels->lines[i].worker);
    }
    for (int i = 0; i < channels->bus_count; i++) {
        /* they end side by side: after the first that hung, the others had their time as well */
        has_ended = worker_end(channels->lines[i].worker, has_ended ? timeout_s : 0.1) && has_ended;
    }
    release(channels);
    return has_ended;
}

void channels_fetch(struct channels *channels)
{
    for (int i = 0; i < channels->bus_count; i++) {
        struct line *line = &channels->lines[i];
        worker_look(line->worker, &channels->bus_samples[line->first_sensor],
                    &channels->bus_outputs[line->first_output], &line->health);
    }
    for (int i = 0; i < channels->sensor_count; i++) {
        channels->samples[i] = channels->bus_samples[channels->sensor_at[i]];
    }
}

const struct sample *channels_samples(const struct channels *channels)
{
    return channels->samples;
}

const struct mailbox_output *channels_output(const struct channels *channels, int output)
{
    return &channels->bus_outputs[channels->output_at[output]];
}

const struct mailbox_health *channels_bus(const struct channels *channels, int bus)
{
    return &channels->lines[bus].health;
}

struct scan *channels_scan(const struct channels *channels, int bus)
{
    return worker_scan(channels->lines[bus].worker);
}

void channels_wake(const struct channels *channels, int bus)
{
    worker_wake(channels->lines[bus].worker);
}

void channels_want(struct channels *channels, int output, double value)
{
    channels->wishes[channels->output_at[output]] = value;
}

void channels_send(struct channels *channels)
{
    for (int i = 0; i < channels->bus_count; i++) {
        struct line *line = &channels->lines[i];
        if (line->health.is_connected) {
            worker_want(line->worker, line->health.epoch, &channels->wishes[line->first_output]);
        }
    }
}

int channels_late_bus(const struct channels *channels, int64_t boot_ns)
{
    for (int i = 0; i < channels->bus_count; i++) {
        if (worker_is_late(channels->lines[i].worker, boot_ns)) {
            return i;
        }
    }
    return -1;
}

bool channels_are_behind(const struct channels *channels, int64_t boot_ns)
{
    for (int i = 0; i < channels->bus_count; i++) {
        if (worker_is_behind(channels->lines[i].worker, boot_ns)) {
            return true;
        }
    }
    return false;
}
