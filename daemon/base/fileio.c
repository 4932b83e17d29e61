/* SPDX-License-Identifier: Apache-2.0 */
#include "fileio.h"

#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Reads until the end or until `room` is full; bytes read or a negative errno. */
static ssize_t read_all(int fd, char *data, size_t room)
{
    size_t used = 0;
    while (used < room) {
        ssize_t got = read(fd, data + used, room - used);
        if (got < 0 && errno == EINTR) {
            continue;
        }
        if (got < 0) {
            return -errno;
        }
        if (got == 0) {
            break;
        }
        used += (size_t)got;
    }
    return (ssize_t)used;
}

static int read_regular(int fd, const char *path, size_t limit, char **ret, size_t *ret_size,
                        struct err *err)
{
    struct stat info;
    if (fstat(fd, &info) != 0) {
        return err_fail(err, errno, "cannot look at %s: %s", path, err_name(errno));
    }
    if (!S_ISREG(info.st_mode)) {
        return err_fail(err, S_ISDIR(info.st_mode) ? EISDIR : EINVAL, "%s is not a regular file",
                        path);
    }
    if (info.st_size > 0 && (uint64_t)info.st_size > limit) {
        return err_fail(err, EFBIG, "%s has %lld bytes (at most %zu)", path,
                        (long long)info.st_size, limit);
    }
    /* One byte more than the limit shows a file that grew, or one (as in /proc) that has no size.
     */
    char *data = malloc(limit + 2);
    if (!data) {
        return err_fail(err, ENOMEM, "no memory to read %s", path);
    }
    ssize_t size = read_all(fd, data, limit + 1);
    if (size < 0 || (size_t)size > limit) {
        free(data);
        if (size < 0) {
            return err_fail(err, (int)-size, "cannot read %s: %s", path, err_name((int)size));
        }
        return err_fail(err, EFBIG, "%s has more than %zu bytes", path, limit);
    }
    data[size] = '\0';
    char *fitting = realloc(data, (size_t)size + 1);
    if (fitting) {
        data = fitting;
    }
    *ret = data;
    if (ret_size) {
        *ret_size = (size_t)size;
    }
    return 0;
}

int fileio_read(const char *path, size_t limit, char **ret, size_t *ret_size, struct err *err)
{
    /* O_NONBLOCK: a FIFO by that name must not hold us before fstat has refused it. */
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    if (fd < 0) {
        return err_fail(err, errno, "cannot open %s: %s", path, err_name(errno));
    }
    int r = read_regular(fd, path, limit, ret, ret_size, err);
    (void)close(fd); /* only read from: nothing to lose */
    return r;
}

static int write_all(int fd, const char *data, size_t size)
{
    while (size > 0) {
        ssize_t done = write(fd, data, size);
        if (done < 0 && errno == EINTR) {
            continue;
        }
        if (done < 0) {
            return -errno;
        }
        data += done;
        size -= (size_t)done;
    }
    return 0;
}

static int write_new(const char *fresh, const void *data, size_t size, unsigned mode)
{
    int fd = open(fresh, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, mode);
    if (fd < 0) {
        return -errno;
    }
    int r = fchmod(fd, mode) == 0 ? 0 : -errno; /* an old .new, or the umask, may say otherwise */
    if (r == 0) {
        r = write_all(fd, data, size);
    }
    if (r == 0 && fsync(fd) != 0) {
        r = -errno;
    }
    if (close(fd) != 0 && r == 0) {
        r = -errno;
    }
    return r;
}

/* The rename itself lies in the folder: without this a power cut may bring the old file back. */
static void find_folder(const char *path, char folder[PATH_MAX])
{
    const char *slash = strrchr(path, '/');
    size_t length = slash == path ? 1 : slash ? (size_t)(slash - path) : 0;
    if (slash) {
        memcpy(folder, path, length);
        folder[length] = '\0';
    } else {
        memcpy(folder, ".", 2);
    }
}

static int sync_folder_of(const char *path)
{
    char folder[PATH_MAX];
    find_folder(path, folder);
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0) {
        return -errno;
    }
    int r = fsync(fd) == 0 || errno == EINVAL ? 0 : -errno; /* EINVAL: a file system without it */
    (void)close(fd);
    return r;
}

int fileio_replace(const char *path, const void *data, size_t size, unsigned mode, struct err *err)
{
    char fresh[PATH_MAX];
    int length = snprintf(fresh, sizeof fresh, "%s.new", path);
    if (length < 0 || (size_t)length >= sizeof fresh) {
        return err_fail(err, ENAMETOOLONG, "the path of %.64s… is too long (at most %d bytes)",
                        path, PATH_MAX - 5);
    }
    int r = write_new(fresh, data, size, mode);
    if (r < 0) {
        (void)unlink(fresh); /* the first failure is the one to tell */
        return err_fail(err, -r, "cannot write %s: %s", fresh, err_name(r));
    }
    if (rename(fresh, path) != 0) {
        r = -errno;
        (void)unlink(fresh);
        return err_fail(err, -r, "cannot replace %s: %s", path, err_name(r));
    }
    r = sync_folder_of(path);
    return r < 0 ? err_fail(err, -r, "cannot sync the folder of %s: %s", path, err_name(r)) : 0;
}

int fileio_may_put(const char *path, struct err *err)
{
    char folder[PATH_MAX];
    struct stat found;
    if (strlen(path) >= sizeof folder) {
        return err_fail(err, ENAMETOOLONG, "the path of %.64s… is too long", path);
    }
    find_folder(path, folder);
    if (access(folder, W_OK | X_OK) != 0) {
        const int code = errno;
        return err_fail(err, code, "cannot write %s: %s", path, err_name(code));
    }
    if (lstat(path, &found) == 0 && !S_ISREG(found.st_mode)) {
        return err_fail(err, EINVAL, "cannot write %s: it is there and is not a regular file",
                        path);
    }
    return 0;
}

int fileio_put(const char *path, const void *data, size_t size, struct err *err)
{
    const int code = fileio_may_put(path, err);
    return code < 0 ? code : fileio_replace(path, data, size, 0644, err);
}

/* The remainders of a byte's lower and upper half; a CRC is linear, so that of the whole byte is
 * their sum. A space's state passes here every second, and bit by bit that was nine tenths of the
 * tick. */
static const uint32_t lower[16] = {0x00000000U, 0x77073096U, 0xee0e612cU, 0x990951baU,
                                   0x076dc419U, 0x706af48fU, 0xe963a535U, 0x9e6495a3U,
                                   0x0edb8832U, 0x79dcb8a4U, 0xe0d5e91eU, 0x97d2d988U,
                                   0x09b64c2bU, 0x7eb17cbdU, 0xe7b82d07U, 0x90bf1d91U};
static const uint32_t upper[16] = {0x00000000U, 0x1db71064U, 0x3b6e20c8U, 0x26d930acU,
                                   0x76dc4190U, 0x6b6b51f4U, 0x4db26158U, 0x5005713cU,
                                   0xedb88320U, 0xf00f9344U, 0xd6d6a3e8U, 0xcb61b38cU,
                                   0x9b64c2b0U, 0x86d3d2d4U, 0xa00ae278U, 0xbdbdf21cU};

uint32_t fileio_crc32(const void *data, size_t size)
{
    const unsigned char *bytes = data;
    uint32_t crc = 0xFFFFFFFFU;
    for (size_t i = 0; i < size; i++) {
        uint32_t mixed = (crc ^ bytes[i]) & 0xFFU;
        crc = (crc >> 8) ^ lower[mixed & 15U] ^ upper[mixed >> 4];
    }
    return ~crc;
}
