/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden survey`: light maps of a fixture at several heights, and the height to choose. */
#include "survey_parts.h"

#include "err.h"
#include "level_word.h"
#include "options.h"
#include "parse.h"
#include "units.h"
#include "verb.h"

#include <stdlib.h>

#define NAME         "survey"
#define USUAL_MOL    14.0 /* a lettuce's day (common practice, no source) */
#define USUAL_H      16.0
#define USUAL_STEP_M 0.05

struct words {
    const char *target, *hours, *ceiling, *evenness, *highest, *step;
    bool wants_json;
};

static int read_number(const char *option, const char *text, double low, double high, double *ret)
{
    struct err err;
    if (text && parse_real(text, low, high, ret, &err) < 0) {
        return verb_usage(NAME, "%s: %s", option, err.text);
    }
    return VERB_OK;
}

static int read_share(const char *option, const char *text, double *ret)
{
    struct err err;
    if (text && level_word(text, ret, &err) < 0) {
        return verb_usage(NAME, "%s: %s", option, err.text);
    }
    return VERB_OK;
}

static int read_wish(const struct words *words, struct survey *survey, double *ret_step_cm)
{
    struct height_wish *wish = &survey->wish;
    double step_m = USUAL_STEP_M;
    struct err err;
    *wish = (struct height_wish){USUAL_MOL, USUAL_H, (double)INFINITY, 0, 1};
    survey->wish_is_usual = !words->target && !words->hours;
    if (words->step && parse_length(words->step, 0.005, 1, &step_m, &err) < 0) {
        return verb_usage(NAME, "--step: %s", err.text);
    }
    *ret_step_cm = step_m * 100;
    int code = read_number("--target", words->target, 0.01, 80, &wish->target_mol);
    if (code == VERB_OK) {
        code = read_number("--hours", words->hours, 0.1, 24, &wish->lit_h);
    }
    if (code == VERB_OK) {
        code = read_number("--ceiling", words->ceiling, 1, 5000, &wish->ceiling_umol);
    }
    if (code == VERB_OK) {
        code = read_share("--evenness", words->evenness, &wish->min_over_mean);
    }
    return code == VERB_OK ? read_share("--highest", words->highest, &wish->highest_level) : code;
}

static void sort_maps(struct survey *survey)
{
    for (int i = 0; i < survey->count; i++) {
        int place = i;
        while (place > 0 && survey->sorted[place - 1]->height_cm < survey->maps[i].height_cm) {
            survey->sorted[place] = survey->sorted[place - 1];
            place--;
        }
        survey->sorted[place] = &survey->maps[i];
    }
}

static int analyse(struct survey *survey, double step_cm)
{
    struct err err;
    sort_maps(survey);
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

static int read_maps(struct survey *survey, char **paths, int count)
{
    for (int i = 0; i < count; i++) {
        struct err err;
        if (lightmap_read(paths[i], &survey->maps[i], &err) < 0) {
            return verb_fail(NAME, VERB_FAILED, "%s", err.text);
        }
        survey->count++;
    }
    return VERB_OK;
}

static int work(const struct words *words, struct survey *survey, int argc, char **argv)
{
    double step_cm = 0;
    int code = read_wish(words, survey, &step_cm);
    if (code == VERB_OK) {
        code = read_maps(survey, argv, argc);
    }
    if (code == VERB_OK) {
        code = analyse(survey, step_cm);
    }
    if (code == VERB_OK && words->wants_json) {
        survey_json(survey);
    } else if (code == VERB_OK) {
        survey_text(survey);
    }
    return code;
}

static int run(int argc, char **argv)
{
    struct words words = {0};
    const struct verb_option table[] = {
        {"target", 0, &words.target, NULL},   {"hours", 0, &words.hours, NULL},
        {"ceiling", 0, &words.ceiling, NULL}, {"evenness", 0, &words.evenness, NULL},
        {"highest", 0, &words.highest, NULL}, {"step", 0, &words.step, NULL},
        {"json", 0, NULL, &words.wants_json}, {NULL, 0, NULL, NULL},
    };
    const int files = verb_options(NAME, table, argc, argv, HEIGHT_MAPS_MAX);
    if (files < 0) {
        return VERB_USAGE;
    }
    if (files == 0) {
        return verb_usage(NAME, "it takes one file for each hanging height");
    }
    struct survey *survey = calloc(1, sizeof *survey);
    if (!survey) {
        return verb_fail(NAME, VERB_FAILED, "no memory for the maps");
    }
    const int code = work(&words, survey, files, argv + 1);
    for (int i = 0; i < survey->count; i++) {
        lightmap_free(&survey->maps[i]);
    }
    free(survey);
    return code;
}

const struct verb verb_survey = {
    .name = NAME,
    .summary = "light maps over the canopy: how even, how much, and which height to hang it at",
    .help =
        "usage: lampwarden survey FILE... [OPTION...]\n"
        "\n"
        "Reads one light map for each hanging height of a fixture and says for each: mean with its "
        "standard error,\n"
        "least and most, evenness, photons that land on the canopy, fall at the edge, and whether "
        "it hangs askew. Then\n"
        "which height needs least power for the plants' day, and where one light sensor stands "
        "best. Needs no daemon.\n"
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
        "  --target MOL       light of a day that the plants shall have; default 14\n"
        "  --hours H          hours of light a day; default 16\n"
        "  --ceiling UMOL     highest PPFD anywhere on the canopy; default none\n"
        "  --evenness SHARE   least minimum over mean that is accepted, as 70% or 0.7; default "
        "any\n"
        "  --highest SHARE    highest level that the fixture may run at; default 100%\n"
        "  --step LENGTH      distance of heights interpolated between two maps with the same "
        "points; default 5cm\n"
        "  --json             the answer as JSON\n"
        "\n"
        "example: lampwarden survey at40.csv at60.csv at80.csv --target 13 --hours 16 --ceiling "
        "400\n",
    .run = run,
};
