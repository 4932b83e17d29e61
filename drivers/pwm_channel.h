/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One channel of a PWM chip in /sys/class/pwm: exporting it, and telling it period and duty in the
 * order that the kernel accepts (Documentation/ABI/testing/sysfs-class-pwm).
 *
 * The kernel refuses period 0, duty above the period, and another polarity while the channel is
 * enabled. Driving never disables the channel: what a disabled output does is up to the chip, and
 * an open dimming line is full light. Where an enabled channel or the chip does not offer the
 * wanted polarity, the duty is inverted.
 *
 * Chips round a period to what their clock gives, and some show the rounded one: that is the right
 * one from then on. Once it stands, a change of drive is one write of the duty and nothing else.
 */
#ifndef LAMPWARDEN_PWM_CHANNEL_H
#define LAMPWARDEN_PWM_CHANNEL_H

#include "sysfs.h"

#include <stdbool.h>
#include <stdint.h>

struct err;

struct pwm_channel {
    /* set by the caller */
    int number;
    int64_t period_ns;
    bool is_inverted; /* full drive is a low pin */
    double safe_drive;

    /* own state, zero at first */
    bool is_open;
    bool is_taken; /* the kernel refuses to export it: one of its own drivers has it */
    int period_fd, duty_fd, enable_fd, polarity_fd;
    int64_t accepted_ns; /* what the chip made of period_ns; 0: it was not told yet */
};

/* Exports the channel if it is not, and opens its attributes. -EAGAIN: they are not there or not
 * ours yet (udev comes after the export); -ENODEV: the chip is gone. Closed again on any error. */
int pwm_channel_open(struct pwm_channel *channel, const char *chip_path, struct err *err);
void pwm_channel_close(struct pwm_channel *channel);

/* Makes the output what `drive` (0 … 1) means: period, duty, polarity, enabled, whatever it was
 * before. Reads back; *ret_seen is the drive that was found. -EPROTO: the channel did not keep what
 * it took, or its frequency is more than a fifth off. -EINVAL: a frequency that the chip refuses;
 * the sentence names its answer, and the output has its share of the present period. -EBUSY: the
 * chip has one period for all channels and another than ours; the output has its share of that
 * period then. */
int pwm_channel_drive(struct pwm_channel *channel, double drive, double *ret_seen, struct err *err);

/* Disables an open channel: only to set free the period of a chip that has one for all. */
int pwm_channel_rest(const struct pwm_channel *channel);

#endif
