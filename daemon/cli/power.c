/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden power`: watts, photons per joule and what a stage's light costs. */
#include "power_parts.h"

#include "clock.h"
#include "err.h"
#include "lightmap.h"
#include "options.h"
#include "parse.h"
#include "units.h"
#include "verb.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NAME "power"

struct words {
    const char *config, *space, *stage, *ppf, *area, *map, *volts, *factor, *thd, *demand, *fixed,
        *plot;
    bool wants_json;
};

int power_read_area(const char *verb, const char *text, double *ret_m2)
{
    struct err err;
    char first[24];
    double width_m;
    double depth_m;
    const char *cross = strchr(text, 'x');
    const size_t length = cross ? (size_t)(cross - text) : 0;
    if (!cross || length == 0 || length + 4 > sizeof first) {
        return verb_usage(verb, "--area: \"%s\" is not two sides, as 1.2x0.6m", text);
    }
    (void)snprintf(first, sizeof first, "%.*s", (int)length, text);
    if (strchr("0123456789.", first[length - 1])) {
        const char *unit = cross + 1 + strspn(cross + 1, "0123456789.");
        (void)snprintf(first + length, sizeof first - length, "%.3s", unit);
    }
    if (parse_length(first, 0.01, 1000, &width_m, &err) < 0 ||
        parse_length(cross + 1, 0.01, 1000, &depth_m, &err) < 0) {
        return verb_usage(verb, "--area: %s", err.text);
    }
    *ret_m2 = width_m * depth_m;
    return VERB_OK;
}

int power_read_mains(const char *verb, const char *volts, const char *factor, const char *thd,
                     struct power_report *report)
{
    double displacement = 1;
    double distortion = 0;
    report->has_mains = volts != NULL;
    int code = verb_share(verb, "thd", thd, &distortion);
    if (code == VERB_OK) {
        code = verb_number(verb, "volts", volts, 50, 1000, &report->mains.volts);
    }
    if (code == VERB_OK) {
        code = verb_number(verb, "power-factor", factor, 0.1, 1, &displacement);
    }
    report->mains.power_factor = mains_true_factor(displacement, distortion);
    return code;
}

/* The map's photons at its own level stand for the space's at full light. */
static int read_map(const char *path, struct power_report *report)
{
    struct err err;
    struct lightmap map = {0};
    if (lightmap_read(path, &map, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    power_take_map(report, &map);
    lightmap_free(&map);
    return VERB_OK;
}

static int read_light(const struct words *words, struct power_report *report)
{
    report->ppf_umol_s = report->canopy_umol_s = report->area_m2 = UNITS_NONE;
    if (words->area && words->map) {
        return verb_usage(NAME, "one of --area and --map");
    }
    int code = verb_number(NAME, "ppf", words->ppf, 1, 1e6, &report->ppf_umol_s);
    if (code == VERB_OK && words->map) {
        return read_map(words->map, report);
    }
    if (code == VERB_OK && words->area) {
        code = power_read_area(NAME, words->area, &report->area_m2);
        report->canopy_umol_s = report->area_m2 * space_configured_umol(&report->space->rules);
    }
    return code;
}

static int read_mains(const struct words *words, struct power_report *report)
{
    if (!words->volts && (words->factor || words->thd)) {
        return verb_usage(NAME, "--power-factor and --thd need --volts");
    }
    return power_read_mains(NAME, words->volts, words->factor, words->thd, report);
}

static int read_terms(const struct words *words, struct power_report *report)
{
    report->has_terms = words->demand || words->fixed;
    const int code =
        verb_number(NAME, "demand-per-kw", words->demand, 0, 1e6, &report->terms.demand_per_kw);
    return code == VERB_OK ? verb_number(NAME, "fixed-per-month", words->fixed, 0, 1e9,
                                         &report->terms.fixed_per_month)
                           : code;
}

static const struct config_space *find_space(const struct config *config, const char *name)
{
    char names[256] = "";
    for (int i = 0; i < config->space_count; i++) {
        const size_t used = strlen(names);
        if (strcmp(config->spaces[i].name, name) == 0) {
            return &config->spaces[i];
        }
        (void)snprintf(names + used, sizeof names - used, "%s%s", used > 0 ? ", " : "",
                       config->spaces[i].name);
    }
    (void)verb_fail(NAME, VERB_FAILED, "no space \"%s\" in %s (%s)", name, config->path, names);
    return NULL;
}

static int work(const struct words *words, struct power_report *report)
{
    struct err err;
    int code = read_light(words, report);
    if (code == VERB_OK) {
        code = read_mains(words, report);
    }
    if (code == VERB_OK) {
        code = read_terms(words, report);
    }
    if (code != VERB_OK) {
        return code;
    }
    report->day = lightday_of(&report->space->rules.day, clock_wall_ns() / CLOCK_NS_PER_S);
    if (power_reckon(report, words->stage, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    (words->wants_json ? power_json : power_text)(report);
    if (words->plot && power_plot(report, words->plot, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    return VERB_OK;
}

static int load_and_work(const struct words *words)
{
    struct config *config = NULL;
    struct config_report findings = {0};
    struct power_report *report = calloc(1, sizeof *report);
    int code = VERB_FAILED;
    if (!report) {
        return verb_fail(NAME, VERB_FAILED, "no memory");
    }
    if (config_load_guarded(words->config, &config, &findings) == 0) {
        report->config = config;
        report->space = find_space(config, words->space);
        code = report->space ? work(words, report) : VERB_FAILED;
    } else {
        (void)fputs(findings.text, stderr);
        code = verb_fail(NAME, VERB_BAD_CONFIG, "%s is not a sound configuration", words->config);
    }
    config_report_free(&findings);
    config_free(config);
    free(report);
    return code;
}

static int run(int argc, char **argv)
{
    struct words words = {.config = VERB_DEFAULT_CONFIG};
    const struct verb_option table[] = {
        {"config", 'c', &words.config, NULL},
        {"stage", 0, &words.stage, NULL},
        {"ppf", 0, &words.ppf, NULL},
        {"area", 0, &words.area, NULL},
        {"map", 0, &words.map, NULL},
        {"volts", 0, &words.volts, NULL},
        {"power-factor", 0, &words.factor, NULL},
        {"thd", 0, &words.thd, NULL},
        {"demand-per-kw", 0, &words.demand, NULL},
        {"fixed-per-month", 0, &words.fixed, NULL},
        {"plot", 0, &words.plot, NULL},
        {"json", 0, NULL, &words.wants_json},
        {NULL, 0, NULL, NULL},
    };
    const int count = verb_options(NAME, table, argc, argv, 2);
    if (count < 0) {
        return VERB_USAGE;
    }
    if (count == 0) {
        return verb_usage(NAME, "it takes the name of a space");
    }
    if (count == 2) {
        words.config = argv[1];
    }
    words.space = argv[count];
    return load_and_work(&words);
}

const struct verb verb_power = {
    .name = NAME,
    .summary = "watts, photons per joule, and what a stage's light costs at one level or planned",
    .help =
        "usage: lampwarden power [FILE] SPACE [OPTION...]\n"
        "\n"
        "Of a space in the configuration FILE: what its fixtures draw level by level, photons for "
        "their joules, current,\n"
        "heat; and what the light of each stage costs under the site's tariff, at one level and "
        "in the cheapest hours, a\n"
        "day, 30 days and 365 days from today. By the lamps alone, whatever the sun may give. "
        "Needs no daemon.\n"
        "\n"
        "  -c, --config FILE      the same as FILE (default " VERB_DEFAULT_CONFIG ")\n"
        "      --stage NAME       this stage only\n"
        "      --ppf UMOL_S       photons that leave all fixtures of the space at full light, in "
        "µmol/s, from their sheet\n"
        "      --area SIDES       of the canopy, as 1.2x0.6m: ppfd_full times it lands on the "
        "canopy\n"
        "      --map FILE         … or a light map as `lampwarden survey` reads it, of all "
        "fixtures together\n"
        "      --volts V          supply of the fixtures, one phase, for current and "
        "volt-amperes\n"
        "      --power-factor PF  default 1; the true one, or with --thd that of the fundamental\n"
        "      --thd SHARE        total harmonic distortion of the current, as 20%\n"
        "      --demand-per-kw P  what a month's highest kilowatts cost each\n"
        "      --fixed-per-month P  what a month costs whatever is drawn\n"
        "      --plot FILE        a picture of power and efficacy over the level: .png or .svg, - "
        "for "
        "the terminal\n"
        "      --json             the answer as JSON\n"
        "\n"
        "examples:\n"
        "  lampwarden power etc/demo.conf basil --area 1.2x0.6m\n"
        "  lampwarden power lettuce --stage growing --ppf 1500 --map at60.csv --volts 230 "
        "--power-factor 0.95\n"
        "  lampwarden power lettuce --demand-per-kw 6.58 --fixed-per-month 150\n",
    .run = run,
};
