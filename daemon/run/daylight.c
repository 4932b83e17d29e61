/* SPDX-License-Identifier: Apache-2.0 */
#include "daylight.h"

#include "err.h"

#include <errno.h>

static const struct timeseries_form form = {
    .name = "ppfd_umol", .low = 0, .high = 4000, .bytes_max = 64U << 20};

int daylight_load(const char *path, struct daylight *ret, struct err *err)
{
    struct timeseries rows;
    const int rc = timeseries_load(path, &form, &rows, err);
    if (rc < 0) {
        return rc;
    }
    if (rows.count == 0) {
        timeseries_free(&rows);
        return err_fail(err, EINVAL, "%s: no rows of daylight", path);
    }
    *ret = (struct daylight){.rows = rows};
    return 0;
}

void daylight_free(struct daylight *daylight)
{
    timeseries_free(&daylight->rows);
    daylight->at = 0;
}

double daylight_umol(struct daylight *daylight, int64_t wall_s)
{
    const struct timeseries *rows = &daylight->rows;
    if (rows->count == 0 || wall_s < rows->wall_s[0]) {
        return 0;
    }
    if (wall_s < rows->wall_s[daylight->at]) {
        daylight->at = 0;
    }
    while (daylight->at + 1 < rows->count && rows->wall_s[daylight->at + 1] <= wall_s) {
        daylight->at++;
    }
    return rows->value[daylight->at];
}
