/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A file of electricity prices: a timeseries with the header `time,price_per_kwh`; the price
 * (−10 000 … 100 000, currency per kWh) holds until the next row, the last one as long as the step
 * before it. A row without a price, or a step of more than a day and twice the one before it,
 * begins a hole that the file does not cover.
 */
#ifndef LAMPWARDEN_PRICES_H
#define LAMPWARDEN_PRICES_H

#include "tariff.h"

#include <stddef.h>

struct err;

/* Of every price that is written anywhere. Wide enough for currencies whose kWh costs thousands, so
 * prices per MWh are not refused by it: they are told by what they are beside the plain price. */
#define PRICES_LOW  (-10000.0)
#define PRICES_HIGH 100000.0

struct prices {
    size_t count;
    struct tariff_price *rows; /* holes are rows of NaN */
    int64_t end_s;
};

/* Errors name file:line, value and range. *ret is the caller's; free with prices_free. */
int prices_load(const char *path, struct prices *ret, struct err *err);
void prices_free(struct prices *prices);

#endif
