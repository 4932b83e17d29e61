/* SPDX-License-Identifier: Apache-2.0 */
/* The sheet for programs. null: not measured. */
#include "sheet_parts.h"

#include "json_out.h"
#include "parse.h"
#include "units.h"

static void set_real(json_t *object, const char *key, double value)
{
    json_out_set(object, key, json_out_real(value));
}

static json_t *heat_json(const struct heat_rules *heat)
{
    return heat->is_watched
               ? json_pack("{s:f,s:f,s:f,s:f,s:f}", "foldback_from_c", heat->from_c,
                           "foldback_to_c", heat->to_c, "foldback_level", heat->low_level, "trip_c",
                           heat->trip_c, "rearm_c", heat->rearm_c)
               : json_null();
}

static json_t *points_json(const struct fixture_rules *rules)
{
    json_t *points = json_array();
    const bool has_watts = sheet_full_w(rules) > 0;
    for (int i = 0; i < rules->curve.count; i++) {
        const struct dimcurve_point *point = &rules->curve.points[i];
        (void)json_array_append_new(
            points, json_pack("{s:f,s:f,s:o}", "drive", point->drive, "level", point->level,
                              "watts", json_out_real(has_watts ? point->watts : UNITS_NONE)));
    }
    return points;
}

static void set_measured(json_t *object, const struct measured *measured)
{
    json_out_set(object, "sensor", json_out_text(measured->sensor));
    set_real(object, "worst_level", measured->worst_level);
    set_real(object, "rms_level", measured->rms_level);
    set_real(object, "rms_w", measured->rms_w);
    json_out_set(object, "readings", json_integer(measured->reading_count));
    set_real(object, "saturated_above", measured->saturated_above);
    set_real(object, "droop", measured->droop);
    set_real(object, "droop_per_k", measured->droop_per_k);
    set_real(object, "ceiling_margin", measured->ceiling_margin);
    set_real(object, "ceiling_heat_c", measured->ceiling_heat_c);
}

static json_t *fixture_json(const struct sheet *sheet, int i)
{
    const struct config_fixture *fixture = sheet_fixture(sheet, i);
    const struct fixture_rules *rules = sheet_rules(sheet, i);
    const struct config_output *outputs = sheet->config->outputs;
    const double full_w = sheet_full_w(rules);
    json_t *object = json_object();
    char day[16] = "";
    if (fixture->is_commissioned) {
        parse_format_date(fixture->commissioned, day, sizeof day);
    }
    json_out_set(object, "fixture", json_string(fixture->name));
    json_out_set(object, "dim",
                 json_out_text(fixture->dim_output < 0 ? "" : outputs[fixture->dim_output].name));
    json_out_set(
        object, "switch",
        json_out_text(fixture->switch_output < 0 ? "" : outputs[fixture->switch_output].name));
    json_out_set(object, "commissioned", json_out_text(day));
    set_real(object, "commissioned_c", fixture->commissioned_c);
    set_real(object, "full_umol", rules->full_umol);
    set_real(object, "full_w", full_w > 0 ? full_w : UNITS_NONE);
    set_real(object, "least_level", dimcurve_min_level(&rules->curve));
    set_real(object, "least_drive", dimcurve_min_drive(&rules->curve));
    set_real(object, "drive_ceiling",
             rules->ceiling.drive_max < 1 ? rules->ceiling.drive_max : UNITS_NONE);
    set_measured(object, &fixture->measured);
    json_out_set(object, "heat", heat_json(&rules->heat));
    json_out_set(object, "curve", points_json(rules));
    return object;
}

static json_t *map_json(const struct survey *survey, int i)
{
    const struct lightmap *map = survey->sorted[i];
    const struct mapstats *stats = &survey->stats[i];
    json_t *object = json_object();
    set_real(object, "height_cm", map->height_cm);
    json_out_set(object, "count", json_integer((json_int_t)stats->count));
    set_real(object, "area_mean_umol", stats->area_mean_umol / map->level);
    set_real(object, "min_umol", stats->min_umol / map->level);
    set_real(object, "max_umol", stats->max_umol / map->level);
    set_real(object, "min_over_mean", stats->min_over_mean);
    set_real(object, "cv_sample", stats->cv_sample);
    set_real(object, "photons_umol_s", stats->photons_umol_s / map->level);
    set_real(object, "utilisation", stats->utilisation);
    return object;
}

static json_t *spot_json(const struct spot *spot)
{
    return json_pack("{s:f,s:f,s:f,s:f}", "x_cm", spot->x_cm, "y_cm", spot->y_cm, "factor",
                     spot->factor, "factor_spread", spot->factor_spread);
}

static json_t *stage_json(const struct power_report *report, const struct power_stage *stage)
{
    json_t *object = json_object();
    const struct stagecost *year = &stage->year;
    json_out_set(object, "stage", json_string(stage->stage->name));
    set_real(object, "target_mol", stage->stage->target_mol);
    json_out_set(object, "met", json_boolean(year->is_met));
    set_real(object, "level", stage->day.level);
    set_real(object, "kwh_day", year->even.kwh / POWER_YEAR_DAYS);
    set_real(object, "cost_day", year->even.cost / POWER_YEAR_DAYS);
    set_real(object, "cost_day_cheapest_hours", year->planned.cost / POWER_YEAR_DAYS);
    set_real(object, "cost_per_mol_m2", power_mol_of(report, stage).per_m2);
    return object;
}

static json_t *power_part(const struct sheet *sheet)
{
    const struct power_report *report = &sheet->power;
    if (!sheet->has_power) {
        return json_null();
    }
    const double full_w = report->rows[report->row_count - 1].watts;
    const struct efficacy_row *best = &report->rows[report->best];
    json_t *object = json_object();
    json_t *stages = json_array();
    for (int i = 0; i < report->stage_count; i++) {
        (void)json_array_append_new(stages, stage_json(report, &report->stages[i]));
    }
    set_real(object, "full_w", full_w);
    set_real(object, "heat_btu_per_h", mains_btu_per_h(full_w));
    set_real(object, "best_level", best->level);
    set_real(object, "lamp_umol_per_j", power_umol_per_j(best, report->ppf_umol_s));
    set_real(object, "canopy_umol_per_j", power_umol_per_j(best, report->canopy_umol_s));
    set_real(object, "current_a", report->has_mains ? mains_a(&report->mains, full_w) : UNITS_NONE);
    set_real(object, "power_factor", report->has_mains ? report->mains.power_factor : UNITS_NONE);
    json_out_set(object, "currency", json_string(sheet->config->site.currency));
    json_out_set(object, "stages", stages);
    return object;
}

void sheet_json(const struct sheet *sheet)
{
    const struct survey *survey = &sheet->survey;
    json_t *object = json_object();
    json_t *fixtures = json_array();
    json_t *maps = json_array();
    json_t *spots = json_array();
    json_t *missing = json_array();
    for (int i = 0; i < sheet->space->rules.fixture_count; i++) {
        (void)json_array_append_new(fixtures, fixture_json(sheet, i));
    }
    for (int i = 0; i < survey->count; i++) {
        (void)json_array_append_new(maps, map_json(survey, i));
    }
    for (int i = 0; i < survey->spot_count; i++) {
        (void)json_array_append_new(spots, spot_json(&survey->spots[i]));
    }
    for (int i = 0; i < sheet->missing_count; i++) {
        (void)json_array_append_new(missing, json_string(sheet->missing[i]));
    }
    json_out_set(object, "space", json_string(sheet->space->name));
    json_out_set(object, "site", json_out_text(sheet->config->site.name));
    json_out_set(object, "date", json_out_text(sheet->date));
    set_real(object, "full_umol", space_configured_umol(&sheet->space->rules));
    set_real(object, "height_cm",
             sheet->hung >= 0 ? survey->sorted[sheet->hung]->height_cm : UNITS_NONE);
    set_real(object, "canopy_factor", sheet->space->canopy_factor);
    json_out_set(object, "fixtures", fixtures);
    json_out_set(object, "maps", maps);
    json_out_set(object, "sensor_spots", spots);
    json_out_set(object, "power", power_part(sheet));
    json_out_set(object, "breaker_drivers",
                 sheet->has_breaker ? json_integer(sheet->bears.drivers) : json_null());
    set_real(object, "lead_drop_v", sheet->has_lead ? sheet->lost.drop_v : UNITS_NONE);
    set_real(object, "lead_loss_w", sheet->has_lead ? sheet->lost.loss_w : UNITS_NONE);
    json_out_set(object, "not_measured", missing);
    json_out_print(object);
}
