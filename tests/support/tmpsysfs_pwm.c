/* SPDX-License-Identifier: Apache-2.0 */
/* The rules of PWM attributes, and the way of every write to its rules; see tmpsysfs.h. */
#include "tmpsysfs.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

enum { LONG_PATH_MAX = 2 * PATH_MAX }; /* a path and a name more */

/* Names that --wrap gives to the linker. */
int __wrap_open(const char *path, int flags, ...);
ssize_t __wrap_pwrite(int fd, const void *data, size_t size, off_t offset);

static int faults[TMPSYSFS_FAULT_COUNT];
static tmpsysfs_watch *watcher;

void tmpsysfs_fault(enum tmpsysfs_fault fault, int value)
{
    faults[fault] = value;
}

bool tmpsysfs_has_fault(enum tmpsysfs_fault fault)
{
    return faults[fault] != 0;
}

void tmpsysfs_on_change(tmpsysfs_watch *watch)
{
    watcher = watch;
}

static int fail(int error)
{
    errno = error;
    return -1;
}

static void get(const char *folder, const char *name, char text[static 32])
{
    char path[LONG_PATH_MAX];
    text[0] = '\0';
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "re");
    if (file) {
        if (!fgets(text, 32, file)) {
            text[0] = '\0';
        }
        text[strcspn(text, "\n")] = '\0';
        (void)fclose(file);
    }
}

static void put(const char *folder, const char *name, const char *text)
{
    char path[LONG_PATH_MAX];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "we");
    if (!file || fprintf(file, "%s\n", text) < 0 || fclose(file) != 0) {
        perror(path);
        abort();
    }
}

static void put_number(const char *folder, const char *name, int64_t number)
{
    char text[32];
    (void)snprintf(text, sizeof text, "%" PRId64, number);
    put(folder, name, text);
}

struct tmpsysfs_pwm tmpsysfs_pwm_state(const char *channel_path)
{
    char period[32];
    char duty[32];
    char enable[32];
    char polarity[32];
    get(channel_path, "period", period);
    get(channel_path, "duty_cycle", duty);
    get(channel_path, "enable", enable);
    get(channel_path, "polarity", polarity);
    return (struct tmpsysfs_pwm){
        .period = strtoll(period, NULL, 10),
        .duty = strtoll(duty, NULL, 10),
        .is_enabled = enable[0] == '1',
        .is_inversed = strcmp(polarity, "inversed") == 0,
    };
}

/* A number as kstrtou64 reads it. */
static bool number_of(const char *text, int64_t *ret)
{
    char *end;
    errno = 0;
    long long value = strtoll(text, &end, 10);
    if (end == text || *end != '\0' || errno || value < 0) {
        return false;
    }
    *ret = value;
    return true;
}

static int export_channel(const char *chip, const char *text)
{
    char npwm[32];
    int64_t number;
    get(chip, "npwm", npwm);
    if (!number_of(text, &number)) {
        return fail(EINVAL);
    }
    if (number >= strtoll(npwm, NULL, 10)) {
        return fail(ENODEV);
    }
    if (number == 1 && faults[TMPSYSFS_TAKEN]) {
        return fail(EBUSY);
    }
    char folder[PATH_MAX + 32];
    (void)snprintf(folder, sizeof folder, "%s/pwm%" PRId64, chip, number);
    if (mkdir(folder, 0755) != 0) {
        return fail(errno == EEXIST ? EBUSY : errno);
    }
    char period[32];
    (void)snprintf(period, sizeof period, "%d", faults[TMPSYSFS_SHARED_PERIOD]);
    put(folder, "period", period);
    put(folder, "duty_cycle", "0");
    put(folder, "enable", faults[TMPSYSFS_SHARED_PERIOD] ? "1" : "0");
    put(folder, "polarity", "normal");
    return 0;
}

static bool another_is_enabled(const char *channel)
{
    char chip[PATH_MAX];
    (void)snprintf(chip, sizeof chip, "%.*s", (int)(strrchr(channel, '/') - channel), channel);
    for (int i = 0; i < 16; i++) {
        char other[LONG_PATH_MAX];
        char enable[32];
        (void)snprintf(other, sizeof other, "%s/pwm%d", chip, i);
        get(other, "enable", enable);
        if (enable[0] == '1' && strcmp(other, channel) != 0) {
            return true;
        }
    }
    return false;
}

/* False: the chip has another period and cannot change it now. */
static bool takes_period(const char *channel, const struct tmpsysfs_pwm *state)
{
    int *chip_period = &faults[TMPSYSFS_SHARED_PERIOD];
    if (*chip_period == 0 || !state->is_enabled || *chip_period == state->period) {
        return true;
    }
    if (another_is_enabled(channel)) {
        return false;
    }
    *chip_period = (int)state->period;
    return true;
}

/* A coarse clock: the share that was asked for, in the chip's own steps, duties downwards (kernel
 * documentation, driver-api/pwm.rst). */
static void round_state(struct tmpsysfs_pwm *state)
{
    int64_t step = faults[TMPSYSFS_PERIOD_STEP];
    if (step > 0 && state->period > 0) {
        int64_t counts = state->duty * 4096 / state->period;
        int64_t steps = (state->period + step / 2) / step;
        state->period = (steps > 0 ? steps : 1) * step;
        state->duty =
            (counts * state->period + 4095) / 4096; /* the same counts when it is told again */
    }
}

static bool can_do_period(const struct tmpsysfs_pwm *state)
{
    bool looks = state->is_enabled || !faults[TMPSYSFS_LATE_PERIOD];
    return !looks || state->period >= faults[TMPSYSFS_PERIOD_LEAST];
}

static int change_channel(const char *channel, const char *name, const char *text)
{
    struct tmpsysfs_pwm state = tmpsysfs_pwm_state(channel);
    int64_t number = -1;
    bool is_number = number_of(text, &number);
    if (strcmp(name, "period") == 0 && is_number) {
        state.period = number;
    } else if (strcmp(name, "duty_cycle") == 0 && is_number) {
        state.duty = number;
    } else if (strcmp(name, "enable") == 0 && is_number && number <= 1) {
        state.is_enabled = number == 1;
    } else if (strcmp(name, "polarity") == 0 &&
               (!strcmp(text, "normal") || !strcmp(text, "inversed"))) {
        if (state.is_enabled) {
            return fail(EBUSY);
        }
        state.is_inversed = strcmp(text, "inversed") == 0;
        if (state.is_inversed && faults[TMPSYSFS_NO_POLARITY]) {
            return fail(EINVAL);
        }
    } else {
        return fail(EINVAL);
    }
    if (state.is_enabled && state.is_inversed && faults[TMPSYSFS_LATE_POLARITY]) {
        return fail(EINVAL);
    }
    if (state.period == 0 || state.duty > state.period || !can_do_period(&state)) {
        return fail(EINVAL); /* pwm_apply_state */
    }
    round_state(&state);
    if (!takes_period(channel, &state)) {
        return fail(EBUSY);
    }
    put(channel, name, text);
    if (faults[TMPSYSFS_PERIOD_STEP] > 0) {
        put_number(channel, "period", state.period);
        put_number(channel, "duty_cycle", state.duty);
    }
    if (watcher) {
        watcher(channel, &state);
    }
    return 0;
}

/* Splits ".../pwmchip0/pwm3/period" into folder and name when it is an attribute of a tree. */
static bool split(const char *path, char folder[static PATH_MAX], const char **ret_name)
{
    const char *slash = strrchr(path, '/');
    if (!slash || !strstr(path, "/tmpsysfs-") ||
        !(strstr(path, "/pwm") || strstr(path, "/iio:device"))) {
        return false;
    }
    (void)snprintf(folder, PATH_MAX, "%.*s", (int)(slash - path), path);
    *ret_name = slash + 1;
    return true;
}

ssize_t __wrap_pwrite(int fd, const void *data, size_t size, off_t offset)
{
    char link[64];
    char path[PATH_MAX];
    char folder[PATH_MAX];
    const char *name;
    (void)snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    path[length > 0 ? length : 0] = '\0';
    if (!split(path, folder, &name)) {
        return syscall(SYS_pwrite64, fd, data, size, offset);
    }
    if (strstr(path, " (deleted)")) {
        return fail(ENODEV); /* as an attribute whose device has gone */
    }
    if (faults[TMPSYSFS_FAIL_WRITE] > 0) {
        faults[TMPSYSFS_FAIL_WRITE]--;
        return fail(faults[TMPSYSFS_FAIL_ERROR]);
    }
    char text[64];
    (void)snprintf(text, sizeof text, "%.*s", (int)size, (const char *)data);
    text[strcspn(text, "\n")] = '\0';
    int rc = strstr(folder, "/iio:device") ? tmpsysfs_iio_change(folder, name, text)
             : strcmp(name, "export") == 0 ? export_channel(folder, text)
                                           : change_channel(folder, name, text);
    return rc < 0 ? -1 : (ssize_t)size;
}

int __wrap_open(const char *path, int flags, ...)
{
    char folder[PATH_MAX];
    const char *name;
    va_list args;
    va_start(args, flags);
    unsigned mode = flags & O_CREAT ? va_arg(args, unsigned) : 0;
    va_end(args);
    bool is_channel = split(path, folder, &name) &&
                      strncmp(strrchr(folder, '/'), "/pwmchip", strlen("/pwmchip")) != 0 &&
                      (flags & O_ACCMODE) != O_RDONLY;
    for (int fault = TMPSYSFS_DENY_OPENS; is_channel && fault <= TMPSYSFS_HIDE_OPENS; fault++) {
        if (faults[fault] > 0) {
            faults[fault]--;
            return fail(fault == TMPSYSFS_DENY_OPENS ? EACCES : ENOENT);
        }
    }
    return (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}
