/* SPDX-License-Identifier: Apache-2.0 */
/* The tariff with what it takes from other files: the zone's offsets and a series of prices. */
#include "config_build.h"

#include "arena.h"
#include "config_section.h"
#include "config_zone.h"
#include "err.h"
#include "findings.h"
#include "prices.h"
#include "units.h"

#include <string.h>

#define PATH_SIZE      520
#define SURELY_PER_MWH 20 /* times the plain price, which may hold fees and taxes */

static bool take_civil(const struct section *site, struct arena *arena, struct findings *findings,
                       struct civil *ret)
{
    const struct value *zone = &site->values[SITE_TIME_ZONE];
    struct zone_table table;
    struct err err;
    ret->offset_s = (int32_t)section_integer(site, SITE_UTC_OFFSET);
    if (!section_is_usable(site, SITE_TIME_ZONE)) {
        return true;
    }
    if (zone_changes(ZONE_FOLDER, zone->text, &table, &err) < 0) {
        findings_error(findings, zone->line, "site.time_zone: %s", err.text);
        return true;
    }
    size_t count = (size_t)table.count;
    struct civil_change *changes = arena_take(arena, count, sizeof *changes);
    if (changes) {
        memcpy(changes, table.changes, count * sizeof *changes);
        *ret = (struct civil){table.offset_s, table.count, changes};
    }
    return changes != NULL;
}

static bool take_rules(const struct value *list, struct arena *arena, struct tariff *tariff)
{
    struct tariff_rule *rules = arena_take(arena, (size_t)list->count, sizeof *rules);
    for (int i = 0; rules && i < list->count; i++) {
        const struct section *section = &list->sections[i];
        rules[i] = (struct tariff_rule){
            .weekdays = (uint8_t)section_integer(section, RULE_DAYS),
            .months = (uint16_t)section_integer(section, RULE_MONTHS),
            .from_s = (int32_t)section_integer(section, RULE_FROM),
            .to_s = (int32_t)section_integer(section, RULE_TO),
            .price_per_kwh = section_real(section, RULE_PRICE),
        };
    }
    tariff->rules = rules;
    tariff->rule_count = list->count;
    return rules != NULL;
}

/* Beside the configuration where it is not said from the root. */
static void find_file(const char *config_file, const char *path, char ret_path[PATH_SIZE])
{
    const char *slash = strrchr(config_file, '/');
    int folder = path[0] != '/' && slash ? (int)(slash + 1 - config_file) : 0;
    (void)snprintf(ret_path, PATH_SIZE, "%.*s%s", folder, config_file, path);
}

static double mean_price(const struct prices *prices)
{
    double sum = 0;
    int known = 0;
    for (size_t i = 0; i < prices->count; i++) {
        if (units_known(prices->rows[i].price_per_kwh)) {
            sum += prices->rows[i].price_per_kwh;
            known++;
        }
    }
    return known > 0 ? sum / known : 0;
}

/* Markets publish prices per MWh: a thousand times those per kWh. */
static void warn_unit(const struct prices *prices, double plain_price, int line,
                      struct findings *findings)
{
    const double mean = mean_price(prices);
    if (plain_price > 0 && mean > SURELY_PER_MWH * plain_price) {
        findings_warning(findings, line,
                         "site.tariff.prices_file: its prices are %.4g in the mean, %.0f times the "
                         "site's price_per_kwh: are they prices per MWh?",
                         mean, mean / plain_price);
    }
}

static bool take_series(const struct value *value, const char *config_file, struct arena *arena,
                        struct findings *findings, struct tariff *tariff)
{
    char path[PATH_SIZE];
    struct prices prices;
    struct err err;
    find_file(config_file, value->text, path);
    if (prices_load(path, &prices, &err) < 0) {
        findings_error(findings, value->line, "site.tariff.prices_file: %s", err.text);
        return true;
    }
    warn_unit(&prices, tariff->price_per_kwh, value->line, findings);
    struct tariff_price *series = arena_take(arena, prices.count, sizeof *series);
    if (series) {
        memcpy(series, prices.rows, prices.count * sizeof *series);
        tariff->series = series;
        tariff->series_count = (int)prices.count;
        tariff->series_end_s = prices.end_s;
    }
    prices_free(&prices);
    return series != NULL;
}

bool build_tariff(const struct section *root, const char *config_file, struct arena *arena,
                  struct findings *findings, struct tariff *ret)
{
    const struct section *site = section_group(root, ROOT_SITE);
    const struct section *section = section_group(site, SITE_TARIFF);
    ret->price_per_kwh = section_real(site, SITE_PRICE);
    ret->series_extra_per_kwh = section_real(section, TARIFF_EXTRA);
    return take_civil(site, arena, findings, &ret->civil) &&
           take_rules(&section->values[TARIFF_RULES], arena, ret) &&
           (!section_is_usable(section, TARIFF_FILE) ||
            take_series(&section->values[TARIFF_FILE], config_file, arena, findings, ret));
}
