/* SPDX-License-Identifier: Apache-2.0 */
/* The supply that all lamps share: what its keys say together, and what they make of the lamps. */
#include "config_build.h"

#include "config_check.h"
#include "findings.h"

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

void config_warn_power(const struct section *root, const struct config *config,
                       struct findings *findings)
{
    const struct section *power = section_group(section_group(root, ROOT_SITE), SITE_POWER);
    for (int key = POWER_LIMIT; key <= POWER_SOFT; key++) {
        if (section_is_usable(power, key)) {
            warn_limit(config, power, key, findings);
        }
    }
}
