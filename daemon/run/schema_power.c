/* SPDX-License-Identifier: Apache-2.0 */
/* Keys of the one supply that all lamps share. */
#include "schema_parts.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

const struct key schema_power[] = {
    [POWER_LIMIT] = {.name = "limit_w", .type = KEY_REAL, .unit = "W", .low = 1, .high = 1e6,
        .fallback = "",
        .help = "Never more than this for all lamps together, by their dimming curves, or by their "
                "meters where those read more. When it does not suffice the light goes where it is "
                "worth most, and the plan shifts ahead what cannot be had later. It protects no "
                "cable: fuses do. Left out: no limit."},
    [POWER_SOFT] = {.name = "soft_limit_w", .type = KEY_REAL, .unit = "W", .low = 1, .high = 1e6,
        .fallback = "",
        .help = "Above this a kilowatt-hour costs soft_price_per_kwh more; it is crossed only where "
                "a target is worth that or a stage's floor_umol needs it. Left out: none."},
    [POWER_SOFT_PRICE] = {.name = "soft_price_per_kwh", .type = KEY_REAL,
        .unit = "currency per kWh", .low = 0.0001, .high = 1e6, .fallback = "",
        .help = "What a kilowatt-hour above the soft limit costs on top of the tariff. From a "
                "demand charge: the charge for one kilowatt and month, divided by the hours of a "
                "month in which you expect to be above the soft limit (9 a kW and 60 h: 0.15)."},
    {0},
};
