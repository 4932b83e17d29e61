/* SPDX-License-Identifier: Apache-2.0 */
/* The site's tariff in a sentence, times by the clock on its wall. */
#ifndef LAMPWARDEN_TARIFF_WORDS_H
#define LAMPWARDEN_TARIFF_WORDS_H

#include "config.h"

#include <stddef.h>

#define TARIFF_WORDS_MAX 256

/* "prices of 2026-11-02: 0.21 … 0.34 EUR per kWh, cheapest 01:00 to 05:00; …" of the civil day in
 * which wall_s lies; "" where one price holds for ever. */
void tariff_words_day(const struct config_site *site, int64_t wall_s, char *buffer, size_t size);

/* For a moment of which tariff_misses_series is true: what stands in, and where the file ends. */
void tariff_words_gap(const struct config_site *site, int64_t wall_s, char *buffer, size_t size);

/* What stands in from when the file of prices ends, if it does so before the civil day of wall_s
 * does; "" if not. */
void tariff_words_end(const struct config_site *site, int64_t wall_s, char *buffer, size_t size);

#endif
