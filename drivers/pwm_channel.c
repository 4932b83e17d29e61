/* SPDX-License-Identifier: Apache-2.0 */
#include "pwm_channel.h"

#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct pwm_state {
    int64_t period_ns, duty_ns;
    bool is_enabled, is_inversed;
};

/* --- opening ------------------------------------------------------------------------------- */

static bool is_late(int rc)
{
    return rc == -ENOENT || rc == -EACCES || rc == -EPERM;
}

static int open_attributes(struct pwm_channel *channel, const char *folder, struct err *err)
{
    channel->is_open = true;
    channel->accepted_ns = 0;
    channel->period_fd = channel->duty_fd = channel->enable_fd = channel->polarity_fd = -1;
    const struct {
        const char *name;
        int *fd;
    } attributes[] = {
        {"period", &channel->period_fd},
        {"duty_cycle", &channel->duty_fd},
        {"enable", &channel->enable_fd},
        {"polarity", &channel->polarity_fd},
    };
    for (size_t i = 0; i < sizeof attributes / sizeof attributes[0]; i++) {
        int fd = sysfs_open(folder, attributes[i].name, O_RDWR, err);
        if (fd < 0) {
            pwm_channel_close(channel);
            return fd;
        }
        *attributes[i].fd = fd;
    }
    return 0;
}

int pwm_channel_open(struct pwm_channel *channel, const char *chip_path, struct err *err)
{
    if (channel->is_open) {
        return 0;
    }
    if (access(chip_path, F_OK) != 0) {
        return err_fail(err, ENODEV, "%s is gone", chip_path);
    }
    char folder[SYSFS_PATH_MAX + 16];
    (void)snprintf(folder, sizeof folder, "%s/pwm%d", chip_path, channel->number);
    if (access(folder, F_OK) != 0) {
        int rc = sysfs_put_int(chip_path, "export", channel->number, err);
        channel->is_taken = rc == -EBUSY && access(folder, F_OK) != 0;
        if (channel->is_taken) { /* or somebody is about to export it */
            return -EAGAIN;
        }
        if (rc < 0 && rc != -EBUSY) { /* EBUSY: somebody exported it just now */
            return is_late(rc) ? -EAGAIN : rc;
        }
    }
    int rc = open_attributes(channel, folder, err);
    return is_late(rc) ? -EAGAIN : rc;
}

void pwm_channel_close(struct pwm_channel *channel)
{
    if (!channel->is_open) {
        return;
    }
    const int fds[] = {channel->period_fd, channel->duty_fd, channel->enable_fd,
                       channel->polarity_fd};
    for (size_t i = 0; i < sizeof fds / sizeof fds[0]; i++) {
        if (fds[i] >= 0) {
            (void)close(fds[i]);
        }
    }
    channel->is_open = false;
}

/* --- driving ------------------------------------------------------------------------------- */

static int read_number(int fd, const char *name, int64_t high, int64_t *ret, struct err *err)
{
    int rc = sysfs_read_int(fd, 0, high, ret, err);
    if (rc < 0) {
        err_prefix(err, "%s", name);
    }
    return rc;
}

static int read_state(const struct pwm_channel *channel, struct pwm_state *ret, struct err *err)
{
    struct pwm_state state = {0};
    int64_t enable = 0;
    char polarity[16];
    int rc = read_number(channel->period_fd, "period", INT64_MAX, &state.period_ns, err);
    if (rc == 0) {
        rc = read_number(channel->duty_fd, "duty_cycle", INT64_MAX, &state.duty_ns, err);
    }
    if (rc == 0) {
        rc = read_number(channel->enable_fd, "enable", 1, &enable, err);
    }
    if (rc < 0) {
        return rc;
    }
    rc = sysfs_read_text(channel->polarity_fd, polarity, sizeof polarity, err);
    if (rc < 0) {
        err_prefix(err, "polarity");
        return rc;
    }
    state.is_inversed = strcmp(polarity, "inversed") == 0;
    if (!state.is_inversed && strcmp(polarity, "normal") != 0) {
        return err_fail(err, EIO, "polarity: \"%s\" is neither normal nor inversed", polarity);
    }
    state.is_enabled = enable == 1;
    *ret = state;
    return 0;
}

static int put_number(int fd, const char *name, int64_t value, struct err *err)
{
    int rc = sysfs_write_int(fd, value, err);
    if (rc < 0) {
        err_prefix(err, "%s", name);
    }
    return rc;
}

static double hz_of(int64_t period_ns)
{
    return 1e9 / (double)period_ns;
}

static int fail_period(const struct pwm_channel *channel, int rc, struct err *err)
{
    if (rc == -EBUSY) {
        return err_fail(
            err, EBUSY,
            "period: the chip has one for all channels: give all the same frequency_hz; "
            "after a change restart the computer");
    }
    return err_fail(err, -rc,
                    "the chip refuses frequency_hz = %.6g (a period of %" PRId64 " ns): %s",
                    hz_of(channel->period_ns), channel->period_ns, err_name(rc));
}

/* A fifth: dimming inputs take a wide range, and the coarsest usual chip rounds by an eighth (step
 * of 163840 ns at 1.5 kHz). Common practice, no source. */
static bool is_near(int64_t got_ns, int64_t wanted_ns)
{
    return llabs(got_ns - wanted_ns) <= wanted_ns / 5;
}

/* What `period` reads when it is right, and what is told: a rounded one is not rounded again. */
static int64_t right_period(const struct pwm_channel *channel)
{
    return channel->accepted_ns ? channel->accepted_ns : channel->period_ns;
}

/* Tells the period and learns what the chip makes of it and of the duty that it has. */
static int put_period(struct pwm_channel *channel, struct pwm_state *state, struct err *err)
{
    int64_t got_ns = 0;
    int rc = put_number(channel->period_fd, "period", right_period(channel), err);
    if (rc == -EBUSY || rc == -EINVAL || rc == -ERANGE) {
        return fail_period(channel, rc, err);
    }
    if (rc == 0) {
        rc = read_number(channel->period_fd, "period", INT64_MAX, &got_ns, err);
    }
    if (rc == 0) {
        rc = read_number(channel->duty_fd, "duty_cycle", INT64_MAX, &state->duty_ns, err);
    }
    if (rc < 0) {
        return rc;
    }
    state->period_ns = got_ns;
    if (!is_near(got_ns, channel->period_ns)) {
        return err_fail(err, EPROTO, "the chip makes %.6g Hz of frequency_hz = %.6g", hz_of(got_ns),
                        hz_of(channel->period_ns));
    }
    channel->accepted_ns = got_ns;
    return 0;
}

/* Only while disabled; a chip without polarity says so in several ways, and the duty does it then.
 */
static void ask_polarity(const struct pwm_channel *channel, bool is_inversed,
                         struct pwm_state *state)
{
    if (state->is_inversed != is_inversed &&
        sysfs_write_text(channel->polarity_fd, is_inversed ? "inversed" : "normal", NULL) == 0) {
        state->is_inversed = is_inversed;
    }
}

static int put_duty(const struct pwm_channel *channel, double drive, int64_t period_ns,
                    struct pwm_state *state, struct err *err)
{
    double share = channel->is_inverted != state->is_inversed ? 1.0 - drive : drive;
    int64_t duty_ns = llround(share * (double)period_ns);
    int rc =
        state->duty_ns == duty_ns ? 0 : put_number(channel->duty_fd, "duty_cycle", duty_ns, err);
    state->duty_ns = rc == 0 ? duty_ns : state->duty_ns;
    return rc;
}

/* A longer period comes before the duty, a shorter one after it: the kernel takes every step, and
 * the pin's share of high never exceeds both its old and its new one. (Where the duty stands in for
 * the polarity, the moment between the two writes is brighter instead; that happens only when
 * somebody else changed the period.) A refused period does not keep the duty from its share of the
 * present one: what a channel must not do is to go on as it was. */
static int put_timing(struct pwm_channel *channel, double drive, struct pwm_state *state,
                      struct err *err)
{
    bool is_longer = state->period_ns < right_period(channel);
    bool is_shorter = state->period_ns > right_period(channel);
    int rc = is_longer ? put_period(channel, state, err) : 0;
    int64_t coming_ns = is_shorter ? right_period(channel) : state->period_ns;
    int duty_rc = put_duty(channel, drive, coming_ns, state, rc == 0 ? err : NULL);
    if (rc < 0 || duty_rc < 0 || !is_shorter) {
        return rc < 0 ? rc : duty_rc;
    }
    rc = put_period(channel, state, err);
    duty_rc = put_duty(channel, drive, state->period_ns, state, rc == 0 ? err : NULL);
    return rc < 0 ? rc : duty_rc;
}

int pwm_channel_rest(const struct pwm_channel *channel)
{
    return sysfs_write_int(channel->enable_fd, 0, NULL);
}

static int put_enable(const struct pwm_channel *channel, struct err *err)
{
    int rc = put_number(channel->enable_fd, "enable", 1, err);
    /* Some chips look at the period only now. */
    return rc == -EINVAL || rc == -ERANGE || rc == -EBUSY ? fail_period(channel, rc, err) : rc;
}

/* A disabled channel: the kernel asks for a period before a polarity. Some chips take a polarity
 * that they do not have and refuse only to be enabled with it. */
static int enable(struct pwm_channel *channel, double drive, struct pwm_state *state,
                  struct err *err)
{
    int rc = put_timing(channel, drive, state, err);
    if (rc < 0) {
        return rc;
    }
    ask_polarity(channel, channel->is_inverted, state);
    rc = put_timing(channel, drive, state, err);
    if (rc == 0) {
        rc = put_enable(channel, err);
    }
    if (rc == 0) {
        return 0;
    }
    ask_polarity(channel, !state->is_inversed, state);
    rc = put_timing(channel, drive, state, err);
    return rc < 0 ? rc : put_enable(channel, err);
}

static int check(const struct pwm_channel *channel, double *ret_seen, struct err *err)
{
    struct pwm_state state = {0};
    int rc = read_state(channel, &state, err);
    if (rc < 0) {
        return rc;
    }
    if (!state.is_enabled || state.period_ns != right_period(channel)) {
        return err_fail(
            err, EPROTO, "reads back %s with a period of %" PRId64 " ns instead of %" PRId64,
            state.is_enabled ? "enabled" : "disabled", state.period_ns, right_period(channel));
    }
    double share = (double)state.duty_ns / (double)state.period_ns;
    *ret_seen = channel->is_inverted != state.is_inversed ? 1.0 - share : share;
    return 0;
}

int pwm_channel_drive(struct pwm_channel *channel, double drive, double *ret_seen, struct err *err)
{
    if (!channel->is_open) {
        return err_fail(err, ENOTCONN, "not connected");
    }
    struct pwm_state state = {0};
    int rc = read_state(channel, &state, err);
    if (rc == 0) {
        rc = state.is_enabled ? put_timing(channel, drive, &state, err)
                              : enable(channel, drive, &state, err);
    }
    return rc < 0 ? rc : check(channel, ret_seen, err);
}
