/* SPDX-License-Identifier: Apache-2.0 */
/* From the words of the command line to what the sheet tells. */
#include "sheet_parts.h"

#include "err.h"
#include "options.h"
#include "parse.h"
#include "units.h"
#include "verb.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#define NAME         SHEET_NAME
#define HEIGHT_SLACK 0.5 /* cm between --height and a map's own */
#define LEAD_USUAL_C 60.0

/* As said, else the last day on which one of its fixtures was measured. The day that costs begin
 * with is never that of the clock: the same files make the same sheet. */
static int find_date(const struct sheet_words *words, struct sheet *sheet)
{
    struct err err;
    int64_t day = 0;
    bool is_known = words->date != NULL;
    if (words->date && parse_date(words->date, &day, &err) < 0) {
        return verb_usage(NAME, "--date: %s", err.text);
    }
    for (int i = 0; !words->date && i < sheet->space->rules.fixture_count; i++) {
        const struct config_fixture *fixture = sheet_fixture(sheet, i);
        if (fixture->is_commissioned && (!is_known || fixture->commissioned > day)) {
            day = fixture->commissioned;
            is_known = true;
        }
    }
    if (is_known) {
        parse_format_date(day, sheet->date, sizeof sheet->date);
    }
    sheet->power.day = is_known ? day : sheet->space->rules.first_day;
    return VERB_OK;
}

static int read_map(struct sheet *sheet, const char *path)
{
    struct err err;
    struct lightmap *map = &sheet->maps[sheet->map_count];
    if (lightmap_read(path, map, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    sheet->map_count++;
    const int code =
        survey_find_level(NAME, &sheet_rules(sheet, 0)->curve, sheet_fixture(sheet, 0)->name, map);
    if (code == VERB_OK) {
        survey_add_map(&sheet->survey, map);
    }
    return code;
}

static int find_height(const struct sheet_words *words, struct sheet *sheet)
{
    struct err err;
    double height_m = 0;
    sheet->hung = sheet->map_count == 1 ? 0 : -1;
    if (!words->height) {
        return VERB_OK;
    }
    if (parse_length(words->height, 0.01, 100, &height_m, &err) < 0) {
        return verb_usage(NAME, "--height: %s", err.text);
    }
    sheet->hung = -1;
    for (int i = 0; i < sheet->survey.count; i++) {
        if (fabs(sheet->survey.sorted[i]->height_cm - 100 * height_m) <= HEIGHT_SLACK) {
            sheet->hung = i;
        }
    }
    return sheet->hung >= 0
               ? VERB_OK
               : verb_fail(NAME, VERB_FAILED, "no map was taken at %g cm", 100 * height_m);
}

static int read_maps(const struct sheet_words *words, char **paths, int count, struct sheet *sheet)
{
    struct survey *survey = &sheet->survey;
    if ((words->map != NULL) + count > SHEET_MAPS) {
        return verb_usage(NAME, "at most %d maps", SHEET_MAPS);
    }
    int code = words->map ? read_map(sheet, words->map) : VERB_OK;
    for (int i = 0; code == VERB_OK && i < count; i++) {
        code = read_map(sheet, paths[i]);
    }
    if (code != VERB_OK) {
        return code;
    }
    survey->fixture = sheet->space->name;
    for (int i = 0; i < survey->count; i++) {
        mapstats_of(survey->sorted[i], &survey->stats[i]);
    }
    if (survey->count > 0) {
        survey->spot_count = spot_best(survey->sorted, survey->count, survey->spots, SURVEY_SPOTS);
    }
    return find_height(words, sheet);
}

static int read_mains(const struct sheet_words *words, struct power_report *report)
{
    if (!words->volts && (words->factor || words->thd || words->breaker)) {
        return verb_usage(NAME, "--power-factor, --thd and --breaker need --volts");
    }
    return power_read_mains(NAME, words->volts, words->factor, words->thd, report);
}

/* Missing watts are no error here: the sheet says so. */
static int read_power(const struct sheet_words *words, struct sheet *sheet)
{
    struct err err;
    struct power_report *report = &sheet->power;
    report->config = sheet->config;
    report->space = sheet->space;
    report->ppf_umol_s = report->canopy_umol_s = report->area_m2 = UNITS_NONE;
    if (words->area && sheet->hung >= 0) {
        return verb_usage(NAME, "--area is that of the map");
    }
    int code = verb_number(NAME, "ppf", words->ppf, 1, 1e6, &report->ppf_umol_s);
    if (code == VERB_OK && words->area) {
        code = power_read_area(NAME, words->area, &report->area_m2);
        report->canopy_umol_s = report->area_m2 * space_configured_umol(&sheet->space->rules);
    } else if (code == VERB_OK && sheet->hung >= 0) {
        power_take_map(report, sheet->survey.sorted[sheet->hung]);
    }
    if (code == VERB_OK) {
        code = read_mains(words, report);
    }
    if (code != VERB_OK) {
        return code;
    }
    const int rc = power_reckon(report, NULL, &err);
    sheet->has_power = rc == 0;
    (void)snprintf(sheet->no_power, sizeof sheet->no_power, "%.255s", rc < 0 ? err.text : "");
    return rc == 0 || rc == -EINVAL ? VERB_OK : verb_fail(NAME, VERB_FAILED, "%s", err.text);
}

/* One LED driver a fixture: the strongest counts. */
static int read_breaker(const struct sheet_words *words, struct sheet *sheet)
{
    struct err err;
    double full_w = 0;
    sheet->load = (struct breaker_load){.inrush_a = UNITS_NONE, .margin = 1, .use = 1};
    if (!words->breaker) {
        return words->inrush || words->margin
                   ? verb_usage(NAME, "--inrush and --margin need --breaker")
                   : VERB_OK;
    }
    for (int i = 0; i < sheet->space->rules.fixture_count; i++) {
        full_w = fmax(full_w, sheet_full_w(sheet_rules(sheet, i)));
    }
    if (!(full_w > 0)) {
        return verb_fail(NAME, VERB_FAILED, "--breaker: the fixtures' watts are not known");
    }
    int code = verb_number(NAME, "inrush", words->inrush, 0.01, 10000, &sheet->load.inrush_a);
    if (code == VERB_OK) {
        code = verb_number(NAME, "margin", words->margin, 0.1, 20, &sheet->load.margin);
    }
    if (code != VERB_OK) {
        return code;
    }
    sheet->load.running_a = mains_a(&sheet->power.mains, full_w);
    sheet->has_breaker = true;
    if (breaker_parse(words->breaker, &sheet->breaker, &err) < 0 ||
        breaker_bears(&sheet->breaker, &sheet->load, &sheet->bears, &err) < 0) {
        return verb_usage(NAME, "--breaker: %s", err.text);
    }
    return VERB_OK;
}

static int read_lead(const struct sheet_words *words, struct sheet *sheet)
{
    struct err err;
    struct lead *lead = &sheet->lead;
    struct conductor *conductor = &lead->conductor;
    sheet->has_lead = words->lead != NULL;
    if (!words->lead && !words->lead_current && !words->lead_mm2 && !words->lead_awg) {
        return VERB_OK;
    }
    if (!words->lead || !words->lead_current || !words->lead_mm2 == !words->lead_awg) {
        return verb_usage(NAME, "--lead needs --lead-current and one of --lead-mm2 and --lead-awg");
    }
    *lead = (struct lead){.temperature_c = LEAD_USUAL_C};
    conductor->make = words->lead_awg ? CONDUCTOR_AWG_STRANDED : CONDUCTOR_MM2_FLEXIBLE;
    int code = verb_number(NAME, "lead-current", words->lead_current, 0.001, 100, &lead->current_a);
    if (code == VERB_OK) {
        code = verb_number(NAME, "lead-awg", words->lead_awg, 0, 40, &conductor->size);
    }
    if (code == VERB_OK) {
        code = verb_number(NAME, "lead-mm2", words->lead_mm2, 0, 1000, &conductor->size);
    }
    if (code != VERB_OK) {
        return code;
    }
    if (parse_length(words->lead, 0.01, 1000, &lead->length_m, &err) < 0 ||
        lead_of(lead, &sheet->lost, &err) < 0) {
        return verb_usage(NAME, "--lead: %s", err.text);
    }
    return VERB_OK;
}

int sheet_gather(const struct sheet_words *words, char **maps, int map_count, struct sheet *sheet)
{
    int code = find_date(words, sheet);
    if (code == VERB_OK) {
        code = read_maps(words, maps, map_count, sheet);
    }
    if (code == VERB_OK) {
        code = read_power(words, sheet);
    }
    if (code == VERB_OK) {
        code = read_breaker(words, sheet);
    }
    if (code == VERB_OK) {
        code = read_lead(words, sheet);
    }
    if (code == VERB_OK) {
        sheet_find_missing(sheet);
    }
    return code;
}
