/* SPDX-License-Identifier: Apache-2.0 */
#include "prices.h"

#include "err.h"
#include "timeseries.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static const struct timeseries_form form = {.name = "price_per_kwh",
                                            .low = PRICES_LOW,
                                            .high = PRICES_HIGH,
                                            .may_be_empty = true,
                                            .bytes_max = 8U << 20};

static void put(struct prices *prices, int64_t from_s, double price_per_kwh)
{
    prices->rows[prices->count++] = (struct tariff_price){from_s, price_per_kwh};
}

/* Room for two rows a row: each may begin behind a hole. */
static void put_all(struct prices *prices, const struct timeseries *series)
{
    int64_t usual_s = series->wall_s[1] - series->wall_s[0];
    put(prices, series->wall_s[0], series->value[0]);
    for (size_t i = 1; i < series->count; i++) {
        const int64_t step_s = series->wall_s[i] - series->wall_s[i - 1];
        if (step_s > UNITS_S_PER_DAY && step_s > 2 * usual_s) {
            put(prices, series->wall_s[i - 1] + usual_s, UNITS_NONE);
        } else {
            usual_s = step_s;
        }
        put(prices, series->wall_s[i], series->value[i]);
    }
    prices->end_s = series->wall_s[series->count - 1] + usual_s;
}

int prices_load(const char *path, struct prices *ret, struct err *err)
{
    struct timeseries series;
    int rc = timeseries_load(path, &form, &series, err);
    if (rc < 0) {
        return rc;
    }
    struct prices prices = {.rows = calloc(2 * series.count + 1, sizeof *prices.rows)};
    if (series.count < 2) {
        rc = err_fail(err, EINVAL,
                      "%s: two rows of prices at least: the last one holds as long as the step "
                      "before it",
                      path);
    } else if (!prices.rows) {
        rc = err_fail(err, ENOMEM, "%s: out of memory", path);
    } else {
        put_all(&prices, &series);
    }
    timeseries_free(&series);
    if (rc < 0) {
        prices_free(&prices);
        return rc;
    }
    *ret = prices;
    return 0;
}

void prices_free(struct prices *prices)
{
    free(prices->rows);
    memset(prices, 0, sizeof *prices);
}
