/* SPDX-License-Identifier: Apache-2.0 */
/* The supply that all lamps share: what its keys say together, and what they make of the lamps. */
#include "config_build.h"

#include "config_check.h"
#include "findings.h"
#include "units.h"

#include <math.h>

void check_power(const struct section *site, struct findings *findings)
{
    const struct section *power = section_group(site, SITE_POWER);
    const struct value *hard = &power->values[POWER_LIMIT];
    const struct value *soft = &power->values[POWER_SOFT];
    const struct value *price = &power->values[POWER_SOFT_PRICE];
    if (section_is_usable(power, POWER_LIMIT) && section_is_usable(power, POWER_SOFT) &&
        !(soft->real < hard->real)) {
        findings_error(findings, soft->line,
                       "site.power.soft_limit_w: %.10g is not below limit_w (%.10g W)", soft->real,
                       hard->real);
    }
    if (soft->is_set && !price->is_set && !price->is_bad) {
        findings_error(findings, soft->line,
                       "site.power: missing soft_price_per_kwh (0.0001 … 1000000, currency per "
                       "kWh): what a kilowatt-hour above soft_limit_w costs on top");
    } else if (price->is_set && !soft->is_set && !soft->is_bad) {
        findings_error(findings, price->line,
                       "site.power: missing soft_limit_w (1 … 1000000, W): soft_price_per_kwh "
                       "says what is above it");
    }
}

static double watts_or_none(const struct section *power, int key)
{
    return section_is_usable(power, key) ? section_real(power, key) : (double)INFINITY;
}

void build_power(const struct section *site, struct power_limit *ret)
{
    const struct section *power = section_group(site, SITE_POWER);
    *ret = (struct power_limit){
        .hard_w = watts_or_none(power, POWER_LIMIT),
        .soft_w = watts_or_none(power, POWER_SOFT),
        .soft_price_per_kwh =
            section_is_usable(power, POWER_SOFT_PRICE) ? section_real(power, POWER_SOFT_PRICE) : 0,
    };
}

/* Of one key: what the lamps make of it. */
static void warn_limit(const struct config *config, const struct section *power, int key,
                       struct findings *findings)
{
    const double limit_w = section_real(power, key);
    const char *name = power->keys[key].name;
    const int line = power->values[key].line;
    double least_w = 0;
    double most_w = 0;
    for (int i = 0; i < config->space_count; i++) {
        const struct lampcurve *lamp = &config->spaces[i].rules.lamp;
        const double its_w = lamp->watts[0];
        least_w += its_w;
        most_w += lamp->watts[lamp->count - 1];
        if (limit_w < its_w) {
            findings_warning(findings, line,
                             "site.power.%s: %.10g W, but space %s draws %.0f W at its lowest "
                             "level: not all of its lamps can be lit",
                             name, limit_w, config->spaces[i].name, its_w);
        }
    }
    if (limit_w >= most_w) {
        findings_warning(
            findings, line,
            "site.power.%s: %.10g W has no effect: all lamps at full light draw %.0f W", name,
            limit_w, most_w);
    } else if (limit_w < least_w && config->space_count > 1) {
        findings_warning(findings, line,
                         "site.power.%s: %.10g W, but all spaces at their lowest level draw %.0f "
                         "W: they cannot be lit at the same time",
                         name, limit_w, least_w);
    }
}

#define HALF_HOUR_S 1800
#define HALF_HOURS  48

/* Marks the half hours of the day that the stage's window touches. */
static void mark_lit(const struct stage *stage, bool is_lit[HALF_HOURS])
{
    for (int i = 0; i < HALF_HOURS; i++) {
        const int64_t end_s = (int64_t)(i + 1) * HALF_HOUR_S - 1;
        const int64_t into_s = (end_s - stage->window.on_s + UNITS_S_PER_DAY) % UNITS_S_PER_DAY;
        is_lit[i] = is_lit[i] || into_s < stage->window.length_s + HALF_HOUR_S - 1;
    }
}

/* The least energy of a day of one stage without a sun, kWh: a convex curve asks least of it at one
 * level. */
static double least_kwh(const struct space_rules *rules, const struct stage *stage)
{
    const double length_s = stage->window.length_s;
    const double lit_s = ramp_integral(&stage->ramp, length_s, 0, length_s);
    const double even =
        fmin(stage->target_mol * 1e6 / (space_configured_umol(rules) * fmax(lit_s, 1)), 1);
    const double level = fmax(even, lampcurve_min_level(&rules->lamp));
    return units_kwh(lampcurve_watts(&rules->lamp, level), lit_s);
}

/* Of every space its most modest stage, kWh a day; marks when they are lit. */
static double modest_kwh(const struct config *config, bool with_sky, bool is_lit[HALF_HOURS])
{
    double kwh = 0;
    for (int s = 0; s < config->space_count; s++) {
        const struct space_rules *rules = &config->spaces[s].rules;
        double least = (double)INFINITY;
        for (int i = 0; (with_sky || !rules->sees_daylight) && i < rules->stage_count; i++) {
            least = fmin(least, least_kwh(rules, &rules->stages[i]));
            mark_lit(&rules->stages[i], is_lit);
        }
        kwh += isfinite(least) ? least : 0;
    }
    return kwh;
}

/* What not even the most modest stages can have together is out of reach; with what the sun has to
 * bring it is so on a dark day. */
static void warn_reach(const struct config *config, const struct section *power,
                       struct findings *findings)
{
    const double limit_w = section_real(power, POWER_LIMIT);
    for (int with_sky = 0; with_sky < 2; with_sky++) {
        bool is_lit[HALF_HOURS] = {false};
        const double kwh = modest_kwh(config, with_sky, is_lit);
        int half_hours = 0;
        for (int i = 0; i < HALF_HOURS; i++) {
            half_hours += is_lit[i];
        }
        const double most_kwh = units_kwh(limit_w, half_hours * HALF_HOUR_S);
        if (kwh > most_kwh) {
            findings_warning(findings, power->values[POWER_LIMIT].line,
                             "site.power.limit_w: the targets of all spaces take %.1f kWh a day at "
                             "the least%s, but %.10g W are %.1f kWh in the %.1f h of light",
                             kwh, with_sky ? " when the sun stays away" : "", limit_w, most_kwh,
                             half_hours / 2.0);
            return;
        }
    }
}

void config_warn_power(const struct section *root, const struct config *config,
                       struct findings *findings)
{
    const struct section *power = section_group(section_group(root, ROOT_SITE), SITE_POWER);
    for (int key = POWER_LIMIT; key <= POWER_SOFT; key++) {
        if (section_is_usable(power, key)) {
            warn_limit(config, power, key, findings);
        }
    }
    if (section_is_usable(power, POWER_LIMIT)) {
        warn_reach(config, power, findings);
    }
}
