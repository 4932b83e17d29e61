/* SPDX-License-Identifier: Apache-2.0 */
#include "sysfs.h"
#include "listing.h"

#include "err.h"
#include "parse.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { NUMBER_MAX = 64, NAME_MAX_BYTES = 64 };

/* Every device's path begins so: the rest tells them apart. */
static const char device_tree[] = "/sys/devices/";

int sysfs_open(const char *folder, const char *name, int flags, struct err *err)
{
    char path[SYSFS_PATH_MAX];
    int length = snprintf(path, sizeof path, "%s/%s", folder, name);
    if (length < 0 || (size_t)length >= sizeof path) {
        return err_fail(err, ENAMETOOLONG, "%s/%s: the path is too long", folder, name);
    }
    int fd = open(path, flags | O_CLOEXEC, 0); /* nothing is created */
    if (fd < 0) {
        int code = errno;
        return err_fail(err, code, "%s: %s", path, err_name(code));
    }
    return fd;
}

int sysfs_read_text(int fd, char *buffer, size_t size, struct err *err)
{
    ssize_t length;
    do {
        length = pread(fd, buffer, size - 1, 0);
    } while (length < 0 && errno == EINTR);
    if (length < 0) {
        int code = errno;
        return err_fail(err, code, "cannot be read: %s", err_name(code));
    }
    if ((size_t)length == size - 1) {
        return err_fail(err, EMSGSIZE, "is longer than %zu bytes", size - 2);
    }
    buffer[length] = '\0';
    if (strlen(buffer) != (size_t)length) {
        return err_fail(err, EIO, "holds a NUL byte");
    }
    if (length > 0 && buffer[length - 1] == '\n') {
        buffer[length - 1] = '\0';
    }
    return 0;
}

int sysfs_read_int(int fd, int64_t low, int64_t high, int64_t *ret, struct err *err)
{
    char text[NUMBER_MAX];
    int rc = sysfs_read_text(fd, text, sizeof text, err);
    if (rc < 0) {
        return rc;
    }
    return parse_int(text, low, high, ret, err) < 0 ? -EIO : 0;
}

int sysfs_write_text(int fd, const char *text, struct err *err)
{
    size_t size = strlen(text);
    ssize_t length;
    do {
        length = pwrite(fd, text, size, 0);
    } while (length < 0 && errno == EINTR);
    if (length < 0) {
        int code = errno;
        return err_fail(err, code, "does not take \"%s\": %s", text, err_name(code));
    }
    if ((size_t)length != size) {
        return err_fail(err, EIO, "took %zd of the %zu bytes of \"%s\"", length, size, text);
    }
    return 0;
}

int sysfs_write_int(int fd, int64_t value, struct err *err)
{
    char text[NUMBER_MAX];
    (void)snprintf(text, sizeof text, "%" PRId64, value);
    return sysfs_write_text(fd, text, err);
}

/* Closes, and puts the attribute's path before the sentence. */
static int finish(int fd, const char *folder, const char *name, int rc, struct err *err)
{
    (void)close(fd); /* nothing is buffered in an attribute */
    if (rc < 0) {
        err_prefix(err, "%s/%s", folder, name);
    }
    return rc;
}

int sysfs_get_text(const char *folder, const char *name, char *buffer, size_t size, struct err *err)
{
    int fd = sysfs_open(folder, name, O_RDONLY, err);
    return fd < 0 ? fd : finish(fd, folder, name, sysfs_read_text(fd, buffer, size, err), err);
}

int sysfs_get_int(const char *folder, const char *name, int64_t low, int64_t high, int64_t *ret,
                  struct err *err)
{
    int fd = sysfs_open(folder, name, O_RDONLY, err);
    return fd < 0 ? fd : finish(fd, folder, name, sysfs_read_int(fd, low, high, ret, err), err);
}

int sysfs_put_int(const char *folder, const char *name, int64_t value, struct err *err)
{
    int fd = sysfs_open(folder, name, O_WRONLY, err);
    return fd < 0 ? fd : finish(fd, folder, name, sysfs_write_int(fd, value, err), err);
}

bool sysfs_path_has(const char *path, const char *part)
{
    while (*part == '/') {
        part++;
    }
    size_t length = strlen(part);
    while (length > 0 && part[length - 1] == '/') {
        length--;
    }
    if (length == 0) {
        return true;
    }
    for (const char *at = path; *at; at++) {
        bool begins = at == path || at[-1] == '/';
        if (begins && strncmp(at, part, length) == 0 && (at[length] == '/' || at[length] == '\0')) {
            return true;
        }
    }
    return false;
}

struct search {
    const struct sysfs_query *query;
    char *found; /* SYSFS_PATH_MAX */
    int matches;
    struct listing list;
};

/* The device behind an entry; the entry itself stands for a device that has no link. */
static bool device_path(const char *entry, char path[static PATH_MAX])
{
    char link[SYSFS_PATH_MAX + 8];
    (void)snprintf(link, sizeof link, "%s/device", entry);
    return realpath(link, path) || realpath(entry, path);
}

static void search_entry(struct search *search, const char *entry)
{
    char path[SYSFS_PATH_MAX];
    char name[NAME_MAX_BYTES] = "";
    char device[PATH_MAX];
    int length = snprintf(path, sizeof path, "%s/%s", search->query->folder, entry);
    if (length < 0 || (size_t)length >= sizeof path || !device_path(path, device)) {
        return; /* gone since the folder was listed */
    }
    (void)sysfs_get_text(path, "name", name, sizeof name, NULL); /* not every class has it */
    bool is_in_tree = strncmp(device, device_tree, strlen(device_tree)) == 0;
    listing_add(&search->list, "%s%s%s at %s", entry, name[0] ? " " : "", name,
                is_in_tree ? device + strlen(device_tree) : device);
    bool fits = (!search->query->name[0] || strcmp(name, search->query->name) == 0) &&
                sysfs_path_has(device, search->query->device);
    if (fits) {
        search->matches++;
        memcpy(search->found, path, (size_t)length + 1);
    }
}

static bool is_numbered(const char *entry, const char *prefix)
{
    size_t length = strlen(prefix);
    if (strncmp(entry, prefix, length) != 0 || entry[length] == '\0') {
        return false;
    }
    for (const char *c = entry + length; *c; c++) {
        if (!isdigit((unsigned char)*c)) {
            return false;
        }
    }
    return true;
}

int sysfs_find(const struct sysfs_query *query, char ret_path[static SYSFS_PATH_MAX],
               struct err *err)
{
    DIR *folder = opendir(query->folder);
    if (!folder) {
        int code = errno == ENOENT ? ENODEV : errno;
        return err_fail(err, code, "%s cannot be opened: %s", query->folder, err_name(errno));
    }
    char found[SYSFS_PATH_MAX] = "";
    struct search search = {.query = query, .found = found};
    for (const struct dirent *entry; (entry = readdir(folder));) {
        if (is_numbered(entry->d_name, query->prefix)) {
            search_entry(&search, entry->d_name);
        }
    }
    (void)closedir(folder);
    if (search.matches == 1) {
        memcpy(ret_path, found, sizeof found);
        return 0;
    }
    return err_fail(err, search.matches ? ENOTUNIQ : ENODEV, "%s: %s%s%s%s%s%s%s; there is: %s",
                    query->folder, search.matches ? "several entries fit" : "no entry fits",
                    query->name[0] ? " name \"" : "", query->name, query->name[0] ? "\"" : "",
                    query->device[0] ? " device \"" : "", query->device,
                    query->device[0] ? "\"" : "", listing_text(&search.list));
}
