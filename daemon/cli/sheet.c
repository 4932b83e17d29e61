/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden sheet`: all that is known of a space, for the wall. */
#include "sheet_parts.h"

#include "err.h"
#include "options.h"
#include "verb.h"

#include <stdlib.h>
#include <string.h>

#define NAME SHEET_NAME

static int find_space(const struct sheet_words *words, struct sheet *sheet)
{
    char names[256] = "";
    const struct config *config = sheet->config;
    for (int i = 0; i < config->space_count; i++) {
        const size_t used = strlen(names);
        if (strcmp(config->spaces[i].name, words->space) == 0) {
            sheet->space = &config->spaces[i];
            return VERB_OK;
        }
        (void)snprintf(names + used, sizeof names - used, "%s%s", used > 0 ? ", " : "",
                       config->spaces[i].name);
    }
    return verb_fail(NAME, VERB_FAILED, "no space \"%s\" in %s (%s)", words->space, config->path,
                     names);
}

static int fill(FILE *out, const void *context, struct err *err)
{
    return sheet_write(out, context, true, err);
}

static int give_out(const struct sheet_words *words, const struct sheet *sheet)
{
    struct err err;
    if (words->html && html_write(words->html, fill, sheet, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (words->wants_json) {
        sheet_json(sheet);
    } else if (words->wants_text || !words->html) {
        return sheet_write(stdout, sheet, false, &err) < 0
                   ? verb_fail(NAME, VERB_FAILED, "%s", err.text)
                   : VERB_OK;
    }
    return VERB_OK;
}

static int work(const struct sheet_words *words, char **maps, int map_count, struct sheet *sheet)
{
    int code = find_space(words, sheet);
    if (code == VERB_OK) {
        code = sheet_gather(words, maps, map_count, sheet);
    }
    if (code == VERB_OK) {
        code = give_out(words, sheet);
    }
    return code;
}

static int load_and_work(const struct sheet_words *words, char **maps, int map_count)
{
    struct config *config = NULL;
    struct config_report findings = {0};
    struct sheet *sheet = calloc(1, sizeof *sheet);
    int code = VERB_FAILED;
    if (!sheet) {
        return verb_fail(NAME, VERB_FAILED, "no memory for the sheet");
    }
    if (config_load_guarded(words->config, &config, &findings) == 0) {
        sheet->config = config;
        code = work(words, maps, map_count, sheet);
    } else {
        (void)fputs(findings.text, stderr);
        code = verb_fail(NAME, VERB_BAD_CONFIG, "%s is not a sound configuration", words->config);
    }
    for (int i = 0; i < sheet->map_count; i++) {
        lightmap_free(&sheet->maps[i]);
    }
    config_report_free(&findings);
    config_free(config);
    free(sheet);
    return code;
}

static int run(int argc, char **argv)
{
    struct sheet_words words = {.config = VERB_DEFAULT_CONFIG};
    const struct verb_option table[] = {
        {"config", 'c', &words.config, NULL},
        {"html", 0, &words.html, NULL},
        {"text", 0, NULL, &words.wants_text},
        {"json", 0, NULL, &words.wants_json},
        {"map", 0, &words.map, NULL},
        {"height", 0, &words.height, NULL},
        {"date", 0, &words.date, NULL},
        {"ppf", 0, &words.ppf, NULL},
        {"area", 0, &words.area, NULL},
        {"volts", 0, &words.volts, NULL},
        {"power-factor", 0, &words.factor, NULL},
        {"thd", 0, &words.thd, NULL},
        {"breaker", 0, &words.breaker, NULL},
        {"inrush", 0, &words.inrush, NULL},
        {"margin", 0, &words.margin, NULL},
        {"lead", 0, &words.lead, NULL},
        {"lead-current", 0, &words.lead_current, NULL},
        {"lead-mm2", 0, &words.lead_mm2, NULL},
        {"lead-awg", 0, &words.lead_awg, NULL},
        {NULL, 0, NULL, NULL},
    };
    const int count = verb_options(NAME, table, argc, argv, 1 + SHEET_MAPS);
    if (count < 0) {
        return VERB_USAGE;
    }
    if (count == 0) {
        return verb_usage(NAME, "it takes the name of a space");
    }
    if (words.wants_json && words.wants_text) {
        return verb_usage(NAME, "one of --text and --json");
    }
    if (words.html && strcmp(words.html, "-") == 0 && (words.wants_text || words.wants_json)) {
        return verb_usage(NAME, "--html - leaves no place for --text or --json");
    }
    words.space = argv[1];
    return load_and_work(&words, argv + 2, count - 1);
}

const struct verb verb_sheet = {
    .name = NAME,
    .summary = "the commissioning sheet of a space, for the wall: text, or a page to print",
    .help =
        "usage: lampwarden sheet SPACE [--map FILE...] [OPTION...]\n"
        "\n"
        "Gathers what configuration and fixture records know of a space: fixtures with dimming "
        "curve, residuals, lowest\n"
        "light, drive ceiling and heat limits, light over the canopy, power, efficacy and cost, "
        "mains; what was not\n"
        "measured; cautions and lines to sign. The same files make the same sheet, byte for byte. "
        "Needs no daemon, and\n"
        "changes nothing.\n"
        "\n"
        "  --html FILE         one HTML file with everything in it, for A4 or letter paper; "
        "pictures by gnuplot, where it is\n"
        "                      installed; - for standard output\n"
        "  --text              text on standard output: the default without --html\n"
        "  --json              the figures as JSON\n"
        "  --map FILE...       light maps as `lampwarden survey` reads them, of all fixtures "
        "together\n"
        "  --height LENGTH     which of several maps is that of the height they hang at\n"
        "  --date DATE         of the sheet; default the last day on which one of the fixtures was "
        "measured\n"
        "  -c, --config FILE   default " VERB_DEFAULT_CONFIG "\n"
        "  --ppf UMOL_S        photons that leave all fixtures at full light, from their sheet\n"
        "  --area SIDES        of the canopy, as 1.2x0.6m, where there is no map\n"
        "  --volts V           supply, one phase; with --power-factor PF (default 1) and --thd "
        "SHARE\n"
        "  --breaker NAME      as C16; with --inrush A of one LED driver and --margin K as of "
        "`lampwarden breaker`\n"
        "  --lead LENGTH       one way of the DC lead; with --lead-current A and --lead-mm2 N or "
        "--lead-awg N\n"
        "\n"
        "examples:\n"
        "  lampwarden sheet lettuce --html lettuce.html --map at60.csv --ppf 1400\n"
        "  lampwarden sheet basil -c etc/demo.conf --area 1.2x0.6m --volts 230 --power-factor "
        "0.95\n",
    .run = run,
};
