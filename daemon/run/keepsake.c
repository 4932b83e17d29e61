/* SPDX-License-Identifier: Apache-2.0 */
#include "keepsake.h"

#include "err.h"
#include "fileio.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

struct head {
    uint32_t version, size; /* of head and record */
    uint32_t crc;           /* of the record */
};

static void name_of(const struct keepsake *kind, const char *space, char ret[JOURNAL_NAME_MAX])
{
    (void)snprintf(ret, JOURNAL_NAME_MAX, "%s%s", space, kind->suffix);
}

void keepsake_put(const struct keepsake *kind, struct journal *journal, const char *space,
                  int64_t wall_s, const void *record)
{
    if (!journal) {
        return;
    }
    unsigned char buffer[sizeof(struct head) + KEEPSAKE_SIZE_MAX];
    const struct head head = {
        .version = kind->version,
        .size = (uint32_t)sizeof head + kind->size,
        .crc = fileio_crc32(record, kind->size),
    };
    memcpy(buffer, &head, sizeof head);
    memcpy(buffer + sizeof head, record, kind->size);
    struct journal_state state = {.wall_s = wall_s, .data = buffer, .size = head.size};
    name_of(kind, space, state.space);
    (void)journal_put_state(journal, &state);
}

int keepsake_damaged(const struct keepsake *kind, struct err *err)
{
    return err_fail(err, EILSEQ, "%s is damaged", kind->words);
}

int keepsake_get(const struct keepsake *kind, struct journal_reader *reader, const char *space,
                 void *ret, struct err *err)
{
    char name[JOURNAL_NAME_MAX];
    unsigned char buffer[sizeof(struct head) + KEEPSAKE_SIZE_MAX] = {0};
    struct head head;
    int64_t wall_s = 0;
    name_of(kind, space, name);
    const int64_t size = journal_read_state(reader, name, buffer, sizeof buffer, &wall_s, err);
    if (size < 0) {
        return (int)size;
    }
    memcpy(&head, buffer, sizeof head);
    if (size != (int64_t)(sizeof head + kind->size) || head.version != kind->version ||
        head.size != size) {
        return err_fail(err, EPROTO, "%s is of another version", kind->words);
    }
    if (head.crc != fileio_crc32(buffer + sizeof head, kind->size)) {
        return keepsake_damaged(kind, err);
    }
    memcpy(ret, buffer + sizeof head, kind->size);
    return 0;
}
