/* SPDX-License-Identifier: Apache-2.0 */
/* What a test makes of the reads of attributes; see tmpsysfs.h. */
#include "tmpsysfs.h"

#include <errno.h>
#include <limits.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

ssize_t __wrap_pread(int fd, void *buffer, size_t size, off_t offset);

static tmpsysfs_reader *reader;

void tmpsysfs_on_read(tmpsysfs_reader *new_reader)
{
    reader = new_reader;
}

ssize_t __wrap_pread(int fd, void *buffer, size_t size, off_t offset)
{
    char link[64];
    char path[PATH_MAX];
    (void)snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    path[length > 0 ? length : 0] = '\0';
    int code = reader && strstr(path, "/tmpsysfs-") ? reader(strrchr(path, '/') + 1) : 0;
    if (code) {
        errno = code;
        return -1;
    }
    return syscall(SYS_pread64, fd, buffer, size, offset);
}
