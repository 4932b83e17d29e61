/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Attributes of /sys: small texts and whole numbers, read and written whole, and devices found by
 * what they are instead of by their number. Nothing is kept; errors are negative errno values, -EIO
 * for a text that is no number.
 */
#ifndef LAMPWARDEN_SYSFS_H
#define LAMPWARDEN_SYSFS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define SYSFS_PATH_MAX 512

struct err;

/* folder/name → descriptor, closed on exec. */
int sysfs_open(const char *folder, const char *name, int flags, struct err *err);

/* From the beginning, each time. Line end removed; -EMSGSIZE when the text fills the buffer. */
int sysfs_read_text(int fd, char *buffer, size_t size, struct err *err);
int sysfs_read_int(int fd, int64_t low, int64_t high, int64_t *ret, struct err *err);

/* One write call, as the kernel takes a value. */
int sysfs_write_text(int fd, const char *text, struct err *err);
int sysfs_write_int(int fd, int64_t value, struct err *err);

/* The same with opening and closing. */
int sysfs_get_text(const char *folder, const char *name, char *buffer, size_t size,
                   struct err *err);
int sysfs_get_int(const char *folder, const char *name, int64_t low, int64_t high, int64_t *ret,
                  struct err *err);
int sysfs_put_int(const char *folder, const char *name, int64_t value, struct err *err);

/* Does `path` contain `part` as whole names in a row? "" is part of every path, and slashes at the
 * ends of `part` do not matter: "soc/fe20c000.pwm" is in "/sys/devices/platform/soc/fe20c000.pwm".
 */
bool sysfs_path_has(const char *path, const char *part);

struct sysfs_query {
    const char *folder; /* "/sys/class/hwmon" */
    const char *prefix; /* "hwmon": entries are prefix and digits */
    const char *name; /* what the attribute `name` must say; "": any, also without the attribute */
    const char *device; /* part of the device's path; "": any */
};

/* The one entry that fits: "/sys/class/hwmon/hwmon3". -ENODEV: none, -ENOTUNIQ: several; the
 * sentence lists what there is. */
int sysfs_find(const struct sysfs_query *query, char ret_path[static SYSFS_PATH_MAX],
               struct err *err);

#endif
