/* SPDX-License-Identifier: Apache-2.0 */
#include "skies.h"

#include "config.h"
#include "err.h"
#include "fileio.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

/* Change it when the meaning of a field changes; the size is compared beside it. */
enum { SKIES_VERSION = 1 };

struct record {
    uint32_t version, size;
    uint32_t crc; /* of what follows */
    struct learned learned;
};

_Static_assert(CONFIG_NAME_MAX + sizeof "/sky" <= JOURNAL_NAME_MAX + 1, "the longest name fits");

static void name_of(const char *space, char ret[JOURNAL_NAME_MAX])
{
    (void)snprintf(ret, JOURNAL_NAME_MAX, "%s/sky", space);
}

void skies_keep(struct journal *journal, const char *space, int64_t wall_s,
                const struct learned *learned)
{
    if (!journal) {
        return;
    }
    struct record record;
    memset(&record, 0, sizeof record);
    record.version = SKIES_VERSION;
    record.size = sizeof record;
    record.learned = *learned;
    record.crc = fileio_crc32(&record.learned, sizeof record.learned);
    struct journal_state state = {.wall_s = wall_s, .data = &record, .size = sizeof record};
    name_of(space, state.space);
    (void)journal_put_state(journal, &state); /* the next light day brings another */
}

int skies_restore(struct journal_reader *reader, const char *space, struct learned *ret,
                  struct err *err)
{
    char name[JOURNAL_NAME_MAX];
    struct record record;
    int64_t wall_s = 0;
    name_of(space, name);
    const int64_t size = journal_read_state(reader, name, &record, sizeof record, &wall_s, err);
    if (size < 0) {
        return (int)size;
    }
    if (size != (int64_t)sizeof record || record.version != SKIES_VERSION ||
        record.size != sizeof record) {
        return err_fail(err, EPROTO, "what was learned of the sky is of another version");
    }
    if (record.crc != fileio_crc32(&record.learned, sizeof record.learned) ||
        !learned_is_sane(&record.learned)) {
        return err_fail(err, EILSEQ, "what was learned of the sky is damaged");
    }
    *ret = record.learned;
    return 0;
}
