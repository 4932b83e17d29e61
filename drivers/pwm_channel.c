/* SPDX-License-Identifier: Apache-2.0 */
#include "pwm_channel.h"

#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
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
    char folder[SYSFS_PATH_MAX + 16];
    (void)snprintf(folder, sizeof folder, "%s/pwm%d", chip_path, channel->number);
    if (access(folder, F_OK) != 0) {
        int rc = sysfs_put_int(chip_path, "export", channel->number, err);
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

static int put_period(const struct pwm_channel *channel, struct err *err)
{
    int rc = put_number(channel->period_fd, "period", channel->period_ns, err);
    if (rc == -EBUSY) {
        return err_fail(err, EBUSY,
                        "period: the chip keeps one for all channels and another is in use: give "
                        "all the same frequency_hz; after a change restart the computer");
    }
    return rc;
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

static int64_t duty_for(const struct pwm_channel *channel, double drive,
                        const struct pwm_state *state)
{
    double share = channel->is_inverted != state->is_inversed ? 1.0 - drive : drive;
    return llround(share * (double)state->period_ns);
}

static int put_duty(const struct pwm_channel *channel, double drive, struct pwm_state *state,
                    struct err *err)
{
    int64_t duty_ns = duty_for(channel, drive, state);
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
static int put_timing(const struct pwm_channel *channel, double drive, struct pwm_state *state,
                      struct err *err)
{
    int64_t old_ns = state->period_ns;
    int rc = old_ns < channel->period_ns ? put_period(channel, err) : 0;
    if (rc == 0) {
        state->period_ns = channel->period_ns;
    }
    int duty_rc = put_duty(channel, drive, state, rc == 0 ? err : NULL);
    if (rc < 0 || duty_rc < 0 || old_ns <= channel->period_ns) {
        return rc < 0 ? rc : duty_rc;
    }
    rc = put_period(channel, err);
    if (rc < 0) {
        state->period_ns = old_ns;
        (void)put_duty(channel, drive, state, NULL);
    }
    return rc;
}

int pwm_channel_rest(const struct pwm_channel *channel)
{
    return sysfs_write_int(channel->enable_fd, 0, NULL);
}

/* A disabled channel: the kernel asks for a period before a polarity. Some chips take a polarity
 * that they do not have and refuse only to be enabled with it. */
static int enable(const struct pwm_channel *channel, double drive, struct pwm_state *state,
                  struct err *err)
{
    int rc = put_timing(channel, drive, state, err);
    if (rc < 0) {
        return rc;
    }
    ask_polarity(channel, channel->is_inverted, state);
    rc = put_timing(channel, drive, state, err);
    if (rc == 0) {
        rc = put_number(channel->enable_fd, "enable", 1, err);
    }
    if (rc == 0) {
        return 0;
    }
    ask_polarity(channel, !state->is_inversed, state);
    rc = put_timing(channel, drive, state, err);
    return rc < 0 ? rc : put_number(channel->enable_fd, "enable", 1, err);
}

static int check(const struct pwm_channel *channel, double *ret_seen, struct err *err)
{
    struct pwm_state state = {0};
    int rc = read_state(channel, &state, err);
    if (rc < 0) {
        return rc;
    }
    if (!state.is_enabled || state.period_ns != channel->period_ns) {
        return err_fail(
            err, EPROTO, "reads back %s with a period of %" PRId64 " ns instead of %" PRId64,
            state.is_enabled ? "enabled" : "disabled", state.period_ns, channel->period_ns);
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
