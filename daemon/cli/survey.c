/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden survey`: light maps of a fixture at several heights, and the height to choose. */
#include "survey_parts.h"

#include "client.h"
#include "err.h"
#include "options.h"
#include "parse.h"
#include "survey_live.h"
#include "units.h"
#include "verb.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NAME         "survey"
#define USUAL_MOL    14.0 /* a lettuce's day (common practice, no source) */
#define USUAL_H      16.0
#define USUAL_STEP_M 0.05
/* Of a quantum sensor between two spectra (common practice, no source). */
#define USUAL_ERROR 0.05

struct words {
    const char *target, *hours, *ceiling, *evenness, *highest, *step, *price, *sensor_error, *plot;
    struct survey_source source;
    bool wants_json;
    struct survey_live_words live;
};

static int read_wish(const struct words *words, struct height_wish *wish)
{
    *wish = (struct height_wish){USUAL_MOL, USUAL_H, (double)INFINITY, 0, 1, NULL};
    int code = verb_number(NAME, "target", words->target, 0.01, 80, &wish->target_mol);
    if (code == VERB_OK) {
        code = verb_number(NAME, "hours", words->hours, 0.1, 24, &wish->lit_h);
    }
    if (code == VERB_OK) {
        code = verb_number(NAME, "ceiling", words->ceiling, 1, 5000, &wish->ceiling_umol);
    }
    if (code == VERB_OK) {
        code = verb_share(NAME, "evenness", words->evenness, &wish->min_over_mean);
    }
    return code == VERB_OK ? verb_share(NAME, "highest", words->highest, &wish->highest_level)
                           : code;
}

static int read_terms(const struct words *words, struct sidebyside_terms *terms)
{
    *terms = (struct sidebyside_terms){USUAL_H, 365, UNITS_NONE, USUAL_ERROR};
    int code = verb_number(NAME, "hours", words->hours, 0.1, 24, &terms->lit_h);
    if (code == VERB_OK) {
        code = verb_number(NAME, "price", words->price, 0, 1000, &terms->price_per_kwh);
    }
    return code == VERB_OK
               ? verb_share(NAME, "sensor-error", words->sensor_error, &terms->sensor_error)
               : code;
}

/* The fixture of that name, a new one when there is none yet; NULL: too many. */
static struct survey *fixture_of(struct surveys *surveys, const char *name)
{
    for (int i = 0; i < surveys->fixture_count; i++) {
        if (strcmp(surveys->fixtures[i].fixture, name) == 0) {
            return &surveys->fixtures[i];
        }
    }
    if (surveys->fixture_count == SURVEY_FIXTURES) {
        return NULL;
    }
    struct survey *fresh = &surveys->fixtures[surveys->fixture_count++];
    fresh->fixture = name;
    return fresh;
}

static int read_maps(struct surveys *surveys, char **paths, int count)
{
    for (int i = 0; i < count; i++) {
        struct err err;
        struct lightmap *map = &surveys->maps[i];
        if (lightmap_read(paths[i], map, &err) < 0) {
            return verb_fail(NAME, VERB_FAILED, "%s", err.text);
        }
        surveys->map_count++;
        struct survey *survey = fixture_of(surveys, map->fixture);
        if (!survey) {
            return verb_fail(NAME, VERB_FAILED, "%s: more than %d fixtures", paths[i],
                             SURVEY_FIXTURES);
        }
        survey_add_map(survey, map);
    }
    return VERB_OK;
}

static int analyse(struct survey *survey, const struct height_wish *wish, double step_cm)
{
    struct err err;
    survey->wish = *wish;
    survey->wish.lamp = survey->lamp_name ? &survey->lamp : NULL;
    for (int i = 0; i < survey->count; i++) {
        mapstats_of(survey->sorted[i], &survey->stats[i]);
    }
    height_fall_of(survey->sorted, survey->count, &survey->fall);
    if (height_choose(survey->sorted, survey->count, &survey->wish, step_cm, &survey->choice,
                      &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    survey->spot_count = spot_best(survey->sorted, survey->count, survey->spots, SURVEY_SPOTS);
    return VERB_OK;
}

static int analyse_all(struct surveys *surveys, const struct words *words)
{
    struct err err;
    struct height_wish wish;
    const struct height_offer *offers[SURVEY_FIXTURES];
    double step_m = USUAL_STEP_M;
    if (words->step && parse_length(words->step, 0.005, 1, &step_m, &err) < 0) {
        return verb_usage(NAME, "--step: %s", err.text);
    }
    int code = read_wish(words, &wish);
    if (code == VERB_OK) {
        code = read_terms(words, &surveys->terms);
    }
    for (int i = 0; code == VERB_OK && i < surveys->fixture_count; i++) {
        struct survey *survey = &surveys->fixtures[i];
        survey->wish_is_usual = !words->target && !words->hours;
        code = analyse(survey, &wish, step_m * 100);
        const int chosen = survey->choice.chosen;
        offers[i] = code == VERB_OK && chosen >= 0 ? &survey->choice.offers[chosen] : NULL;
    }
    if (code == VERB_OK && surveys->fixture_count > 1) {
        surveys->cheapest =
            sidebyside_of(offers, surveys->fixture_count, &surveys->terms, surveys->rows);
    }
    return code;
}

/* One fixture: that file. Several: "plot.png" becomes "plot-1.png", "plot-2.png" … */
static int plot(const struct surveys *surveys, const char *path)
{
    for (int i = 0; i < surveys->fixture_count; i++) {
        struct err err;
        char name[512];
        const char *dot = strrchr(path, '.');
        if (surveys->fixture_count == 1 || !dot) {
            (void)snprintf(name, sizeof name, "%s", path);
        } else {
            (void)snprintf(name, sizeof name, "%.*s-%d%s", (int)(dot - path), path, i + 1, dot);
        }
        if (survey_plot(&surveys->fixtures[i], name, &err) < 0) {
            return verb_fail(NAME, VERB_FAILED, "%s", err.text);
        }
        if (surveys->fixture_count > 1 && dot) {
            (void)fprintf(stderr, "%s: %s\n", surveys->fixtures[i].fixture, name);
        }
    }
    return VERB_OK;
}

static int work(const struct words *words, struct surveys *surveys, int argc, char **argv)
{
    int code = read_maps(surveys, argv, argc);
    if (code == VERB_OK) {
        code = survey_lamp_read(&words->source, surveys);
    }
    if (code == VERB_OK) {
        code = analyse_all(surveys, words);
    }
    if (code == VERB_OK && words->wants_json) {
        survey_json(surveys);
    } else if (code == VERB_OK) {
        survey_text(surveys);
    }
    return code == VERB_OK && words->plot ? plot(surveys, words->plot) : code;
}

/* The number of files, or −1 after saying what is wrong. */
static int read_words(struct words *words, int argc, char **argv)
{
    struct survey_live_words *live = &words->live;
    const struct verb_option table[] = {
        {"target", 0, &words->target, NULL},
        {"hours", 0, &words->hours, NULL},
        {"ceiling", 0, &words->ceiling, NULL},
        {"evenness", 0, &words->evenness, NULL},
        {"highest", 0, &words->highest, NULL},
        {"step", 0, &words->step, NULL},
        {"price", 0, &words->price, NULL},
        {"record", 0, &words->source.record, NULL},
        {"config", 'c', &words->source.config, NULL},
        {"fixture", 0, &words->source.fixture, NULL},
        {"plot", 0, &words->plot, NULL},
        {"sensor-error", 0, &words->sensor_error, NULL},
        {"live", 0, &live->space, NULL},
        {"grid", 0, &live->grid, NULL},
        {"spacing", 0, &live->spacing, NULL},
        {"margin", 0, &live->margin, NULL},
        {"height", 0, &live->height, NULL},
        {"output", 'o', &live->output, NULL},
        {"sensor", 0, &live->sensor, NULL},
        {"watts", 0, &live->watts, NULL},
        {"settle", 0, &live->settle, NULL},
        {"samples", 0, &live->samples, NULL},
        {"patience", 0, &live->patience, NULL},
        {"socket", 0, &live->socket_path, NULL},
        {"one-way", 0, NULL, &live->is_one_way},
        {"force", 0, NULL, &live->overwrites},
        {"yes", 0, NULL, &live->says_yes},
        {"json", 0, NULL, &words->wants_json},
        {NULL, 0, NULL, NULL},
    };
    const int files = verb_options(NAME, table, argc, argv, HEIGHT_MAPS_MAX);
    live->wants_json = words->wants_json;
    live->fixture = words->source.fixture;
    return files;
}

static int report(const struct words *words, int count, char **paths)
{
    struct surveys *surveys = calloc(1, sizeof *surveys);
    if (!surveys) {
        return verb_fail(NAME, VERB_FAILED, "no memory for the maps");
    }
    const int code = work(words, surveys, count, paths);
    for (int i = 0; i < surveys->map_count; i++) {
        lightmap_free(&surveys->maps[i]);
    }
    free(surveys);
    return code;
}

/* Walked to its end, the map is reported like any other. */
static int run_live(struct words *words)
{
    char path[SURVEY_LIVE_PATH_MAX];
    char *paths[] = {path};
    bool is_whole = false;
    struct height_wish wish;
    struct sidebyside_terms terms;
    if (!words->live.socket_path) {
        words->live.socket_path = CLIENT_DEFAULT_SOCKET;
    }
    int code = read_wish(words, &wish); /* nobody walks an hour towards a wrong word */
    if (code == VERB_OK) {
        code = read_terms(words, &terms);
    }
    if (code == VERB_OK) {
        code = survey_live(&words->live, path, &is_whole);
    }
    return code == VERB_OK && is_whole ? report(words, 1, paths) : code;
}

static int run(int argc, char **argv)
{
    struct words words = {0};
    const struct survey_live_words *live = &words.live;
    const int files = read_words(&words, argc, argv);
    if (files < 0) {
        return VERB_USAGE;
    }
    if (live->space) {
        return files == 0
                   ? run_live(&words)
                   : verb_usage(NAME, "--live makes its own file: no '%s' beside it", argv[1]);
    }
    if (live->grid || live->spacing || live->margin || live->height || live->output ||
        live->sensor || live->watts || live->settle || live->samples || live->patience ||
        live->socket_path || live->is_one_way || live->overwrites || live->says_yes) {
        return verb_usage(NAME, "--grid, --height, --output and the like belong to --live SPACE");
    }
    if (files == 0) {
        return verb_usage(NAME, "it takes one file for each hanging height");
    }
    return report(&words, files, argv + 1);
}

const struct verb verb_survey = {
    .name = NAME,
    .summary = "light maps over the canopy: how much, how even, how high to hang the fixture",
    .help =
        "usage: lampwarden survey FILE... [OPTION...]\n"
        "       lampwarden survey --live SPACE --grid 9x5 --spacing 15cm --height 60cm "
        "[OPTION...]\n"
        "\n"
        "Reads one light map for each hanging height of a fixture and says for each: mean with its "
        "standard error,\n"
        "least and most, evenness, photons that land on the canopy, fall at the edge, and whether "
        "it hangs askew. Then\n"
        "which height needs least power for the plants' day, and where one light sensor stands "
        "best. Maps of several fixtures\n"
        "(a note \"# fixture: name\") are compared side by side, each at its own height. Needs no "
        "daemon.\n"
        "\n"
        "A map is a CSV file:\n"
        "  # height_cm: 60          fixture above the canopy (or height_in)\n"
        "  # fixture_w: 300         wall power meanwhile, if known\n"
        "  # drive: 0.8             of the output, if known; # level: 0.75 the share of full light "
        "that it is\n"
        "  # ppf_umol_s: 720        photons that leave the fixture in a second, if known\n"
        "  # canopy_cm: 120 x 60    width and depth; left out, the outermost points lie at the "
        "walls\n"
        "  # dark_umol: 0.4         reading with the lamp off, taken away from all\n"
        "  x_cm,y_cm,ppfd_umol      (or x_in, y_in; an empty reading is a point left out)\n"
        "  0,0,182.5\n"
        "\n"
        "Hold the sensor level at the height of the leaves, cast no shadow, warm the lamp up for "
        "half an hour first\n"
        "(common practice, no source). Do not look into the lamp; wear eye protection under "
        "bright or narrow-band light.\n"
        "\n"
        "--live makes such a file: it walks you, or a rig that sends an Enter for each point, over "
        "the grid with the space's\n"
        "own light sensor, which the running daemon reads. Enter measures, once the reading has "
        "come to rest; b goes back, r\n"
        "measures the last point again, s skips, a number goes to that point, q ends. Every point "
        "is on the disk before the\n"
        "next: after q, Ctrl-C, a lost sensor, daemon or terminal the same command goes on. Points "
        "wait while the lamps are\n"
        "not where the first one found them: hold them first (lampwarden hold). The report follows "
        "the last point.\n"
        "\n"
        "While its sensor is carried, the daemon counts that light for the plants' day, dims above "
        "the stage's ceiling, and\n"
        "without a meter takes the dark for an LED driver that has tripped. Another light sensor "
        "on a bus, not in\n"
        "ppfd_sensors, misleads nobody: name it by --sensor.\n"
        "\n"
        "For a rig, without a terminal, each event is a line on stdout: point, reading, left-out, "
        "kept or waiting, then\n"
        "key=value; with --json an object. The report comes last.\n"
        "\n"
        "  --target MOL       light of a day that the plants shall have; default 14\n"
        "  --hours H          hours of light a day; default 16\n"
        "  --ceiling UMOL     highest PPFD anywhere on the canopy; default none\n"
        "  --evenness SHARE   least minimum over mean that is accepted, as 70% or 0.7; default "
        "any\n"
        "  --highest SHARE    highest level that the fixture may run at; default 100%\n"
        "  --step LENGTH      distance of heights interpolated between two maps with the same "
        "points; default 5cm\n"
        "  --record FILE      the fixture's record by `lampwarden sweep`: power by its own dimming "
        "curve, no more than its\n"
        "                     drive ceiling, no less than its lowest steady light; else power in "
        "proportion to light. A map that\n"
        "                     says its drive but no level has the level of the curve then\n"
        "  -c, --config FILE  the same from a configuration: of the fixture that the maps name, or "
        "of\n"
        "      --fixture NAME  that one\n"
        "  --price PRICE      of a kWh, for what the dearer of two fixtures costs more in a year\n"
        "  --sensor-error SHARE  what the sensor may be wrong by between two fixtures' colours; "
        "default 5%\n"
        "  --plot FILE        a picture of the maps and of what the height changes: .png or .svg, "
        "- for the terminal;\n"
        "                     of several fixtures one each, FILE with -1, -2 ... before its "
        "ending\n"
        "  --json             the answer as JSON\n"
        "\n"
        "With --live:\n"
        "  --grid CxR         columns and rows of points, 2x2 or more, 10000 points at most\n"
        "  --spacing LENGTH   between them, as 15cm, 6in, or 15cmx20cm across and along\n"
        "  --margin LENGTH    of the outermost points from the walls; default 0cm\n"
        "  --height LENGTH    of the fixture above the canopy, as 60cm or 24in\n"
        "  -o, --output FILE  default SPACE_HEIGHT.csv, as lettuce_60cm.csv\n"
        "  --force            begins a file anew that is there\n"
        "  --one-way          every row from the left; default to and fro, the shortest way\n"
        "  --sensor NAME      which light sensor is carried; default the space's only one\n"
        "  --fixture NAME     what the file says they are; default the space's fixtures\n"
        "  --watts W          of the fixtures meanwhile; default their meters, or dimming curves\n"
        "  --settle LENGTH    readings younger than this after Enter do not count; default 3s\n"
        "  --samples N        that have to agree; default 5\n"
        "  --patience LENGTH  a point that waits longer ends it; default 2min, at a terminal "
        "never\n"
        "  --yes              does not wait for Enter before the first point\n"
        "  --socket PATH      control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "\n"
        "examples: lampwarden survey at40.csv at60.csv at80.csv --target 13 --hours 16 --ceiling "
        "400\n"
        "          lampwarden survey --live lettuce --grid 9x5 --spacing 15cm --height 60cm\n",
    .run = run,
};
