/* SPDX-License-Identifier: Apache-2.0 */
/* Whole small files: read with a limit, replace so that a power cut leaves the old or the new. */
#ifndef LAMPWARDEN_FILEIO_H
#define LAMPWARDEN_FILEIO_H

#include <stddef.h>
#include <stdint.h>

struct err;

/* Reads a regular file of at most `limit` bytes. *ret is malloc'ed, NUL-terminated and the
 * caller's to free; *ret_size (may be NULL) does not count the NUL. -EFBIG above the limit. */
int fileio_read(const char *path, size_t limit, char **ret, size_t *ret_size, struct err *err);

/* Writes PATH.new in the same folder, fsyncs it, renames it over PATH, fsyncs the folder. */
int fileio_replace(const char *path, const void *data, size_t size, unsigned mode, struct err *err);

/* The same, mode 0644, where a person has named the file: -EINVAL where a link, a device, a pipe or
 * a folder stands. Root's /dev/null and /dev/stdout are not to be renamed over. */
int fileio_may_put(const char *path, struct err *err); /* beforehand; a disk can still be full */
int fileio_put(const char *path, const void *data, size_t size, struct err *err);

/* CRC-32 as in IEEE 802.3 (reflected 0xEDB88320): "123456789" → 0xCBF43926. */
uint32_t fileio_crc32(const void *data, size_t size);

#endif
