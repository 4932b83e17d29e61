/* SPDX-License-Identifier: Apache-2.0 */
#include "daylight.h"

#include "err.h"
#include "fileio.h"
#include "parse.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define FILE_MAX  (64u << 20)
#define UMOL_HIGH 4000.0
#define HEADER    "time,ppfd_umol"

static int add_row(struct daylight *daylight, char *line, struct err *err)
{
    char *comma = strchr(line, ',');
    if (!comma) {
        return err_fail(err, EINVAL, "'%s' is not 'time,ppfd_umol'", line);
    }
    *comma = '\0';
    int64_t wall_s = 0;
    double umol = 0;
    int rc = parse_datetime(line, &wall_s, err);
    if (rc == 0) {
        rc = parse_real(comma + 1, 0, UMOL_HIGH, &umol, err);
    }
    if (rc < 0) {
        return rc;
    }
    const size_t n = daylight->count;
    if (n > 0 && wall_s <= daylight->wall_s[n - 1]) {
        return err_fail(err, EINVAL, "time '%s' is not later than the row before", line);
    }
    daylight->wall_s[n] = wall_s;
    daylight->umol[n] = umol;
    daylight->count = n + 1;
    return 0;
}

static int read_rows(struct daylight *daylight, char *text, const char *path, struct err *err)
{
    bool has_header = false;
    int number = 0;
    for (char *line = text, *next; line; line = next) {
        next = strchr(line, '\n');
        if (next) {
            *next++ = '\0';
        }
        line[strcspn(line, "\r")] = '\0';
        number++;
        if (line[0] == '\0' || line[0] == '#') {
            continue;
        }
        int rc = 0;
        if (has_header) {
            rc = add_row(daylight, line, err);
        } else if (strcmp(line, HEADER) != 0) {
            rc = err_fail(err, EINVAL, "the header is '%.40s', not '" HEADER "'", line);
        }
        if (rc < 0) {
            err_prefix(err, "%s:%d", path, number);
            return rc;
        }
        has_header = true;
    }
    return daylight->count > 0 ? 0 : err_fail(err, EINVAL, "%s: no rows of daylight", path);
}

int daylight_load(const char *path, struct daylight *ret, struct err *err)
{
    char *text = NULL;
    int rc = fileio_read(path, FILE_MAX, &text, NULL, err);
    if (rc < 0) {
        return rc;
    }
    size_t lines = 1;
    for (const char *c = text; *c; c++) {
        lines += *c == '\n';
    }
    struct daylight daylight = {
        .wall_s = calloc(lines, sizeof *daylight.wall_s),
        .umol = calloc(lines, sizeof *daylight.umol),
    };
    rc = daylight.wall_s && daylight.umol ? read_rows(&daylight, text, path, err)
                                          : err_fail(err, ENOMEM, "%s: out of memory", path);
    free(text);
    if (rc < 0) {
        daylight_free(&daylight);
        return rc;
    }
    *ret = daylight;
    return 0;
}

void daylight_free(struct daylight *daylight)
{
    free(daylight->wall_s);
    free(daylight->umol);
    memset(daylight, 0, sizeof *daylight);
}

double daylight_umol(struct daylight *daylight, int64_t wall_s)
{
    if (daylight->count == 0 || wall_s < daylight->wall_s[0]) {
        return 0;
    }
    if (wall_s < daylight->wall_s[daylight->at]) {
        daylight->at = 0;
    }
    while (daylight->at + 1 < daylight->count && daylight->wall_s[daylight->at + 1] <= wall_s) {
        daylight->at++;
    }
    return daylight->umol[daylight->at];
}
