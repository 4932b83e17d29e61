/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden check: is this configuration sound, what does it come to, what could it say. */
#include "verb.h"

#include "clock.h"
#include "config.h"
#include "options.h"
#include "power_words.h"
#include "tariff_words.h"
#include "wrap.h"

#include <stdbool.h>
#include <stdio.h>

struct options {
    const char *path;
    bool wants_print, wants_document;
};

static const char *plural(int count)
{
    return count == 1 ? "" : "s";
}

/* Of a sound configuration: what is wrong with it at this hour alone. */
static void warn_now(const struct config *config, int64_t wall_s, struct config_report *report)
{
    char text[TARIFF_WORDS_MAX];
    if (tariff_misses_series(&config->site.tariff, wall_s)) {
        tariff_words_gap(&config->site, wall_s, text, sizeof text);
    } else {
        tariff_words_end(&config->site, wall_s, text, sizeof text);
    }
    if (text[0] != '\0') {
        (void)fprintf(stderr, "%s: warning: site.tariff.prices_file: %s\n", config->path, text);
        report->warnings++;
    }
}

static void print_prices(FILE *out, const struct config *config, int64_t wall_s)
{
    char text[TARIFF_WORDS_MAX];
    tariff_words_day(&config->site, wall_s, text, sizeof text);
    if (text[0] != '\0') {
        (void)fprintf(out, "%s\n", text);
    }
}

static void print_day_starts(FILE *out, const struct config *config)
{
    char text[DAYSTART_WORDS_MAX];
    for (int i = 0; i < config->space_count; i++) {
        const struct config_space *space = &config->spaces[i];
        daystart_words(&space->day_start, &space->rules, text, sizeof text);
        (void)fprintf(out, "%s: %s\n", space->name, text);
    }
}

static void print_power(FILE *out, const struct config *config)
{
    char text[POWER_WORDS_MAX];
    power_words_limit(config, text, sizeof text);
    if (text[0] != '\0') {
        (void)fprintf(out, "%s\n", text);
    }
}

static void print_summary(FILE *out, const struct config *config,
                          const struct config_report *report)
{
    (void)fprintf(out, "%s: sound, %d warning%s; %d space%s, %d fixture%s, %d sensor%s, %d bus%s\n",
                  config->path, report->warnings, plural(report->warnings), config->space_count,
                  plural(config->space_count), config->fixture_count, plural(config->fixture_count),
                  config->sensor_count, plural(config->sensor_count), config->bus_count,
                  config->bus_count == 1 ? "" : "es");
}

static int check(const struct options *options)
{
    struct config *config = NULL;
    struct config_report report = {0};
    int result = config_load_guarded(options->path, &config, &report);
    int code = VERB_OK;
    (void)fputs(report.text, stderr);
    if (result != 0) {
        code = verb_fail("check", VERB_BAD_CONFIG, "%s: %d error%s, %d warning%s", options->path,
                         report.errors, plural(report.errors), report.warnings,
                         plural(report.warnings));
    } else if (!options->wants_print) {
        int64_t wall_s = clock_wall_ns() / CLOCK_NS_PER_S;
        warn_now(config, wall_s, &report);
        struct wrap wrap;
        FILE *out = wrap_begin(&wrap, stdout);
        print_summary(out, config, &report);
        print_prices(out, config, wall_s);
        print_power(out, config);
        print_day_starts(out, config);
        wrap_end(&wrap, 2);
    } else if (config_print(config, stdout) != 0) {
        code = verb_fail("check", VERB_FAILED, "the configuration could not be printed");
    }
    config_report_free(&report);
    config_free(config);
    return code;
}

/* Returns VERB_OK or VERB_USAGE. */
static int read_options(int argc, char **argv, struct options *ret)
{
    const struct verb_option table[] = {
        {"config", 'c', &ret->path, NULL},
        {"print", 0, NULL, &ret->wants_print},
        {"document", 0, NULL, &ret->wants_document},
        {NULL, 0, NULL, NULL},
    };
    int words = verb_options("check", table, argc, argv, 1);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (ret->wants_print && ret->wants_document) {
        return verb_usage("check", "one of --print and --document");
    }
    if (words > 0 && ret->path) {
        return verb_usage("check", "one file at a time");
    }
    if (words > 0) {
        ret->path = argv[1];
    }
    if (!ret->path) {
        ret->path = VERB_DEFAULT_CONFIG;
    }
    return VERB_OK;
}

static int run(int argc, char **argv)
{
    struct options options = {0};
    int code = read_options(argc, argv, &options);
    if (code != VERB_OK) {
        return code;
    }
    if (options.wants_document) {
        return config_document(stdout) == 0
                   ? VERB_OK
                   : verb_fail("check", VERB_FAILED, "the documentation could not be printed");
    }
    return check(&options);
}

const struct verb verb_check = {
    .name = "check",
    .summary = "whether a configuration is sound; prints it in full or documents every key",
    .help =
        "usage: lampwarden check [FILE] [OPTION...]\n"
        "\n"
        "Reads a configuration as the daemon would and reports everything that is wrong with it\n"
        "at once, one finding a line: file, line, key, value, allowed range. Changes nothing.\n"
        "\n"
        "options:\n"
        "  -c, --config FILE   the same as FILE (default " VERB_DEFAULT_CONFIG ")\n"
        "      --print         the effective values, defaults included, with their origin\n"
        "      --document      a documented configuration with every key; needs no FILE\n"
        "  -h, --help          this text\n"
        "\n"
        "examples:\n"
        "  lampwarden check etc/lampwarden.conf\n"
        "  lampwarden check --document > example.conf\n"
        "\n"
        "exit codes: 0 sound (warnings or not), 1 failed, 2 wrong usage, 3 wrong configuration\n",
    .run = run,
};
