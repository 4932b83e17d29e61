/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A folder that looks like a part of /sys: files, links and, for PWM chips, the kernel's rules.
 *
 * The rules need the program to be linked with --wrap=openat and --wrap=pwrite: writes below a tree
 * then go through a model of drivers/pwm/sysfs.c and core.c of Linux 6.1
 * (Documentation/ABI/testing/sysfs-class-pwm):
 *  - export N: EBUSY when exported, ENODEV when N ≥ npwm, else pwmN appears
 *  - period, duty_cycle: EINVAL for what is no number, for period 0 and for duty > period
 *  - polarity: "normal" or "inversed"; EBUSY while enabled; EINVAL where the chip has none
 *  - enable: 0 or 1; EINVAL for 1 with period 0
 *  - a write replaces the value whatever its length
 *
 * TMPSYSFS_SHARED_PERIOD is drivers/pwm/pwm-pca9685.c: a channel is exported as enabled with the
 * chip's period; another period is EBUSY while another channel is enabled. Without --wrap a tree is
 * plain files. One tree at a time. Failing to build one aborts the test.
 */
#ifndef LAMPWARDEN_TMPSYSFS_H
#define LAMPWARDEN_TMPSYSFS_H

#include <stdbool.h>
#include <stdint.h>

/* Makes an empty tree and returns its folder; tmpsysfs_finish removes it. */
const char *tmpsysfs_init(void);
void tmpsysfs_finish(void);

/* Paths are relative to the tree; missing folders are made. */
void tmpsysfs_file(const char *path, const char *text);
void tmpsysfs_link(const char *path, const char *target); /* target relative to the tree */
void tmpsysfs_remove(const char *path);                   /* a file, a link or a whole folder */
bool tmpsysfs_exists(const char *path);
int64_t tmpsysfs_number(const char *path);

/* class/pwm/pwmchipN with its device below devices/…; the link `device` stands inside. */
void tmpsysfs_pwm_chip(int number, const char *device, int channels);

/* class/hwmon/hwmonN with `name` and the link `device`. */
void tmpsysfs_hwmon(int number, const char *device, const char *name);

/* bus/iio/devices/iio:deviceN, a link to its folder below devices/…, with `name` ("": none) and
 * out_voltage0_raw … of so many channels. Rules of drivers/iio/dac/mcp4725.c of Linux 6.1: raw
 * takes 0 … 2^bits − 1, else EINVAL; a chip that sleeps takes a value and wakes with it. */
void tmpsysfs_iio(int number, const char *device, const char *name, int channels);
/* For --wrap; 0 or −1 with errno. */
int tmpsysfs_iio_change(const char *folder, const char *name, const char *text);

enum tmpsysfs_fault {
    TMPSYSFS_NO_POLARITY,   /* the chip cannot invert */
    TMPSYSFS_LATE_POLARITY, /* … and refuses only to be enabled inverted */
    TMPSYSFS_TAKEN,         /* the kernel uses channel 1 itself: its export is EBUSY */
    TMPSYSFS_PERIOD_STEP, /* ns: periods are rounded to multiples, duties to 4096ths, and show so */
    TMPSYSFS_PERIOD_LEAST,  /* ns: a shorter period is EINVAL … */
    TMPSYSFS_LATE_PERIOD,   /* … only while enabled */
    TMPSYSFS_SHARED_PERIOD, /* the present period, ns, of a chip that has one for all channels */
    TMPSYSFS_DENY_OPENS,  /* count: so many opens of pwmN's files fail with EACCES (udev is late) */
    TMPSYSFS_HIDE_OPENS,  /* count: … with ENOENT */
    TMPSYSFS_FAIL_WRITE,  /* count: the next writes fail with `error` … */
    TMPSYSFS_FAIL_ERROR,  /* … this errno */
    TMPSYSFS_DEAF_ASLEEP, /* a converter that sleeps takes no value: EBUSY */
    TMPSYSFS_STUCK,       /* a converter takes every value and keeps its own */
    TMPSYSFS_FAULT_COUNT
};
void tmpsysfs_fault(enum tmpsysfs_fault fault, int value);
bool tmpsysfs_has_fault(enum tmpsysfs_fault fault);

/* With --wrap=pread: asked before every read of an attribute by its name; 0: it is read, else the
 * errno with which that fails. NULL, as at first: all are read. */
typedef int tmpsysfs_reader(const char *name);
void tmpsysfs_on_read(tmpsysfs_reader *reader);

/* What the outside saw of one channel: called after every write that the model took. */
struct tmpsysfs_pwm {
    int64_t period, duty;
    bool is_enabled, is_inversed;
};
typedef void tmpsysfs_watch(const char *channel_path, const struct tmpsysfs_pwm *state);
void tmpsysfs_on_change(tmpsysfs_watch *watch);
struct tmpsysfs_pwm tmpsysfs_pwm_state(const char *channel_path); /* absolute */

/* Puts a channel into a state as somebody else left it, past the rules; `path` relative to the
 * tree. */
void tmpsysfs_pwm_leave(const char *path, const struct tmpsysfs_pwm *state);

#endif
