/* SPDX-License-Identifier: Apache-2.0 */
#include "timeseries.h"

#include "err.h"
#include "fileio.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static int check_header(const char *line, const struct timeseries_form *form, struct err *err)
{
    static const char time[] = "time,";
    const size_t length = sizeof time - 1;
    if (strncmp(line, time, length) == 0 && strcmp(line + length, form->name) == 0) {
        return 0;
    }
    char quoted[48];
    parse_quote(line, quoted, sizeof quoted);
    return err_fail(err, EINVAL, "the header is '%s', not 'time,%s'", quoted, form->name);
}

static int add_row(struct timeseries *series, char *line, const struct timeseries_form *form,
                   struct err *err)
{
    char *comma = strchr(line, ',');
    if (!comma) {
        char quoted[48];
        parse_quote(line, quoted, sizeof quoted);
        return err_fail(err, EINVAL, "'%s' is not 'time,%s'", quoted, form->name);
    }
    *comma = '\0';
    int64_t wall_s = 0;
    double value = UNITS_NONE;
    int rc = parse_datetime(line, &wall_s, err);
    if (rc == 0 && !(form->may_be_empty && comma[1] == '\0')) {
        rc = parse_real(comma + 1, form->low, form->high, &value, err);
    }
    if (rc < 0) {
        return rc;
    }
    const size_t n = series->count;
    if (n > 0 && wall_s <= series->wall_s[n - 1]) {
        return err_fail(err, EINVAL, "time '%s' is not later than the row before", line);
    }
    series->wall_s[n] = wall_s;
    series->value[n] = value;
    series->count = n + 1;
    return 0;
}

static int read_rows(struct timeseries *series, char *text, const char *path,
                     const struct timeseries_form *form, struct err *err)
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
        const int rc =
            has_header ? add_row(series, line, form, err) : check_header(line, form, err);
        if (rc < 0) {
            err_prefix(err, "%s:%d", path, number);
            return rc;
        }
        has_header = true;
    }
    return 0;
}

int timeseries_load(const char *path, const struct timeseries_form *form, struct timeseries *ret,
                    struct err *err)
{
    char *text = NULL;
    int rc = fileio_read(path, form->bytes_max, &text, NULL, err);
    if (rc < 0) {
        return rc;
    }
    size_t lines = 1;
    for (const char *c = text; *c; c++) {
        lines += *c == '\n';
    }
    struct timeseries series = {
        .wall_s = calloc(lines, sizeof *series.wall_s),
        .value = calloc(lines, sizeof *series.value),
    };
    rc = series.wall_s && series.value ? read_rows(&series, text, path, form, err)
                                       : err_fail(err, ENOMEM, "%s: out of memory", path);
    free(text);
    if (rc < 0) {
        timeseries_free(&series);
        return rc;
    }
    *ret = series;
    return 0;
}

void timeseries_free(struct timeseries *series)
{
    free(series->wall_s);
    free(series->value);
    memset(series, 0, sizeof *series);
}
