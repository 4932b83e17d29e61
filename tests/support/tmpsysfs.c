/* SPDX-License-Identifier: Apache-2.0 */
#include "tmpsysfs.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <inttypes.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char root[64];

static void require(bool holds, const char *what)
{
    if (!holds) {
        perror(what);
        abort();
    }
}

/* Path below the root, with its folders made. */
static const char *below(char full[static PATH_MAX], const char *path)
{
    int length = snprintf(full, PATH_MAX, "%s/%s", root, path);
    require(length > 0 && length < PATH_MAX, path);
    for (char *slash = full + strlen(root) + 1; (slash = strchr(slash, '/')); slash++) {
        *slash = '\0';
        require(mkdir(full, 0755) == 0 || errno == EEXIST, full);
        *slash = '/';
    }
    return full;
}

const char *tmpsysfs_init(void)
{
    for (int fault = 0; fault < TMPSYSFS_FAULT_COUNT; fault++) {
        tmpsysfs_fault((enum tmpsysfs_fault)fault, 0);
    }
    tmpsysfs_on_change(NULL);
    strcpy(root, "/tmp/tmpsysfs-XXXXXX"); /* NOLINT(clang-analyzer-security.insecureAPI.strcpy) */
    require(mkdtemp(root) != NULL, root);
    return root;
}

static int remove_one(const char *path, const struct stat *status, int type, struct FTW *walk)
{
    (void)status;
    (void)type;
    (void)walk;
    return remove(path);
}

void tmpsysfs_finish(void)
{
    if (root[0]) {
        (void)nftw(root, remove_one, 16, FTW_DEPTH | FTW_PHYS);
    }
    root[0] = '\0';
}

void tmpsysfs_file(const char *path, const char *text)
{
    char full[PATH_MAX];
    FILE *file = fopen(below(full, path), "we");
    require(file && fputs(text, file) >= 0 && fclose(file) == 0, full);
}

void tmpsysfs_link(const char *path, const char *target)
{
    char full[PATH_MAX];
    char to[PATH_MAX];
    require(symlink(below(to, target), below(full, path)) == 0, full);
}

void tmpsysfs_remove(const char *path)
{
    char full[PATH_MAX];
    require(nftw(below(full, path), remove_one, 16, FTW_DEPTH | FTW_PHYS) == 0, full);
}

bool tmpsysfs_exists(const char *path)
{
    char full[PATH_MAX];
    return access(below(full, path), F_OK) == 0;
}

int64_t tmpsysfs_number(const char *path)
{
    char full[PATH_MAX];
    char text[64] = "";
    FILE *file = fopen(below(full, path), "re");
    require(file && fgets(text, sizeof text, file), full);
    (void)fclose(file);
    return strtoll(text, NULL, 10);
}

__attribute__((format(printf, 2, 3))) static void file_at(const char *text, const char *format, ...)
{
    char path[PATH_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(path, sizeof path, format, args);
    va_end(args);
    tmpsysfs_file(path, text);
}

/* A device with one child of a class, and the class' link to it. */
static void class_entry(const char *class, int number, const char *prefix, const char *device)
{
    char entry[256];
    char link[256];
    (void)snprintf(entry, sizeof entry, "devices/%s/%s/%s%d", device, class, prefix, number);
    (void)snprintf(link, sizeof link, "class/%s/%s%d", class, prefix, number);
    tmpsysfs_link(link, entry);
    (void)snprintf(link, sizeof link, "devices/%s/%s/%s%d/device", device, class, prefix, number);
    (void)snprintf(entry, sizeof entry, "devices/%s", device);
    tmpsysfs_link(link, entry);
}

void tmpsysfs_pwm_chip(int number, const char *device, int channels)
{
    char text[16];
    (void)snprintf(text, sizeof text, "%d\n", channels);
    file_at(text, "devices/%s/pwm/pwmchip%d/npwm", device, number);
    file_at("", "devices/%s/pwm/pwmchip%d/export", device, number);
    file_at("", "devices/%s/pwm/pwmchip%d/unexport", device, number);
    class_entry("pwm", number, "pwmchip", device);
}

void tmpsysfs_hwmon(int number, const char *device, const char *name)
{
    char text[64];
    (void)snprintf(text, sizeof text, "%s\n", name);
    file_at(text, "devices/%s/hwmon/hwmon%d/name", device, number);
    class_entry("hwmon", number, "hwmon", device);
}

void tmpsysfs_iio(int number, const char *device, const char *name, int channels)
{
    char entry[256];
    char link[256];
    char text[64];
    (void)snprintf(entry, sizeof entry, "devices/%s/iio:device%d", device, number);
    (void)snprintf(link, sizeof link, "bus/iio/devices/iio:device%d", number);
    if (name[0]) {
        (void)snprintf(text, sizeof text, "%s\n", name);
        file_at(text, "%s/name", entry);
    }
    for (int i = 0; i < channels; i++) {
        file_at("1000\n", "%s/out_voltage%d_raw", entry, i); /* what it came up with */
    }
    tmpsysfs_link(link, entry);
}

void tmpsysfs_pwm_leave(const char *path, const struct tmpsysfs_pwm *state)
{
    char text[32];
    (void)snprintf(text, sizeof text, "%" PRId64 "\n", state->period);
    file_at(text, "%s/period", path);
    (void)snprintf(text, sizeof text, "%" PRId64 "\n", state->duty);
    file_at(text, "%s/duty_cycle", path);
    file_at(state->is_enabled ? "1\n" : "0\n", "%s/enable", path);
    file_at(state->is_inversed ? "inversed\n" : "normal\n", "%s/polarity", path);
}
