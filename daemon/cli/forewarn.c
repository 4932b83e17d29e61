/* SPDX-License-Identifier: Apache-2.0 */
#include "forewarn.h"

#include "tariff_words.h"

#include <stdio.h>

#define GAPS_TOLD 3

static void warn(const char *text)
{
    (void)fprintf(stderr, "lampwarden rehearse: warning: %s\n", text);
}

void forewarn_of_prices(const struct config *config, int64_t first_s, int64_t last_s)
{
    const struct config_site *site = &config->site;
    char text[TARIFF_WORDS_MAX];
    const bool has_begun = !tariff_misses_series(&site->tariff, first_s);
    if (!has_begun || tariff_misses_series(&site->tariff, last_s)) {
        tariff_words_gap(site, has_begun ? last_s : first_s, text, sizeof text);
        warn(text);
    }
}

static const struct config_space *first_under_daylight(const struct config *config)
{
    for (int s = 0; s < config->space_count; s++) {
        if (config->spaces[s].rules.sees_daylight) {
            return &config->spaces[s];
        }
    }
    return NULL;
}

void forewarn_of_daylight(const struct config *config, const char *path,
                          const struct daylight *daylight, int64_t first_s, int64_t last_s)
{
    const struct config_space *space = first_under_daylight(config);
    if (!space && path) {
        warn("no space has sees_daylight, so the daylight falls on none");
    }
    if (space && !path) {
        (void)fprintf(stderr,
                      "lampwarden rehearse: warning: without --daylight it is dark outside all "
                      "day, also for space %s, which sees daylight\n",
                      space->name);
    }
    if (!space || !path) {
        return;
    }
    struct daylight_gap gap = {.to_s = first_s};
    char text[DAYLIGHT_WORDS_MAX];
    for (int told = 0; daylight_gap(daylight, gap.to_s, last_s, &gap); told++) {
        if (told == GAPS_TOLD) {
            warn("… and more such gaps follow");
            return;
        }
        daylight_words_gap(path, &gap, &space->rules.day, text, sizeof text);
        warn(text);
    }
}
