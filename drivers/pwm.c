/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Dimming by the channels of one PWM chip in /sys/class/pwm.
 *
 * The chip is found by the path of its device, since chip numbers change with board and kernel.
 * sysfs has no owner: a channel keeps its last duty when the program ends, so the stop step must
 * write the safe drive. Safe is that drive with the channel enabled, read back.
 *
 * After an export udev gives the files to our group a moment later: a connect waits for that a
 * little, says -EAGAIN, and goes on at the next call, EXPORT_PATIENCE in all.
 */
#include "driver.h"
#include "pwm_channel.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHANNELS_MAX = 64, FREQUENCY_LOW_HZ = 10, FREQUENCY_HIGH_HZ = 100000 };

#define EXPORT_PATIENCE_NS (5 * CLOCK_NS_PER_S)
/* For udev; leaves time to drive inside the 2 s of a call. */
#define CALL_PATIENCE_NS (1500 * CLOCK_NS_PER_MS)
#define LOOK_EVERY_NS    (20 * CLOCK_NS_PER_MS)

struct bus {
    const char *device, *class_folder;
    int64_t expected_channels; /* 0: not checked */
    bool is_found;
    char chip_path[SYSFS_PATH_MAX];
    int64_t export_until_ns; /* 0: no export is awaited */
    int channel_count;
    struct pwm_channel channels[CHANNELS_MAX];
};

extern const struct driver driver_pwm;

enum { BUS_DEVICE, BUS_CHANNELS, BUS_FOLDER };

static const struct option bus_options[] = {
    [BUS_DEVICE] = {.name = "device",
                    .type = OPTION_TEXT,
                    .unit = "",
                    .low = 1,
                    .high = 200,
                    .help = "Whole names from the path of the chip's device, as `readlink -f "
                            "/sys/class/pwm/pwmchip0/device` prints it: \"1f00098000.pwm\" or "
                            "\"i2c-1/1-0040\". Exactly one chip must fit; chip numbers change."},
    [BUS_CHANNELS] =
        {.name = "channels",
         .type = OPTION_INT,
         .unit = "",
         .low = 0,
         .high = 1024,
         .fallback = "0",
         .help = "How many channels the chip must have (its npwm), as a check that it is the "
                 "right one; 0: not checked."},
    [BUS_FOLDER] = {.name = "sysfs",
                    .type = OPTION_TEXT,
                    .unit = "",
                    .low = 1,
                    .high = 200,
                    .fallback = "/sys/class/pwm",
                    .help = "Where the kernel shows its PWM chips."},
    {.name = NULL},
};

enum { DIM_CHANNEL, DIM_FREQUENCY, DIM_INVERTED, DIM_SAFE };

static const struct option dim_options[] = {
    [DIM_CHANNEL] = {.name = "channel",
                     .type = OPTION_INT,
                     .unit = "",
                     .low = 0,
                     .high = 1023,
                     .help = "Channel of the chip, from 0."},
    [DIM_FREQUENCY] =
        {.name = "frequency_hz",
         .type = OPTION_REAL,
         .unit = "Hz",
         .low = FREQUENCY_LOW_HZ,
         .high = FREQUENCY_HIGH_HZ,
         .fallback = "1000",
         .help = "PWM frequency; dimming inputs usually take 100 Hz to 3 kHz, see the led "
                 "driver's data sheet. Some chips have one frequency for all channels. A chip "
                 "may round it by up to a fifth; what it makes of it beyond that is an error."},
    [DIM_INVERTED] =
        {.name = "inverted",
         .type = OPTION_BOOL,
         .unit = "",
         .fallback = "false",
         .help = "true: a low pin is full drive, as with a transistor that pulls the dimming "
                 "line down; the kernel's polarity does it where the chip has one, the complement "
                 "of the duty otherwise. Find out with the fixture's switch open."},
    [DIM_SAFE] =
        {.name = "safe",
         .type = OPTION_REAL,
         .unit = "",
         .low = 0,
         .high = 1,
         .fallback = "0",
         .help = "Drive at start and stop. An open or unpowered 0-10 V line is full light: the "
                 "safe state of a fixture is its open switch, this drive is only the second "
                 "line. Isolate the pin from the dimming line; 3.3 V cannot drive it."},
    {.name = NULL},
};

/* --- finding ------------------------------------------------------------------------------- */

static int find_chip(struct bus *bus, struct err *err)
{
    const struct sysfs_query query = {
        .folder = bus->class_folder, .prefix = "pwmchip", .name = "", .device = bus->device};
    int rc = sysfs_find(&query, bus->chip_path, err);
    int64_t channels = 0;
    if (rc == 0) {
        rc = sysfs_get_int(bus->chip_path, "npwm", 0, INT32_MAX, &channels, err);
    }
    if (rc < 0) {
        return rc;
    }
    if (bus->expected_channels > 0 && channels != bus->expected_channels) {
        return err_fail(err, ENOENT, "the chip of \"%s\" has %" PRId64 " channels, not %" PRId64,
                        bus->device, channels, bus->expected_channels);
    }
    for (int i = 0; i < bus->channel_count; i++) {
        if (bus->channels[i].number >= channels) {
            return err_fail(err, ENOENT, "channel %d is out of range (0 … %" PRId64 ")",
                            bus->channels[i].number, channels - 1);
        }
    }
    bus->is_found = true;
    return 0;
}

/* --- exporting ----------------------------------------------------------------------------- */

/* Opens a channel, waiting for udev until `call_until_ns`, and within the limit of all calls. */
static int await_channel(struct bus *bus, struct pwm_channel *channel, int64_t call_until_ns,
                         struct err *err)
{
    int rc = pwm_channel_open(channel, bus->chip_path, err);
    if (rc == -EAGAIN && bus->export_until_ns == 0) {
        bus->export_until_ns = clock_real_ns() + EXPORT_PATIENCE_NS;
    }
    while (rc == -EAGAIN) {
        int64_t now_ns = clock_real_ns();
        if (now_ns >= bus->export_until_ns) {
            err_prefix(err, "%s",
                       channel->is_taken ? "in use by a driver of the kernel, a fan or a backlight?"
                                         : "still closed to us after the export; is the udev rule "
                                           "installed?");
            return -EACCES;
        }
        if (now_ns >= call_until_ns) {
            return -EAGAIN;
        }
        (void)clock_sleep_until_real(now_ns + LOOK_EVERY_NS, NULL);
        rc = pwm_channel_open(channel, bus->chip_path, err);
    }
    return rc;
}

/* --- the driver ---------------------------------------------------------------------------- */

static int pwm_create(const struct option_value *options, struct bus **ret, struct err *err)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for a PWM chip");
    }
    bus->device = options[BUS_DEVICE].text;
    bus->expected_channels = options[BUS_CHANNELS].integer;
    bus->class_folder = options[BUS_FOLDER].text;
    *ret = bus;
    return 0;
}

static int pwm_add_sensor(struct bus *bus, enum sensor_kind kind,
                          const struct option_value *options, struct err *err)
{
    (void)bus;
    (void)kind;
    (void)options;
    return err_fail(err, ENOTSUP, "a PWM chip has no sensors");
}

static int pwm_add_output(struct bus *bus, enum output_kind kind,
                          const struct option_value *options, struct err *err)
{
    if (kind != OUTPUT_DIM) {
        return err_fail(err, ENOTSUP, "a PWM channel can dim, not switch");
    }
    int number = (int)options[DIM_CHANNEL].integer;
    for (int i = 0; i < bus->channel_count; i++) {
        if (bus->channels[i].number == number) {
            return err_fail(err, ENOTUNIQ, "channel %d is used by two outputs", number);
        }
    }
    if (bus->channel_count == CHANNELS_MAX) {
        return err_fail(err, ENOSPC, "more than %d outputs on one PWM chip", CHANNELS_MAX);
    }
    bus->channels[bus->channel_count++] = (struct pwm_channel){
        .number = number,
        .period_ns = llround(1e9 / options[DIM_FREQUENCY].real),
        .is_inverted = options[DIM_INVERTED].flag,
        .safe_drive = options[DIM_SAFE].real,
    };
    return 0;
}

static void pwm_disconnect(struct bus *bus)
{
    for (int i = 0; i < bus->channel_count; i++) {
        pwm_channel_close(&bus->channels[i]);
    }
    bus->is_found = false;
}

/* The outcome for all channels: the first error, but one that waiting cannot mend before -EAGAIN.
 */
struct outcome {
    int safe, late, busy;
    int first;
};

static void note(struct outcome *outcome, const struct pwm_channel *channel, int rc,
                 const struct err *one, struct err *err)
{
    outcome->safe += rc == 0;
    outcome->late += rc == -EAGAIN || rc == -EACCES;
    outcome->busy += rc == -EBUSY;
    if (rc < 0 && (outcome->first == 0 || (outcome->first == -EAGAIN && rc != -EAGAIN))) {
        outcome->first = rc;
        (void)err_fail(err, -rc, "channel %d: %s", channel->number, one->text);
    }
}

/* Each channel is driven before the next is exported: some chips export a channel as enabled, and
 * with one period for all they refuse another one from the second enabled channel on. */
static struct outcome each_safe(struct bus *bus, int64_t call_until_ns, struct err *err)
{
    struct outcome outcome = {0};
    for (int i = 0; i < bus->channel_count; i++) {
        struct pwm_channel *channel = &bus->channels[i];
        struct err one = {""};
        double seen;
        int rc = await_channel(bus, channel, call_until_ns, &one);
        if (rc == 0) {
            rc = pwm_channel_drive(channel, channel->safe_drive, &seen, &one);
        }
        note(&outcome, channel, rc, &one, err);
    }
    bus->export_until_ns = outcome.late > 0 ? bus->export_until_ns : 0;
    return outcome;
}

/* Brings every channel that can be had to its safe drive. Returns the first error. */
static int try_all_safe(struct bus *bus, int64_t call_until_ns, int *ret_safe, struct err *err)
{
    *ret_safe = 0;
    int rc = bus->is_found ? 0 : find_chip(bus, err);
    if (rc < 0) {
        return rc;
    }
    struct outcome outcome = each_safe(bus, call_until_ns, err);
    if (outcome.busy > 0) {
        /* Channels of an earlier frequency are at their safe drive. The kernel's driver of the one
         * chip known to refuse so (pwm-pca9685.c) holds a disabled pin low: dark, but full for an
         * inverted channel, which stays as it is. */
        for (int i = 0; i < bus->channel_count; i++) {
            if (bus->channels[i].is_open && !bus->channels[i].is_inverted) {
                (void)pwm_channel_rest(&bus->channels[i]);
            }
        }
        outcome = each_safe(bus, call_until_ns, err);
    }
    *ret_safe = outcome.safe;
    return outcome.first;
}

/* A chip that was gone and is back may have another number: what was opened is worth nothing. */
static int all_safe(struct bus *bus, int *ret_safe, struct err *err)
{
    bool is_old = bus->is_found;
    int64_t call_until_ns = clock_real_ns() + CALL_PATIENCE_NS;
    int rc = try_all_safe(bus, call_until_ns, ret_safe, err);
    if (is_old && rc == -ENODEV) {
        pwm_disconnect(bus);
        rc = try_all_safe(bus, call_until_ns, ret_safe, err);
    }
    return rc;
}

static int pwm_make_safe(struct bus *bus, struct err *err)
{
    int safe;
    return all_safe(bus, &safe, err);
}

/* One channel that cannot be had does not stop the others: its writes give the error. */
static int pwm_connect(struct bus *bus, struct err *err)
{
    int safe;
    int rc = all_safe(bus, &safe, err);
    if (rc == -EAGAIN || (rc < 0 && safe == 0)) {
        if (rc != -EAGAIN) {
            pwm_disconnect(bus);
        }
        return rc;
    }
    return 0;
}

static int pwm_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    (void)ret_samples;
    return bus->is_found ? 0 : err_fail(err, ENOTCONN, "not connected");
}

static int pwm_write(struct bus *bus, int output, double value, double *ret_seen, struct err *err)
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
    struct pwm_channel *channel = &bus->channels[output];
    double seen = (double)NAN;
    int rc = pwm_channel_open(channel, bus->chip_path, err);
    if (rc == 0) {
        rc = pwm_channel_drive(channel, value, &seen, err);
    }
    if (rc < 0 && channel->is_open) {
        /* Half a change is nobody's wish; whether this works too shows in the next write. */
        (void)pwm_channel_drive(channel, channel->safe_drive, &seen, NULL);
    }
    if (rc == 0) {
        *ret_seen = seen;
    }
    if (rc < 0) {
        err_prefix(err, "channel %d", channel->number);
    }
    return rc;
}

static void pwm_destroy(struct bus *bus)
{
    if (bus) {
        pwm_disconnect(bus);
    }
    free(bus);
}

const struct driver driver_pwm = {
    .name = "pwm",
    .help = "Dimming by the channels of a PWM chip of this computer (sysfs).",
    .bus_options = bus_options,
    .dim_options = dim_options,
    .create = pwm_create,
    .add_sensor = pwm_add_sensor,
    .add_output = pwm_add_output,
    .connect = pwm_connect,
    .read = pwm_read,
    .write = pwm_write,
    .make_safe = pwm_make_safe,
    .disconnect = pwm_disconnect,
    .destroy = pwm_destroy,
};
