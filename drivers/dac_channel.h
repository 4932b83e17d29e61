/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One voltage output of an IIO device in /sys/bus/iio/devices: from volts at the terminal to the
 * number that the kernel takes (Documentation/ABI/testing/sysfs-bus-iio: out_voltageY_raw, _scale,
 * _offset, _powerdown; scale and offset may be shared: out_voltage_scale).
 *
 * The chip's own volts are (raw + offset) · scale / 1000, the terminal's that times the gain of the
 * stage behind it. Where the full scale at the terminal was measured it counts instead: raw 0 is
 * 0 V, the highest raw is full_scale_v.
 */
#ifndef LAMPWARDEN_DAC_CHANNEL_H
#define LAMPWARDEN_DAC_CHANNEL_H

#include <stdbool.h>
#include <stdint.h>

struct err;

struct dac_channel {
    /* set by the caller */
    int number;
    int bits;            /* of the converter: raw is 0 … 2^bits − 1 */
    double full_scale_v; /* at the terminal with the highest raw; 0: by the kernel's scale */
    double gain;         /* of the stage behind the chip, with the kernel's scale */
    double volts_low, volts_high; /* at drive 0 and at drive 1 */
    double safe_drive;

    /* own state, zero at first */
    bool is_open;
    int raw_fd;
    int powerdown_fd; /* −1: the chip has none */
    double volts_at_zero, volts_per_raw;
};

/* Opens the attributes and learns the scale. -EAGAIN: they are there and not ours yet (udev comes
 * later); -ENOENT: no such channel; -ERANGE: the chip cannot give volts_low … volts_high, the
 * sentence says what it can. Closed again on any error. */
int dac_channel_open(struct dac_channel *channel, const char *folder, struct err *err);
void dac_channel_close(struct dac_channel *channel);

/* drive 0 … 1 → the number to write, rounded so that the volts stay within volts_low … volts_high.
 * Of an open channel. */
int64_t dac_channel_raw(const struct dac_channel *channel, double drive);
double dac_channel_drive_of(const struct dac_channel *channel, int64_t raw);

/* Writes, wakes the channel when it is powered down, reads back. *ret_seen: the drive that was
 * found, or NaN where the chip cannot be asked. Several kernel drivers answer with what they were
 * told and not with what the chip holds: only the write's own error proves a missing chip. */
int dac_channel_drive(struct dac_channel *channel, double drive, double *ret_seen, struct err *err);

#endif
