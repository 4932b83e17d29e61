/* SPDX-License-Identifier: Apache-2.0 */
#include "dac_channel.h"

#include "err.h"
#include "parse.h"
#include "sysfs.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <unistd.h>

enum { NAME_BYTES = 40 };

/* A full scale may fall short by the rounding of the kernel's scale. */
static const double slack_v = 0.01;

static bool is_late(int rc)
{
    return rc == -EACCES || rc == -EPERM;
}

/* "out_voltage3_scale", or the one that all channels share. */
static int get_real(const struct dac_channel *channel, const char *folder, const char *what,
                    double *ret, struct err *err)
{
    char name[NAME_BYTES];
    char text[64];
    (void)snprintf(name, sizeof name, "out_voltage%d_%s", channel->number, what);
    int rc = sysfs_get_text(folder, name, text, sizeof text, err);
    if (rc == -ENOENT) {
        (void)snprintf(name, sizeof name, "out_voltage_%s", what);
        rc = sysfs_get_text(folder, name, text, sizeof text, err);
    }
    if (rc < 0) {
        return rc;
    }
    rc = parse_real(text, -1e9, 1e9, ret, err);
    if (rc < 0) {
        err_prefix(err, "%s/%s", folder, name);
        return -EIO;
    }
    return 0;
}

static int64_t raw_full(const struct dac_channel *channel)
{
    return (INT64_C(1) << channel->bits) - 1;
}

static int learn_scale(struct dac_channel *channel, const char *folder, struct err *err)
{
    if (channel->full_scale_v > 0) {
        channel->volts_at_zero = 0;
        channel->volts_per_raw = channel->full_scale_v / (double)raw_full(channel);
        return 0;
    }
    double scale_mv = 0;
    double offset = 0;
    int rc = get_real(channel, folder, "scale", &scale_mv, err);
    if (rc == -ENOENT || rc == -EINVAL) { /* not shown, or shown and not known */
        return err_fail(err, ENOTSUP,
                        "the kernel does not know this chip's scale: give full_scale_v, the volts "
                        "measured at the terminal with the highest value");
    }
    if (rc == 0) {
        rc = get_real(channel, folder, "offset", &offset, err);
        rc = rc == -ENOENT ? 0 : rc;
    }
    if (rc < 0) {
        return rc;
    }
    channel->volts_per_raw = scale_mv / 1000 * channel->gain;
    channel->volts_at_zero = offset * channel->volts_per_raw;
    if (!(channel->volts_per_raw > 0)) {
        return err_fail(err, EIO, "the kernel says a scale of %g mV, which is no scale", scale_mv);
    }
    return 0;
}

static int check_range(const struct dac_channel *channel, struct err *err)
{
    double least_v = channel->volts_at_zero;
    double most_v = least_v + channel->volts_per_raw * (double)raw_full(channel);
    double low_v = fmin(channel->volts_low, channel->volts_high);
    double high_v = fmax(channel->volts_low, channel->volts_high);
    if (low_v < least_v - slack_v || high_v > most_v + slack_v) {
        return err_fail(err, ERANGE,
                        "%.2f … %.2f V at the terminal were asked for, the converter and its stage "
                        "give %.2f … %.2f V",
                        low_v, high_v, least_v, most_v);
    }
    return 0;
}

static int open_attributes(struct dac_channel *channel, const char *folder, struct err *err)
{
    char name[NAME_BYTES];
    (void)snprintf(name, sizeof name, "out_voltage%d_raw", channel->number);
    int fd = sysfs_open(folder, name, O_RDWR, err);
    if (fd < 0) {
        return fd;
    }
    channel->raw_fd = fd;
    (void)snprintf(name, sizeof name, "out_voltage%d_powerdown", channel->number);
    fd = sysfs_open(folder, name, O_RDWR, err);
    if (fd == -ENOENT) {
        fd = sysfs_open(folder, "out_voltage_powerdown", O_RDWR, err);
    }
    channel->powerdown_fd = fd < 0 ? -1 : fd;
    return fd == -ENOENT || fd >= 0 ? 0 : fd;
}

int dac_channel_open(struct dac_channel *channel, const char *folder, struct err *err)
{
    if (channel->is_open) {
        return 0;
    }
    channel->raw_fd = channel->powerdown_fd = -1;
    channel->is_open = true;
    int rc = open_attributes(channel, folder, err);
    if (rc == 0) {
        rc = learn_scale(channel, folder, err);
    }
    if (rc == 0) {
        rc = check_range(channel, err);
    }
    if (rc < 0) {
        dac_channel_close(channel);
        return is_late(rc) ? -EAGAIN : rc;
    }
    return 0;
}

void dac_channel_close(struct dac_channel *channel)
{
    if (!channel->is_open) {
        return;
    }
    if (channel->raw_fd >= 0) {
        (void)close(channel->raw_fd);
    }
    if (channel->powerdown_fd >= 0) {
        (void)close(channel->powerdown_fd);
    }
    channel->is_open = false;
}

int64_t dac_channel_raw(const struct dac_channel *channel, double drive)
{
    double volts = channel->volts_low + (channel->volts_high - channel->volts_low) * drive;
    double exact = (volts - channel->volts_at_zero) / channel->volts_per_raw;
    double low_v = fmin(channel->volts_low, channel->volts_high);
    double high_v = fmax(channel->volts_low, channel->volts_high);
    double least = ceil((low_v - channel->volts_at_zero) / channel->volts_per_raw - 1e-6);
    double most = floor((high_v - channel->volts_at_zero) / channel->volts_per_raw + 1e-6);
    double nearest = fmin(fmax(round(exact), least), most);
    return llround(fmin(fmax(nearest, 0), (double)raw_full(channel)));
}

double dac_channel_drive_of(const struct dac_channel *channel, int64_t raw)
{
    double volts = channel->volts_at_zero + channel->volts_per_raw * (double)raw;
    return (volts - channel->volts_low) / (channel->volts_high - channel->volts_low);
}

static int put(int fd, const char *what, int64_t value, struct err *err)
{
    int rc = sysfs_write_int(fd, value, err);
    if (rc < 0) {
        err_prefix(err, "%s", what);
    }
    return rc;
}

/* Asked at every write, since others can put a chip to sleep (a suspend): the kernel answers from
 * its own memory. */
static bool is_asleep(const struct dac_channel *channel)
{
    int64_t is_down = 0;
    return channel->powerdown_fd >= 0 &&
           sysfs_read_int(channel->powerdown_fd, 0, 1, &is_down, NULL) == 0 && is_down;
}

/* The value first and the power second: a converter that wakes must not wake with an old value.
 * Only where the chip takes no value while it sleeps the order is the other one. */
static int write_awake(const struct dac_channel *channel, int64_t raw, struct err *err)
{
    int rc = put(channel->raw_fd, "raw", raw, err);
    bool is_refused = rc == -EBUSY || rc == -EPERM;
    if ((rc < 0 && !is_refused) || !is_asleep(channel)) {
        return rc;
    }
    int woken = put(channel->powerdown_fd, "powerdown", 0, err);
    return woken == 0 && is_refused ? put(channel->raw_fd, "raw", raw, err) : woken;
}

int dac_channel_drive(struct dac_channel *channel, double drive, double *ret_seen, struct err *err)
{
    if (!channel->is_open) {
        return err_fail(err, ENOTCONN, "not connected");
    }
    int rc = write_awake(channel, dac_channel_raw(channel, drive), err);
    if (rc == -EINVAL) {
        err_prefix(err, "bits = %d may be too many", channel->bits);
    }
    if (rc < 0) {
        return rc;
    }
    int64_t seen = 0;
    rc = sysfs_read_int(channel->raw_fd, 0, raw_full(channel), &seen, err);
    if (rc == -EINVAL || rc == -EACCES || rc == -EOPNOTSUPP) {
        *ret_seen = (double)NAN; /* a chip that only listens */
        return 0;
    }
    if (rc < 0) {
        err_prefix(err, "raw");
        return rc;
    }
    *ret_seen = dac_channel_drive_of(channel, seen);
    return 0;
}
