/* SPDX-License-Identifier: Apache-2.0 */
/*
 * 0-10 V through the voltage outputs of a digital-analogue converter that the kernel's IIO shows in
 * /sys/bus/iio/devices.
 *
 * The device is found by its name and the path of its parent, since IIO numbers change with the
 * order of probing. sysfs has no owner: an output keeps its last value when the program ends, so
 * the stop step must write the safe drive. A chip that does not answer fails the write, which is
 * tried again; when the kernel takes the device away, the worker connects again.
 */
#include "dac_channel.h"
#include "driver.h"
#include "sysfs.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHANNELS_MAX = 64 };

/* For udev; leaves time to drive inside the 2 s of a call. */
#define CALL_PATIENCE_NS (1500 * CLOCK_NS_PER_MS)
#define LOOK_EVERY_NS    (20 * CLOCK_NS_PER_MS)

struct bus {
    const char *name, *device, *folder;
    bool is_found;
    char path[SYSFS_PATH_MAX];
    int channel_count;
    struct dac_channel channels[CHANNELS_MAX];
};

extern const struct driver driver_dac;

enum { BUS_CHIP, BUS_DEVICE, BUS_FOLDER };

static const struct option bus_options[] = {
    [BUS_CHIP] = {.name = "chip",
                  .type = OPTION_TEXT,
                  .unit = "",
                  .low = 0,
                  .high = 60,
                  .fallback = "",
                  .help = "Name of the converter, as `cat /sys/bus/iio/devices/iio:device*/name` "
                          "prints it: \"mcp4725\". Some have none: give device. Never the number: "
                          "numbers change."},
    [BUS_DEVICE] =
        {.name = "device",
         .type = OPTION_TEXT,
         .unit = "",
         .low = 0,
         .high = 200,
         .fallback = "",
         .help = "Whole names from the path of the device, as `readlink -f "
                 "/sys/bus/iio/devices/iio:device0` prints it: \"i2c-1/1-0060\". Needed where "
                 "several converters have the same name. Exactly one must fit."},
    [BUS_FOLDER] = {.name = "sysfs",
                    .type = OPTION_TEXT,
                    .unit = "",
                    .low = 1,
                    .high = 200,
                    .fallback = "/sys/bus/iio/devices",
                    .help = "Where the kernel shows its converters."},
    {.name = NULL},
};

enum { DIM_CHANNEL, DIM_BITS, DIM_FULL_SCALE, DIM_GAIN, DIM_LOW, DIM_HIGH, DIM_SAFE };

static const struct option dim_options[] = {
    [DIM_CHANNEL] = {.name = "channel",
                     .type = OPTION_INT,
                     .unit = "",
                     .low = 0,
                     .high = 63,
                     .fallback = "0",
                     .help = "Output of the converter: the Y of out_voltageY_raw."},
    [DIM_BITS] = {.name = "bits",
                  .type = OPTION_INT,
                  .unit = "",
                  .low = 4,
                  .high = 24,
                  .fallback = "12",
                  .help = "Resolution of the converter, from its data sheet: its highest value is "
                          "2^bits - 1."},
    [DIM_FULL_SCALE] =
        {.name = "full_scale_v",
         .type = OPTION_REAL,
         .unit = "V",
         .low = 0,
         .high = 30,
         .fallback = "0",
         .help = "Volts at the terminal, behind the amplifier, with the highest value: measure "
                 "them with the LED driver unplugged. 0: by the kernel's scale and gain."},
    [DIM_GAIN] = {.name = "gain",
                  .type = OPTION_REAL,
                  .unit = "",
                  .low = 0.1,
                  .high = 20,
                  .fallback = "1",
                  .help = "Of the amplifier behind the converter, with the kernel's scale: 2.0 "
                          "makes 10 V of 5 V. Not used with full_scale_v."},
    [DIM_LOW] =
        {.name = "volts_low",
         .type = OPTION_REAL,
         .unit = "V",
         .low = 0,
         .high = 30,
         .fallback = "0",
         .help = "Volts at drive 0. Most LED drivers source this line themselves: 0 V (a short) is "
                 "their minimum or off, and an OPEN line is FULL light. A cut wire, an unpowered "
                 "converter or a stage that cannot sink their current (usually below 1 mA each, "
                 "2 mA at most by the standard) therefore gives full light: the fixture's open "
                 "switch is its safe state. Above volts_high: an inverting stage."},
    [DIM_HIGH] = {.name = "volts_high",
                  .type = OPTION_REAL,
                  .unit = "V",
                  .low = 0,
                  .high = 30,
                  .fallback = "10",
                  .help = "Volts at drive 1. Nothing outside volts_low and volts_high is ever put "
                          "on the terminal."},
    [DIM_SAFE] =
        {.name = "safe",
         .type = OPTION_REAL,
         .unit = "",
         .low = 0,
         .high = 1,
         .fallback = "0",
         .help = "Drive at start and stop. Until the program starts the converter gives its "
                 "power-on value, often not 0: store 0 in its memory where it has one (for some, "
                 "`echo 1 > …/store_eeprom` while it stands at 0)."},
    {.name = NULL},
};

/* --- finding ------------------------------------------------------------------------------- */

static int find_device(struct bus *bus, struct err *err)
{
    if (bus->is_found) {
        return 0;
    }
    const struct sysfs_query query = {
        .folder = bus->folder, .prefix = "iio:device", .name = bus->name, .device = bus->device};
    int rc = sysfs_find(&query, bus->path, err);
    bus->is_found = rc == 0;
    return rc;
}

/* One try for every channel. Returns the first error, but one that waiting cannot mend before
 * -EAGAIN. */
static int open_channels(struct bus *bus, struct err *err)
{
    int first = 0;
    for (int i = 0; i < bus->channel_count; i++) {
        struct err one = {""};
        int rc = dac_channel_open(&bus->channels[i], bus->path, &one);
        if (rc < 0 && (first == 0 || (first == -EAGAIN && rc != -EAGAIN))) {
            first = rc;
            (void)err_fail(err, -rc, "channel %d: %s", bus->channels[i].number, one.text);
        }
    }
    return first;
}

/* udev gives the attributes to our group a moment after the device appeared. */
static int await_channels(struct bus *bus, struct err *err)
{
    int64_t until_ns = clock_real_ns() + CALL_PATIENCE_NS;
    int rc = open_channels(bus, err);
    while (rc == -EAGAIN && clock_real_ns() < until_ns) {
        (void)clock_sleep_until_real(clock_real_ns() + LOOK_EVERY_NS, NULL);
        rc = open_channels(bus, err);
    }
    if (rc == -EAGAIN) {
        err_prefix(err, "not ours to write; is the udev rule installed?");
        return -EACCES;
    }
    return rc;
}

/* --- the driver ---------------------------------------------------------------------------- */

static int dac_create(const struct option_value *options, struct bus **ret, struct err *err)
{
    if (!options[BUS_CHIP].text[0] && !options[BUS_DEVICE].text[0]) {
        return err_fail(err, EINVAL, "chip or device must be given");
    }
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for a converter");
    }
    bus->name = options[BUS_CHIP].text;
    bus->device = options[BUS_DEVICE].text;
    bus->folder = options[BUS_FOLDER].text;
    *ret = bus;
    return 0;
}

static int dac_add_sensor(struct bus *bus, enum sensor_kind kind,
                          const struct option_value *options, struct err *err)
{
    (void)bus;
    (void)kind;
    (void)options;
    return err_fail(err, ENOTSUP, "a digital-analogue converter has no sensors");
}

/* What the options say of the volts, as far as it can be known without the hardware. */
static int check_volts(const struct dac_channel *channel, struct err *err)
{
    double high_v = fmax(channel->volts_low, channel->volts_high);
    if (!(fabs(channel->volts_high - channel->volts_low) >= 0.1)) {
        return err_fail(err, EINVAL,
                        "volts_low %g and volts_high %g are no range: at least 0.1 V apart",
                        channel->volts_low, channel->volts_high);
    }
    if (channel->full_scale_v > 0 && high_v > channel->full_scale_v) {
        return err_fail(err, EINVAL, "%g V at the terminal is above full_scale_v (0 … %g V)",
                        high_v, channel->full_scale_v);
    }
    return 0;
}

static int dac_add_output(struct bus *bus, enum output_kind kind,
                          const struct option_value *options, struct err *err)
{
    if (kind != OUTPUT_DIM) {
        return err_fail(err, ENOTSUP, "a converter can dim, not switch");
    }
    struct dac_channel channel = {
        .number = (int)options[DIM_CHANNEL].integer,
        .bits = (int)options[DIM_BITS].integer,
        .full_scale_v = options[DIM_FULL_SCALE].real,
        .gain = options[DIM_GAIN].real,
        .volts_low = options[DIM_LOW].real,
        .volts_high = options[DIM_HIGH].real,
        .safe_drive = options[DIM_SAFE].real,
    };
    for (int i = 0; i < bus->channel_count; i++) {
        if (bus->channels[i].number == channel.number) {
            return err_fail(err, ENOTUNIQ, "channel %d is used by two outputs", channel.number);
        }
    }
    int rc = check_volts(&channel, err);
    if (rc < 0) {
        return rc;
    }
    if (bus->channel_count == CHANNELS_MAX) {
        return err_fail(err, ENOSPC, "more than %d outputs on one converter", CHANNELS_MAX);
    }
    bus->channels[bus->channel_count++] = channel;
    return 0;
}

static void dac_disconnect(struct bus *bus)
{
    for (int i = 0; i < bus->channel_count; i++) {
        dac_channel_close(&bus->channels[i]);
    }
    bus->is_found = false;
}

/* Brings every channel that can be had to its safe drive. Returns the first error. */
static int all_safe(struct bus *bus, int *ret_safe, struct err *err)
{
    *ret_safe = 0;
    int first = find_device(bus, err);
    if (first == 0) {
        first = await_channels(bus, err);
    }
    for (int i = 0; i < bus->channel_count; i++) {
        struct dac_channel *channel = &bus->channels[i];
        if (!channel->is_open) {
            continue;
        }
        struct err one = {""};
        double seen;
        int rc = dac_channel_drive(channel, channel->safe_drive, &seen, &one);
        *ret_safe += rc == 0;
        if (rc < 0 && first == 0) {
            first = rc;
            (void)err_fail(err, -rc, "channel %d: %s", channel->number, one.text);
        }
    }
    return first;
}

static int dac_make_safe(struct bus *bus, struct err *err)
{
    int safe;
    bool was_found = bus->is_found;
    int rc = all_safe(bus, &safe, err);
    if (rc == -ENODEV && was_found) {
        dac_disconnect(bus); /* descriptors of a device that went stay dead: it may be back */
        rc = all_safe(bus, &safe, err);
    }
    return rc;
}

/* One channel that cannot be had does not stop the others: its writes give the error. */
static int dac_connect(struct bus *bus, struct err *err)
{
    int safe;
    int rc = all_safe(bus, &safe, err);
    if (rc < 0 && safe == 0) {
        dac_disconnect(bus);
        return rc;
    }
    return 0;
}

static int dac_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    (void)ret_samples;
    return bus->is_found ? 0 : err_fail(err, ENOTCONN, "not connected");
}

static int dac_write(struct bus *bus, int output, double value, double *ret_seen, struct err *err)
{
    if (output < 0 || output >= bus->channel_count) {
        return err_fail(err, EINVAL, "there is no output %d", output);
    }
    if (!(value >= 0 && value <= 1)) {
        return err_fail(err, EINVAL, "%g is no drive (0 … 1)", value);
    }
    if (!bus->is_found) {
        return err_fail(err, ENOTCONN, "not connected");
    }
    struct dac_channel *channel = &bus->channels[output];
    double seen = (double)NAN;
    int rc = dac_channel_open(channel, bus->path, err);
    rc = rc < 0 ? rc : dac_channel_drive(channel, value, &seen, err);
    if (rc < 0) {
        err_prefix(err, "channel %d", channel->number);
        return rc;
    }
    *ret_seen = seen;
    return 0;
}

static void dac_destroy(struct bus *bus)
{
    if (bus) {
        dac_disconnect(bus);
    }
    free(bus);
}

const struct driver driver_dac = {
    .name = "dac",
    .help = "Dimming with 0-10 V through a digital-analogue converter of this computer (IIO).",
    .bus_options = bus_options,
    .dim_options = dim_options,
    .create = dac_create,
    .add_sensor = dac_add_sensor,
    .add_output = dac_add_output,
    .connect = dac_connect,
    .read = dac_read,
    .write = dac_write,
    .make_safe = dac_make_safe,
    .disconnect = dac_disconnect,
    .destroy = dac_destroy,
};
