/* SPDX-License-Identifier: Apache-2.0 */
/* Keys of prices that change. */
#include "schema_parts.h"

#include "config.h"
#include "prices.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

static const struct key rule_keys[] = {
    [RULE_DAYS] = {.name = "days", .type = KEY_WEEKDAYS, .fallback = "Mon-Sun",
        .help = "Days of the week on which it begins."},
    [RULE_MONTHS] = {.name = "months", .type = KEY_MONTHS, .fallback = "Jan-Dec",
        .help = "Months in which it begins."},
    [RULE_FROM] = {.name = "from", .type = KEY_TIME, .fallback = "00:00",
        .help = "Time of day by the clock on the wall."},
    [RULE_TO] = {.name = "to", .type = KEY_TIME, .high = SCHEMA_DAY_END_S, .fallback = "24:00",
        .help = "… until then. Not later than from: over midnight, and the day is that of the "
                "beginning."},
    [RULE_PRICE] = {.name = "price_per_kwh", .type = KEY_REAL, .unit = "currency per kWh",
        .low = PRICES_LOW, .high = PRICES_HIGH,
        .help = "What it costs then, all included."},
    {0},
};

const struct key schema_tariff[] = {
    [TARIFF_RULES] = {.name = "rules", .type = KEY_LIST, .inner = rule_keys,
        .high = CONFIG_TARIFF_RULES_MAX, .fallback = "",
        .help = "Prices by day, month and time of day; the first rule that fits holds, else the "
                "site's price_per_kwh. With time_zone they follow daylight saving, with "
                "utc_offset they do not."},
    [TARIFF_FILE] = {.name = "prices_file", .type = KEY_TEXT, .low = 1, .high = 255,
        .fallback = "",
        .help = "Prices of a market, read at the start and at every reload: CSV, first line "
                "\"time,price_per_kwh\", then rows such as \"2026-11-02T06:00+01:00,0.0873\", "
                "rising. A price holds until the next row, the last one as long as the step before "
                "it. Where the file says nothing, the rules hold. A path without a leading / begins "
                "in the folder of this file."},
    [TARIFF_EXTRA] = {.name = "prices_extra_per_kwh", .type = KEY_REAL,
        .unit = "currency per kWh", .low = PRICES_LOW, .high = PRICES_HIGH, .fallback = "0",
        .help = "Grid fee, taxes and the like on top of every price of that file."},
    {0},
};
