/* SPDX-License-Identifier: Apache-2.0 */
#include "crashloop.h"

#include "fileio.h"
#include "parse.h"
#include "units.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FILE_LIMIT = 1024 };

static void keep(struct crashloop *loop, int64_t start_ns)
{
    if (loop->count == CRASHLOOP_KEPT) {
        memmove(&loop->starts_ns[0], &loop->starts_ns[1],
                sizeof loop->starts_ns[0] * (CRASHLOOP_KEPT - 1));
        loop->count--;
    }
    loop->starts_ns[loop->count++] = start_ns;
}

void crashloop_parse(struct crashloop *loop, const char *text)
{
    *loop = (struct crashloop){0};
    char copy[FILE_LIMIT + 1];
    char *rest = NULL;
    (void)snprintf(copy, sizeof copy, "%s", text);
    for (char *word = strtok_r(copy, "\n", &rest); word; word = strtok_r(NULL, "\n", &rest)) {
        int64_t start_ns = 0;
        if (parse_int(word, 0, INT64_MAX, &start_ns, NULL) < 0) {
            *loop = (struct crashloop){0};
            return;
        }
        keep(loop, start_ns);
    }
}

bool crashloop_begin(struct crashloop *loop, int64_t boot_ns)
{
    int recent = 0;
    for (int i = 0; i < loop->count; i++) {
        int64_t age_ns = boot_ns - loop->starts_ns[i];
        recent += age_ns >= 0 && age_ns <= CRASHLOOP_WITHIN_S * UNITS_NS_PER_S;
    }
    keep(loop, boot_ns);
    return recent >= CRASHLOOP_ENDS;
}

bool crashloop_note_start(const char *path, int64_t boot_ns)
{
    struct crashloop loop = {0};
    char *text = NULL;
    if (fileio_read(path, FILE_LIMIT, &text, NULL, NULL) == 0) {
        crashloop_parse(&loop, text);
        free(text);
    }
    bool is_looping = crashloop_begin(&loop, boot_ns);
    char fresh[FILE_LIMIT];
    size_t used = 0;
    for (int i = 0; i < loop.count; i++) {
        used +=
            (size_t)snprintf(fresh + used, sizeof fresh - used, "%" PRId64 "\n", loop.starts_ns[i]);
    }
    (void)fileio_replace(path, fresh, used, 0600, NULL); /* without it only this watch is lost */
    return is_looping;
}

void crashloop_note_stop(const char *path)
{
    (void)unlink(path); /* not there: nothing to forget */
}
