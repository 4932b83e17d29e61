/* SPDX-License-Identifier: Apache-2.0 */
#include "daylogs.h"

#include "err.h"
#include "keepsake.h"

#include <errno.h>

struct kept {
    int64_t light_day;
    struct daylog log;
};

static const struct keepsake day = {
    .suffix = "/day",
    .words = "the log of the light day",
    .version = 1,
    .size = sizeof(struct kept),
};

_Static_assert(sizeof(struct kept) <= KEEPSAKE_SIZE_MAX, "the log of a light day can be kept");

void daylogs_keep(struct journal *journal, const char *space, int64_t wall_s, int64_t light_day,
                  const struct daylog *log)
{
    const struct kept kept = {light_day, *log};
    keepsake_put(&day, journal, space, wall_s, &kept);
}

int daylogs_restore(struct journal_reader *reader, const char *space, int64_t light_day,
                    struct daylog *ret, struct err *err)
{
    struct kept kept;
    const int code = keepsake_get(&day, reader, space, &kept, err);
    if (code < 0) {
        return code;
    }
    if (!daylog_is_sane(&kept.log)) {
        return keepsake_damaged(&day, err);
    }
    if (kept.light_day != light_day) {
        return err_fail(err, ENOENT, "%s is another day's", day.words);
    }
    *ret = kept.log;
    return 0;
}
