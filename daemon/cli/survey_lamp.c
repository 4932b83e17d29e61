/* SPDX-License-Identifier: Apache-2.0 */
/* The maps of a survey, and how its fixture dims: from its record, or from the configuration. */
#include "survey_parts.h"

#include "config.h"
#include "options.h"
#include "record.h"
#include "units.h"
#include "verb.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define NAME "survey"

static const struct fixture_rules *find_fixture(const struct config *config, const char *name)
{
    for (int i = 0; i < config->space_count; i++) {
        const struct config_space *space = &config->spaces[i];
        for (int j = 0; j < space->rules.fixture_count; j++) {
            if (strcmp(config->fixtures[space->fixtures[j]].name, name) == 0) {
                return &space->rules.fixtures[j];
            }
        }
    }
    return NULL;
}

static void take(const struct fixture_rules *rules, const char *name, struct survey *survey)
{
    const struct dimcurve *curve = &rules->curve;
    survey->lamp = (struct height_lamp){
        .curve = *curve,
        .has_watts = curve->points[curve->first_lit].watts > 0,
        .drive_ceiling = rules->ceiling.drive_max,
    };
    survey->lamp_name = name;
}

static int load(const struct survey_source *source, struct survey *survey)
{
    struct config *config = NULL;
    struct config_report report = {0};
    const char *path = source->record ? source->record : source->config;
    const char *name = source->fixture ? source->fixture : survey->fixture;
    int code = VERB_OK;
    const int rc = source->record ? record_load(path, &config, &report)
                                  : config_load_guarded(path, &config, &report);
    if (rc < 0) {
        (void)fputs(report.text ? report.text : "", stderr);
        code = verb_fail(NAME, VERB_BAD_CONFIG, "%s is not a sound %s", path,
                         source->record ? "fixture record" : "configuration");
    } else {
        const struct fixture_rules *rules =
            find_fixture(config, source->record ? RECORD_FIXTURE : name);
        if (rules) {
            take(rules, source->record ? path : name, survey);
        } else {
            code = verb_fail(NAME, VERB_FAILED, "no space of %s has a fixture \"%s\"", path, name);
        }
    }
    config_report_free(&report);
    config_free(config);
    return code;
}

void survey_add_map(struct survey *survey, const struct lightmap *map)
{
    int place = survey->count++;
    while (place > 0 && survey->sorted[place - 1]->height_cm < map->height_cm) {
        survey->sorted[place] = survey->sorted[place - 1];
        place--;
    }
    survey->sorted[place] = map;
}

int survey_find_level(const char *verb, const struct dimcurve *curve, const char *lamp_name,
                      struct lightmap *map)
{
    if (map->has_level || !units_known(map->drive)) {
        return VERB_OK;
    }
    map->level = dimcurve_level(curve, map->drive);
    return map->level > 0
               ? VERB_OK
               : verb_fail(verb, VERB_FAILED, "%s: its drive of %g is dark by the curve of %s",
                           map->name, map->drive, lamp_name);
}

static int find_levels(const struct survey *survey, struct lightmap *maps, int count)
{
    int code = VERB_OK;
    for (int i = 0; code == VERB_OK && i < count; i++) {
        if (strcmp(maps[i].fixture, survey->fixture) == 0) {
            code = survey_find_level(NAME, &survey->lamp.curve, survey->lamp_name, &maps[i]);
        }
    }
    return code;
}

int survey_lamp_read(const struct survey_source *source, struct surveys *surveys)
{
    if (!source->record && !source->config) {
        return source->fixture ? verb_usage(NAME, "--fixture needs --config") : VERB_OK;
    }
    if (source->record && (source->config || source->fixture)) {
        return verb_usage(NAME, "one of --record and --config");
    }
    if (surveys->fixture_count > 1 && (source->record || source->fixture)) {
        return verb_usage(NAME, "maps of %d fixtures: --config alone finds each by its name",
                          surveys->fixture_count);
    }
    int code = VERB_OK;
    for (int i = 0; code == VERB_OK && i < surveys->fixture_count; i++) {
        struct survey *survey = &surveys->fixtures[i];
        if (!source->record && !source->fixture && !survey->fixture[0]) {
            return verb_usage(NAME, "--config needs --fixture NAME, or maps with a note "
                                    "\"# fixture: NAME\"");
        }
        code = load(source, survey);
        if (code == VERB_OK) {
            code = find_levels(survey, surveys->maps, surveys->map_count);
        }
    }
    return code;
}

double survey_lamp_watts(const struct survey *survey, double level)
{
    const struct dimcurve *curve = &survey->lamp.curve;
    return survey->lamp_name && survey->lamp.has_watts
               ? dimcurve_watts(curve, dimcurve_drive(curve, level))
               : UNITS_NONE;
}
