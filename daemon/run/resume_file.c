/* SPDX-License-Identifier: Apache-2.0 */
/* The mapped file of resume.h: two slots a space, written in turn. */
#include "resume.h"

#include "err.h"
#include "fileio.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

/* Slots begin on their own cache lines; the size belongs to the format. */
enum {
    SLOT_SIZE = (RESUME_PACKED_MAX + 63) / 64 * 64,
    FILE_LIMIT = 2 * CONFIG_SPACES_MAX * SLOT_SIZE
};

struct resume {
    char path[256];
    char fresh_path[264];
    int count;
    unsigned char *map;
    size_t size;
    uint64_t sequence;
    bool is_committed;
};

static size_t slot_at(int index, uint64_t sequence)
{
    return ((size_t)index * 2 + (size_t)(sequence & 1)) * SLOT_SIZE;
}

static int map_file(struct resume *resume, struct err *err)
{
    int fd = open(resume->fresh_path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (fd < 0) {
        int code = errno;
        return err_fail(err, code, "%s: cannot be created: %s", resume->fresh_path, err_name(code));
    }
    int code =
        posix_fallocate(fd, 0, (off_t)resume->size); /* a full disk is found here, not by SIGBUS */
    if (code == 0) {
        void *map = mmap(NULL, resume->size, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
        resume->map = map == MAP_FAILED ? NULL : map;
        code = map == MAP_FAILED ? errno : 0;
    }
    (void)close(fd);
    if (code != 0) {
        (void)unlink(resume->fresh_path);
        return err_fail(err, code, "%s: no room for %zu bytes: %s", resume->fresh_path,
                        resume->size, err_name(code));
    }
    return 0;
}

int resume_create(const char *path, int count, struct resume **ret, struct err *err)
{
    struct resume *resume = calloc(1, sizeof *resume);
    if (!resume) {
        return err_fail(err, ENOMEM, "no memory for the saved state");
    }
    (void)snprintf(resume->path, sizeof resume->path, "%s", path);
    (void)snprintf(resume->fresh_path, sizeof resume->fresh_path, "%s.new", resume->path);
    resume->count = count;
    resume->size = (size_t)count * 2 * SLOT_SIZE;
    int code = map_file(resume, err);
    if (code < 0) {
        free(resume);
        return code;
    }
    *ret = resume;
    return 0;
}

void resume_store(struct resume *resume, int index, const struct resume_record *record)
{
    resume->sequence += index == 0; /* one sequence a tick, starting at 1 */
    unsigned char *slot = resume->map + slot_at(index, resume->sequence);
    (void)resume_pack(record, resume->sequence, slot);
}

int resume_commit(struct resume *resume, struct err *err)
{
    if (rename(resume->fresh_path, resume->path) != 0) {
        int code = errno;
        return err_fail(err, code, "%s: cannot be renamed: %s", resume->fresh_path, err_name(code));
    }
    resume->is_committed = true;
    return 0;
}

bool resume_is_committed(const struct resume *resume)
{
    return resume->is_committed;
}

void resume_close(struct resume *resume)
{
    if (resume) {
        (void)munmap(resume->map, resume->size);
        if (!resume->is_committed) {
            (void)unlink(resume->fresh_path);
        }
        free(resume);
    }
}

/* Looks at one slot; keeps it in *ret when it is whole and newer than what is there. */
static int look(const unsigned char *slot, struct resume_record *ret, uint64_t *newest,
                struct err *err)
{
    struct resume_record record;
    uint64_t sequence = 0;
    int code = resume_unpack(slot, SLOT_SIZE, &record, &sequence, err);
    if (code < 0) {
        return code;
    }
    if (*newest == 0 || sequence > *newest) {
        *newest = sequence;
        *ret = record;
    }
    return 0;
}

int resume_read(const char *path, const char *space, struct resume_record *ret, struct err *err)
{
    char *data = NULL;
    size_t size = 0;
    int code = fileio_read(path, FILE_LIMIT, &data, &size, err);
    if (code < 0) {
        return code;
    }
    uint64_t newest = 0;
    struct err trouble = {""};
    code = -ENOENT;
    for (size_t at = 0; at + SLOT_SIZE <= size; at += SLOT_SIZE) {
        if (!resume_may_be(data + at, space)) {
            continue; /* another space's, or never written */
        }
        int its_code = look((const unsigned char *)data + at, ret, &newest, &trouble);
        if (its_code == -EILSEQ || its_code == -EPROTO) {
            code = its_code;
        }
    }
    free(data);
    if (newest != 0) {
        return 0;
    }
    if (code == -ENOENT) {
        return err_fail(err, ENOENT, "%s: no state of space %s", path, space);
    }
    return err_fail(err, -code, "%s: %s", path, trouble.text);
}
