/* SPDX-License-Identifier: Apache-2.0 */
/* What a space's light draws and costs, from its configuration and what is said of its light. */
#include "power_parts.h"

#include "err.h"
#include "lightmap.h"
#include "mapstats.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define MAP_DIFFERS 0.05 /* between a map and ppfd_full, of the latter */

__attribute__((format(printf, 2, 3))) static void remark(struct power_report *report,
                                                         const char *format, ...)
{
    va_list args;
    if (report->remark_count == POWER_REMARKS) {
        return;
    }
    char *text = report->remarks[report->remark_count++];
    va_start(args, format);
    (void)vsnprintf(text, sizeof report->remarks[0], format, args);
    va_end(args);
}

void power_take_map(struct power_report *report, const struct lightmap *map)
{
    struct mapstats stats;
    mapstats_of(map, &stats);
    const double mean_umol = stats.area_mean_umol / map->level;
    const double ppfd_full = space_configured_umol(&report->space->rules);
    report->area_m2 = map->width_cm * map->depth_cm * 1e-4;
    report->canopy_umol_s = stats.photons_umol_s / map->level;
    if (!units_known(report->ppf_umol_s)) {
        report->ppf_umol_s = map->ppf_umol_s / map->level;
    }
    if (fabs(mean_umol / ppfd_full - 1) > MAP_DIFFERS) {
        remark(report,
               "The map's mean at full light is %.0f µmol m⁻² s⁻¹, ppfd_full of the "
               "configuration adds up to %.0f: mend one of them.",
               mean_umol, ppfd_full);
    }
}

/* Watts that nobody gave are none, and a sum with them would be wrong. */
static int check_watts(const struct power_report *report, struct err *err)
{
    const struct space_rules *rules = &report->space->rules;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct dimcurve *curve = &rules->fixtures[i].curve;
        if (!(curve->points[curve->first_lit].watts > 0)) {
            return err_fail(err, EINVAL,
                            "fixture %s: its curve has no watts; measure them at the wall for "
                            "every point",
                            report->config->fixtures[report->space->fixtures[i]].name);
        }
    }
    return 0;
}

static int find_best(const struct efficacy_row *rows, int count)
{
    int best = 0;
    for (int i = 1; i < count; i++) {
        if (rows[i].share / rows[i].watts > rows[best].share / rows[best].watts) {
            best = i;
        }
    }
    return best;
}

/* What no source of light can do has been entered wrongly. */
static int check_physics(struct power_report *report, struct err *err)
{
    const struct efficacy_row *best = &report->rows[report->best];
    const double given = power_umol_per_j(best, report->ppf_umol_s);
    const double landing = power_umol_per_j(best, report->canopy_umol_s);
    const bool is_canopy = !(given > EFFICACY_MOST);
    if (given > EFFICACY_MOST || landing > EFFICACY_MOST) {
        return err_fail(err, EDOM,
                        "%.2f µmol/J at %.0f %% is an error of data entry: even a source of 660 "
                        "nm without any loss gives %.2f (λ / 119.6266), and usual mixes stay "
                        "below %.1f; look at %s and at the watts",
                        is_canopy ? landing : given, 100 * best->level, efficacy_of_wavelength(660),
                        EFFICACY_MOST, is_canopy ? "area and ppfd_full" : "the PPF");
    }
    if (report->canopy_umol_s > report->ppf_umol_s) {
        remark(report,
               "More photons land on the canopy (%.0f µmol/s) than leave the fixtures (%.0f): "
               "area, PPF or sensor is wrong.",
               report->canopy_umol_s, report->ppf_umol_s);
    }
    return 0;
}

static int reckon_stages(struct power_report *report, const char *only, struct err *err)
{
    const struct space_rules *rules = &report->space->rules;
    for (int i = 0; i < rules->stage_count; i++) {
        const struct stage *stage = &rules->stages[i];
        if (only && strcmp(only, stage->name) != 0) {
            continue;
        }
        report->stages[report->stage_count++] = (struct power_stage){
            .stage = stage,
            .day = stagecost_of(rules, stage, report->day, 1),
            .month = stagecost_of(rules, stage, report->day, POWER_MONTH_DAYS),
            .year = stagecost_of(rules, stage, report->day, POWER_YEAR_DAYS),
        };
    }
    if (report->stage_count == 0) {
        return err_fail(err, ENOENT, "no stage \"%s\" in space %s", only ? only : "",
                        report->space->name);
    }
    return 0;
}

static void remark_tariff(struct power_report *report)
{
    const struct tariff *tariff = &report->config->site.tariff;
    const int64_t end_s = lightday_begin(&report->space->rules.day, report->day + POWER_YEAR_DAYS);
    if (tariff->series_count > 0 && tariff->series_end_s < end_s) {
        char day[16];
        parse_format_date(lightday_of(&report->space->rules.day, tariff->series_end_s), day,
                          sizeof day);
        remark(report,
               "The prices of the file end on %s; from there on the tariff's rules stand "
               "in for them.",
               day);
    }
}

int power_reckon(struct power_report *report, const char *only, struct err *err)
{
    int rc = check_watts(report, err);
    if (rc < 0) {
        return rc;
    }
    report->row_count = efficacy_rows(&report->space->rules, report->rows);
    report->best = find_best(report->rows, report->row_count);
    rc = check_physics(report, err);
    if (rc == 0) {
        rc = reckon_stages(report, only, err);
    }
    if (rc == 0) {
        remark_tariff(report);
    }
    return rc;
}
