/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a kilowatt-hour costs at a moment: a series of prices with a beginning each (a day-ahead
 * market) where it covers the moment, else the first rule that fits its civil time, else the plain
 * price. Prices may be negative. A light day of fixed offset and a civil day meet only in wall_s:
 * nothing here counts hours of either.
 */
#ifndef LAMPWARDEN_TARIFF_H
#define LAMPWARDEN_TARIFF_H

#include "civil.h"

#include <stdbool.h>
#include <stdint.h>

/* By what the clock on the wall shows: an hour that it skips costs nothing, one that it shows twice
 * has its price twice. */
struct tariff_rule {
    uint8_t weekdays;     /* bit 0 Monday … bit 6 Sunday */
    uint16_t months;      /* bit 0 January … bit 11 December */
    int32_t from_s, to_s; /* of the civil day, 0 … 86400; from ≥ to: over midnight, the day and the
                             month are those of its beginning; both the same: 24 h */
    double price_per_kwh;
};

struct tariff_price {
    int64_t from_s;       /* UTC */
    double price_per_kwh; /* NaN: not known from here to the next */
};

struct tariff {
    struct civil civil;
    double price_per_kwh; /* where nothing else holds */
    int rule_count;
    const struct tariff_rule *rules; /* owned by the configuration */
    int series_count;
    const struct tariff_price *series; /* strictly rising; the last one holds until series_end_s */
    int64_t series_end_s;
    double series_extra_per_kwh; /* grid fee and taxes on top of the series */
};

double tariff_price(const struct tariff *tariff, int64_t wall_s);

/* What rules and plain price say of a civil time, whatever the series knows. */
double tariff_rule_price(const struct tariff *tariff, const struct civil_time *time);

/* The next moment after wall_s at which another price may begin, at most until_s (> wall_s). From
 * wall_s to there the price stands still. */
int64_t tariff_next_change(const struct tariff *tariff, int64_t wall_s, int64_t until_s);

/* One price for ever. */
static inline bool tariff_is_flat(const struct tariff *tariff)
{
    return tariff->rule_count == 0 && tariff->series_count == 0;
}

/* True where there is a series and it does not cover wall_s: rules and plain price stand in. */
bool tariff_misses_series(const struct tariff *tariff, int64_t wall_s);

#endif
