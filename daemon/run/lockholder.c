/* SPDX-License-Identifier: Apache-2.0 */
#include "lockholder.h"

#include <limits.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

/* "1: FLOCK  ADVISORY  WRITE 4242 00:1a:77 0 EOF": → 4242 when it is this file's; else 0. */
static int process_of(const char *line, const struct stat *file)
{
    char want[64];
    const char *write = strstr(line, " WRITE ");
    char *end = NULL;
    if (!strstr(line, ": FLOCK ") || !write) {
        return 0;
    }
    const long process = strtol(write + strlen(" WRITE "), &end, 10);
    (void)snprintf(want, sizeof want, " %02x:%02x:%ju ", major(file->st_dev), minor(file->st_dev),
                   (uintmax_t)file->st_ino);
    const bool is_ours = strncmp(end, want, strlen(want)) == 0;
    return is_ours && process > 0 && process <= INT_MAX ? (int)process : 0;
}

int lockholder_find(const char *path)
{
    struct stat file;
    char line[256];
    int process = 0;
    FILE *locks = stat(path, &file) == 0 ? fopen("/proc/locks", "re") : NULL;
    while (locks && process == 0 && fgets(line, sizeof line, locks)) {
        process = process_of(line, &file);
    }
    if (locks) {
        (void)fclose(locks);
    }
    return process;
}
