/* SPDX-License-Identifier: Apache-2.0 */
#include "prices.h"

#include "err.h"
#include "fileio.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define FILE_MAX (8U << 20)
#define HEADER   "time,price_per_kwh"

struct reader {
    struct prices prices; /* room for two rows a line */
    int64_t last_s;       /* beginning of the last row of the file */
    int64_t step_s;       /* usual step before it; 0: only one row so far */
    bool has_row;
};

static void put(struct prices *prices, int64_t from_s, double price_per_kwh)
{
    prices->rows[prices->count++] = (struct tariff_price){from_s, price_per_kwh};
}

static int add_row(struct reader *reader, char *line, struct err *err)
{
    char *comma = strchr(line, ',');
    if (!comma) {
        char quoted[48];
        parse_quote(line, quoted, sizeof quoted);
        return err_fail(err, EINVAL, "'%s' is not '" HEADER "'", quoted);
    }
    *comma = '\0';
    int64_t wall_s = 0;
    double price_per_kwh = UNITS_NONE;
    int rc = parse_datetime(line, &wall_s, err);
    if (rc == 0 && comma[1] != '\0') {
        rc = parse_real(comma + 1, PRICES_LOW, PRICES_HIGH, &price_per_kwh, err);
    }
    if (rc < 0) {
        return rc;
    }
    int64_t step_s = wall_s - reader->last_s;
    if (reader->has_row && step_s <= 0) {
        return err_fail(err, EINVAL, "time '%s' is not later than the row before", line);
    }
    bool is_hole = reader->step_s > 0 && step_s > UNITS_S_PER_DAY && step_s > 2 * reader->step_s;
    if (is_hole) {
        put(&reader->prices, reader->last_s + reader->step_s, UNITS_NONE);
    } else if (reader->has_row) {
        reader->step_s = step_s;
    }
    put(&reader->prices, wall_s, price_per_kwh);
    reader->last_s = wall_s;
    reader->has_row = true;
    return 0;
}

static int read_rows(struct reader *reader, char *text, const char *path, struct err *err)
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
            rc = add_row(reader, line, err);
        } else if (strcmp(line, HEADER) != 0) {
            char quoted[48];
            parse_quote(line, quoted, sizeof quoted);
            rc = err_fail(err, EINVAL, "the header is '%s', not '" HEADER "'", quoted);
        }
        if (rc < 0) {
            err_prefix(err, "%s:%d", path, number);
            return rc;
        }
        has_header = true;
    }
    if (reader->step_s == 0) {
        return err_fail(err, EINVAL,
                        "%s: two rows of prices at least: the last one holds as long as the step "
                        "before it",
                        path);
    }
    reader->prices.end_s = reader->last_s + reader->step_s;
    return 0;
}

int prices_load(const char *path, struct prices *ret, struct err *err)
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
    struct reader reader = {.prices = {.rows = calloc(2 * lines, sizeof *reader.prices.rows)}};
    rc = reader.prices.rows ? read_rows(&reader, text, path, err)
                            : err_fail(err, ENOMEM, "%s: out of memory", path);
    free(text);
    if (rc < 0) {
        prices_free(&reader.prices);
        return rc;
    }
    *ret = reader.prices;
    return 0;
}

void prices_free(struct prices *prices)
{
    free(prices->rows);
    memset(prices, 0, sizeof *prices);
}
