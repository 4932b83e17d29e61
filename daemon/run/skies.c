/* SPDX-License-Identifier: Apache-2.0 */
#include "skies.h"

#include "keepsake.h"

static const struct keepsake sky = {
    .suffix = "/sky",
    .words = "what was learned",
    .version = 1,
    .size = sizeof(struct learned),
};

_Static_assert(sizeof(struct learned) <= KEEPSAKE_SIZE_MAX, "what was learned can be kept");

void skies_keep(struct journal *journal, const char *space, int64_t wall_s,
                const struct learned *learned)
{
    keepsake_put(&sky, journal, space, wall_s, learned);
}

int skies_restore(struct journal_reader *reader, const char *space, struct learned *ret,
                  struct err *err)
{
    struct learned kept;
    const int code = keepsake_get(&sky, reader, space, &kept, err);
    if (code < 0) {
        return code;
    }
    if (!learned_is_sane(&kept)) {
        return keepsake_damaged(&sky, err);
    }
    *ret = kept;
    return 0;
}
