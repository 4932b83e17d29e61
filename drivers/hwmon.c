/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Sensors that the kernel shows in /sys/class/hwmon: temperature, relative humidity, power
 * (Documentation/hwmon/sysfs-interface.rst: millidegrees, milli-percent, microwatts).
 *
 * A sensor is found by its chip's name and, where several chips carry it, by its device's path;
 * hwmon numbers change. When its device goes the sensor is looked for again at every read. What the
 * chip cannot measure is an error; whether a value can be believed otherwise is not judged here: a
 * probe's power-on value passes through.
 *
 * Some chips take 0.75 s for one conversion (1-Wire probes). A read that has used its time leaves
 * the rest for the next one, which begins there; sensors that were not asked give their last sample
 * again, with its time.
 */
#include "driver.h"
#include "sysfs.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { SENSORS_MAX = 64, ATTRIBUTE_MAX = 32 };

#define READ_PATIENCE_NS                                                                           \
    CLOCK_NS_PER_S /* one more slow conversion still fits into the 2 s of a call */

/* What is known of a chip. */
struct chip {
    const char *name;
    int64_t low, high;  /* of the attribute, in its unit: it measures no other values */
    bool has_dead_zero; /* exactly 0 is refused: a dead line says it too */
    double power_on_c;  /* NaN: none */
};

/* drivers/w1/slaves/w1_therm.c of Linux: MIN_TEMP, MAX_TEMP; 127.937 is insufficient power, 85 the
 * power-on value. A data line shorted to ground reads as zeros, whose CRC is right: exactly 0. */
static const struct chip w1_probe = {"w1_slave_temp", -55000, 125000, true, 85.0};
static const struct chip any_chip = {"", INT32_MIN, INT64_C(1) << 40, false, (double)NAN};

static const struct chip *chip_of(const char *name)
{
    return strcmp(name, w1_probe.name) == 0 ? &w1_probe : &any_chip;
}

struct sensor {
    const char *name, *device;     /* as configured */
    char attribute[ATTRIBUTE_MAX]; /* "temp1_input" */
    char fault[ATTRIBUTE_MAX];     /* "temp1_fault": not every chip has it */
    double unit;                   /* of the attribute, in the sensor's unit */
    double scale, offset;
    const struct chip *chip;
    int fd;       /* −1: not found */
    int fault_fd; /* −1: the chip does not tell */
    struct sample last;
};

struct bus {
    const char *class_folder;
    bool is_connected;
    int sensor_count;
    int next; /* the sensor that the next read begins with */
    struct sensor sensors[SENSORS_MAX];
};

extern const struct driver driver_hwmon;

enum { BUS_FOLDER };

static const struct option bus_options[] = {
    [BUS_FOLDER] = {.name = "sysfs",
                    .type = OPTION_TEXT,
                    .unit = "",
                    .low = 1,
                    .high = 200,
                    .fallback = "/sys/class/hwmon",
                    .help = "Where the kernel shows its sensors."},
    {.name = NULL},
};

enum { SENSOR_CHIP, SENSOR_DEVICE, SENSOR_CHANNEL, SENSOR_SCALE, SENSOR_OFFSET };

static const struct option sensor_options[] = {
    [SENSOR_CHIP] = {.name = "chip",
                     .type = OPTION_TEXT,
                     .unit = "",
                     .low = 1,
                     .high = 60,
                     .help = "Name of the chip, as `cat /sys/class/hwmon/hwmon*/name` prints it: "
                             "\"w1_slave_temp\", \"sht3x\". Never the number: numbers change."},
    [SENSOR_DEVICE] =
        {.name = "device",
         .type = OPTION_TEXT,
         .unit = "",
         .low = 0,
         .high = 200,
         .fallback = "",
         .help = "Whole names from the path of the device, needed where several chips have "
                 "the same name: \"28-000005e2fdc3\" or \"i2c-1/1-0044\"."},
    [SENSOR_CHANNEL] =
        {.name = "channel",
         .type = OPTION_TEXT,
         .unit = "",
         .low = 5,
         .high = 16,
         .help = "\"temp1\", \"humidity1\" or \"power1\": the kind and the number of the input."},
    [SENSOR_SCALE] = {.name = "scale",
                      .type = OPTION_REAL,
                      .unit = "",
                      .low = 0.001,
                      .high = 1000,
                      .fallback = "1",
                      .help =
                          "Factor on the value, e.g. for a shunt that the kernel does not know."},
    [SENSOR_OFFSET] =
        {.name = "offset",
         .type = OPTION_REAL,
         .unit = "",
         .low = -1000,
         .high = 1000,
         .fallback = "0",
         .help = "Added after the factor, in the sensor's unit: the correction of a probe "
                 "that was compared with a better one."},
    {.name = NULL},
};

/* --- finding ------------------------------------------------------------------------------- */

static int find_sensor(const struct bus *bus, struct sensor *sensor, struct err *err)
{
    if (sensor->fd >= 0) {
        return 0;
    }
    const struct sysfs_query query = {.folder = bus->class_folder,
                                      .prefix = "hwmon",
                                      .name = sensor->name,
                                      .device = sensor->device};
    char path[SYSFS_PATH_MAX];
    int rc = sysfs_find(&query, path, err);
    if (rc < 0) {
        return rc;
    }
    int fd = sysfs_open(path, sensor->attribute, O_RDONLY, err);
    if (fd < 0) {
        return fd;
    }
    sensor->fd = fd;
    sensor->fault_fd = sysfs_open(path, sensor->fault, O_RDONLY, NULL);
    return 0;
}

static void lose_sensor(struct sensor *sensor)
{
    if (sensor->fd >= 0) {
        (void)close(sensor->fd);
    }
    if (sensor->fault_fd >= 0) {
        (void)close(sensor->fault_fd);
    }
    sensor->fd = sensor->fault_fd = -1;
}

/* --- reading ------------------------------------------------------------------------------- */

/* An open or shorted probe, where the chip can tell: its value means nothing. */
static int ask_fault(const struct sensor *sensor, struct err *err)
{
    int64_t fault = 0;
    if (sensor->fault_fd < 0) {
        return 0;
    }
    int rc = sysfs_read_int(sensor->fault_fd, 0, 1, &fault, err);
    return rc == 0 && fault ? err_fail(err, EIO, "%s is set", sensor->fault) : rc;
}

static int ask_value(const struct sensor *sensor, int64_t *ret, struct err *err)
{
    const struct chip *chip = sensor->chip;
    int rc = sysfs_read_int(sensor->fd, any_chip.low, any_chip.high, ret, err);
    if (rc == 0 && chip->has_dead_zero && *ret == 0) {
        return err_fail(err, EIO, "%s says 0, as a data line shorted to ground does",
                        sensor->attribute);
    }
    if (rc == 0 && (*ret < chip->low || *ret > chip->high)) {
        return err_fail(err, EIO, "%s says %" PRId64 ", which no such probe measures",
                        sensor->attribute, *ret);
    }
    return rc;
}

static void ask_sensor(const struct bus *bus, struct sensor *sensor, struct err *err)
{
    int64_t raw = INT64_MIN;
    int rc = find_sensor(bus, sensor, err);
    if (rc == 0) {
        rc = ask_fault(sensor, err);
    }
    if (rc == 0) {
        rc = ask_value(sensor, &raw, err);
    }
    if (rc == -ENODEV || rc == -ENXIO || rc == -ENOENT) {
        lose_sensor(sensor); /* looked for again at the next read */
        rc = -ENODEV;
    }
    double value = (double)raw * sensor->unit * sensor->scale + sensor->offset;
    sensor->last = (struct sample){
        .value = rc == 0 ? value : (double)NAN,
        .taken_ns = clock_boot_ns(),
        .error = rc,
    };
    if (raw != INT64_MIN) {
        (void)snprintf(sensor->last.raw, sizeof sensor->last.raw, "%" PRId64, raw);
    }
}

/* --- the driver ---------------------------------------------------------------------------- */

static int hwmon_create(const struct option_value *options, struct bus **ret, struct err *err)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for the hwmon sensors");
    }
    bus->class_folder = options[BUS_FOLDER].text;
    *ret = bus;
    return 0;
}

static const struct {
    const char *word; /* what the channel begins with; NULL: hwmon has no such sensors */
    double unit;
} forms[] = {
    [SENSOR_PPFD] = {NULL, 0},
    [SENSOR_TEMPERATURE] = {"temp", 1e-3},
    [SENSOR_HUMIDITY] = {"humidity", 1e-3},
    [SENSOR_POWER] = {"power", 1e-6},
};

static bool is_word_and_number(const char *channel, const char *word)
{
    size_t length = strlen(word);
    const char *digits = channel + length;
    return strncmp(channel, word, length) == 0 && digits[0] >= '1' && digits[0] <= '9' &&
           strspn(digits, "0123456789") == strlen(digits);
}

static int hwmon_add_sensor(struct bus *bus, enum sensor_kind kind,
                            const struct option_value *options, struct err *err)
{
    const char *channel = options[SENSOR_CHANNEL].text;
    const char *word = forms[kind].word;
    if (!word) {
        return err_fail(err, ENOTSUP, "hwmon has no sensors for light");
    }
    if (!is_word_and_number(channel, word)) {
        return err_fail(err, EINVAL,
                        "channel \"%s\" is not \"%s\" and a number, as this kind needs", channel,
                        word);
    }
    if (bus->sensor_count == SENSORS_MAX) {
        return err_fail(err, ENOSPC, "more than %d hwmon sensors on one bus", SENSORS_MAX);
    }
    struct sensor *sensor = &bus->sensors[bus->sensor_count++];
    *sensor = (struct sensor){
        .name = options[SENSOR_CHIP].text,
        .chip = chip_of(options[SENSOR_CHIP].text),
        .device = options[SENSOR_DEVICE].text,
        .unit = forms[kind].unit,
        .scale = options[SENSOR_SCALE].real,
        .offset = options[SENSOR_OFFSET].real,
        .fd = -1,
        .fault_fd = -1,
        .last = {.value = (double)NAN, .error = -EAGAIN},
    };
    (void)snprintf(sensor->attribute, sizeof sensor->attribute, "%s_input", channel);
    (void)snprintf(sensor->fault, sizeof sensor->fault, "%s_fault", channel);
    return 0;
}

static int hwmon_add_output(struct bus *bus, enum output_kind kind,
                            const struct option_value *options, struct err *err)
{
    (void)bus;
    (void)kind;
    (void)options;
    return err_fail(err, ENOTSUP, "hwmon has no outputs");
}

static void hwmon_disconnect(struct bus *bus)
{
    for (int i = 0; i < bus->sensor_count; i++) {
        lose_sensor(&bus->sensors[i]);
        bus->sensors[i].last = (struct sample){.value = (double)NAN, .error = -EAGAIN};
    }
    bus->is_connected = false;
}

/* A sensor that is missing does not stop the others: its samples carry the error. */
static int hwmon_connect(struct bus *bus, struct err *err)
{
    int first = 0;
    int found = 0;
    for (int i = 0; i < bus->sensor_count; i++) {
        struct err one = {""};
        int rc = find_sensor(bus, &bus->sensors[i], &one);
        found += rc == 0;
        if (rc < 0 && first == 0) {
            first = rc;
            (void)err_fail(err, -rc, "%s %s: %s", bus->sensors[i].name, bus->sensors[i].attribute,
                           one.text);
        }
    }
    bus->is_connected = first == 0 || found > 0;
    return bus->is_connected ? 0 : first;
}

static int hwmon_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    int rc = bus->is_connected ? 0 : err_fail(err, ENOTCONN, "not connected");
    int64_t until_ns = clock_real_ns() + READ_PATIENCE_NS;
    int gone = 0;
    for (int n = 0; rc == 0 && n < bus->sensor_count && clock_real_ns() < until_ns; n++) {
        struct sensor *sensor = &bus->sensors[bus->next];
        ask_sensor(bus, sensor, err);
        bus->next = (bus->next + 1) % bus->sensor_count;
        gone += sensor->last.error == -ENODEV;
    }
    if (rc == 0 && gone > 0 && gone == bus->sensor_count) {
        rc = -ENODEV; /* the sentence is the last sensor's */
    }
    for (int i = 0; i < bus->sensor_count; i++) {
        ret_samples[i] = bus->sensors[i].last;
        if (rc < 0) {
            ret_samples[i] = (struct sample){.value = (double)NAN, .error = rc};
        }
    }
    return rc;
}

/* NOLINTNEXTLINE(readability-non-const-parameter): the table's type */
static int hwmon_write(struct bus *bus, int output, double value, double *ret_seen, struct err *err)
{
    (void)bus;
    (void)output;
    (void)value;
    (void)ret_seen;
    return err_fail(err, ENOTSUP, "hwmon has no outputs");
}

static int hwmon_make_safe(struct bus *bus, struct err *err)
{
    (void)bus;
    (void)err;
    return 0; /* nothing here can move */
}

static double hwmon_power_on_c(const struct option_value *options)
{
    const struct chip *chip = chip_of(options[SENSOR_CHIP].text);
    return chip->power_on_c * options[SENSOR_SCALE].real + options[SENSOR_OFFSET].real;
}

static void hwmon_destroy(struct bus *bus)
{
    if (bus) {
        hwmon_disconnect(bus);
    }
    free(bus);
}

const struct driver driver_hwmon = {
    .name = "hwmon",
    .help = "Temperature, humidity and power from the kernel's own sensor drivers.",
    .bus_options = bus_options,
    .sensor_options = sensor_options,
    .create = hwmon_create,
    .add_sensor = hwmon_add_sensor,
    .add_output = hwmon_add_output,
    .connect = hwmon_connect,
    .read = hwmon_read,
    .write = hwmon_write,
    .make_safe = hwmon_make_safe,
    .disconnect = hwmon_disconnect,
    .destroy = hwmon_destroy,
    .power_on_c = hwmon_power_on_c,
};
