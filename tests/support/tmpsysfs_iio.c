/* SPDX-License-Identifier: Apache-2.0 */
/* The rules of a converter's attributes; see tmpsysfs.h. */
#include "tmpsysfs.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RAW_FULL = 4095, LONG_PATH_MAX = PATH_MAX + 64 };

static void put(const char *folder, const char *name, long value)
{
    char path[LONG_PATH_MAX];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "we");
    if (!file || fprintf(file, "%ld\n", value) < 0 || fclose(file) != 0) {
        perror(path);
        abort();
    }
}

static bool is_asleep(const char *folder, const char *raw)
{
    char path[LONG_PATH_MAX];
    char text[8] = "";
    (void)snprintf(path, sizeof path, "%s/%.*s_powerdown", folder,
                   (int)(strlen(raw) - strlen("_raw")), raw);
    FILE *file = fopen(path, "re");
    if (!file) {
        return false;
    }
    bool is_one = fgets(text, sizeof text, file) && text[0] == '1';
    (void)fclose(file);
    return is_one;
}

int tmpsysfs_iio_change(const char *folder, const char *name, const char *text)
{
    char *end;
    long value = strtol(text, &end, 10);
    bool is_raw = strstr(name, "_raw") != NULL;
    if (end == text || *end != '\0' || value < 0 || value > (is_raw ? RAW_FULL : 1)) {
        errno = EINVAL;
        return -1;
    }
    if (is_raw && tmpsysfs_has_fault(TMPSYSFS_DEAF_ASLEEP) && is_asleep(folder, name)) {
        errno = EBUSY;
        return -1;
    }
    if (!is_raw || !tmpsysfs_has_fault(TMPSYSFS_STUCK)) {
        put(folder, name, value);
    }
    return 0;
}
