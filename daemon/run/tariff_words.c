/* SPDX-License-Identifier: Apache-2.0 */
#include "tariff_words.h"

#include "parse.h"

#include <math.h>
#include <stdio.h>

#define HALF_ANOTHER_DAY_S 129600 /* 36 h: lies in the next civil day */

struct block {
    int64_t from_s, to_s;
    double price_per_kwh;
};

struct day {
    int64_t from_s, to_s;
    double low, high;
    struct block cheapest; /* the longest of that price */
};

/* Neighbours of one price are one block. */
static struct block block_at(const struct tariff *tariff, int64_t from_s, int64_t until_s)
{
    struct block block = {from_s, from_s, tariff_price(tariff, from_s)};
    while (block.to_s < until_s && tariff_price(tariff, block.to_s) == block.price_per_kwh) {
        block.to_s = tariff_next_change(tariff, block.to_s, until_s);
    }
    return block;
}

static struct day look_at_day(const struct tariff *tariff, int64_t wall_s)
{
    struct day day = {.low = (double)INFINITY, .high = -(double)INFINITY};
    day.from_s = civil_day_start(&tariff->civil, wall_s);
    day.to_s = civil_day_start(&tariff->civil, day.from_s + HALF_ANOTHER_DAY_S);
    for (int64_t at_s = day.from_s; at_s < day.to_s;) {
        struct block block = block_at(tariff, at_s, day.to_s);
        int64_t best_s = day.cheapest.to_s - day.cheapest.from_s;
        if (block.price_per_kwh < day.low ||
            (block.price_per_kwh == day.low && block.to_s - block.from_s > best_s)) {
            day.cheapest = block;
        }
        day.low = fmin(day.low, block.price_per_kwh);
        day.high = fmax(day.high, block.price_per_kwh);
        at_s = block.to_s;
    }
    return day;
}

static void put_time(const struct civil *civil, int64_t wall_s, char *buffer, unsigned size)
{
    parse_format_time_of_day(civil_time(civil, wall_s).second, buffer, size);
}

static void put_moment(const struct civil *civil, int64_t wall_s, char *buffer, unsigned size)
{
    parse_format_datetime(wall_s, civil_offset(civil, wall_s), buffer, size);
}

void tariff_words_day(const struct config_site *site, int64_t wall_s, char *buffer, size_t size)
{
    const struct tariff *tariff = &site->tariff;
    char date[16];
    char from[16];
    char to[16] = "24:00";
    char end[32];
    buffer[0] = '\0';
    if (tariff->rule_count == 0 && tariff->series_count == 0) {
        return;
    }
    struct day day = look_at_day(tariff, wall_s);
    struct civil_time civil = civil_time(&tariff->civil, day.from_s);
    parse_format_date(civil_day(civil.year, civil.month, civil.day), date, sizeof date);
    put_time(&tariff->civil, day.cheapest.from_s, from, sizeof from);
    if (day.cheapest.to_s < day.to_s) {
        put_time(&tariff->civil, day.cheapest.to_s, to, sizeof to);
    }
    const char *space = site->currency[0] ? " " : "";
    int used =
        day.low < day.high
            ? snprintf(buffer, size, "prices of %s: %.6g … %.6g%s%s per kWh, cheapest %s to %s",
                       date, day.low, day.high, space, site->currency, from, to)
            : snprintf(buffer, size, "prices of %s: %.6g%s%s per kWh all day", date, day.low, space,
                       site->currency);
    if (tariff->series_count > 0 && used > 0 && (size_t)used < size) {
        put_moment(&tariff->civil, tariff->series_end_s, end, sizeof end);
        (void)snprintf(buffer + used, size - (size_t)used, "; the file of prices ends at %s", end);
    }
}

static const char *stand_in(const struct tariff *tariff)
{
    return tariff->rule_count > 0 ? "the tariff's rules stand in"
                                  : "the site's price_per_kwh stands in";
}

void tariff_words_end(const struct config_site *site, int64_t wall_s, char *buffer, size_t size)
{
    const struct tariff *tariff = &site->tariff;
    const int64_t end_s = tariff->series_end_s;
    char end[32];
    buffer[0] = '\0';
    if (tariff->series_count > 0 && end_s > wall_s && end_s < look_at_day(tariff, wall_s).to_s) {
        put_moment(&tariff->civil, end_s, end, sizeof end);
        (void)snprintf(buffer, size, "the file of prices ends at %s, before the day does: %s then",
                       end, stand_in(tariff));
    }
}

void tariff_words_gap(const struct config_site *site, int64_t wall_s, char *buffer, size_t size)
{
    const struct tariff *tariff = &site->tariff;
    char now[32];
    char first[32];
    char end[32];
    put_moment(&tariff->civil, wall_s, now, sizeof now);
    put_moment(&tariff->civil, tariff->series[0].from_s, first, sizeof first);
    put_moment(&tariff->civil, tariff->series_end_s, end, sizeof end);
    (void)snprintf(buffer, size, "the file of prices says nothing of %s (it covers %s to %s): %s",
                   now, first, end, stand_in(tariff));
}
