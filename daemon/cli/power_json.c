/* SPDX-License-Identifier: Apache-2.0 */
/* Watts and money for programs. */
#include "power_parts.h"

#include "parse.h"
#include "units.h"

#include <jansson.h>
#include <stdio.h>

static json_t *real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static void set(json_t *object, const char *key, json_t *value)
{
    (void)json_object_set_new(object, key, value); /* fails only without memory */
}

static json_t *row_json(const struct power_report *report, const struct efficacy_row *row)
{
    json_t *object = json_object();
    const double lamp = power_umol_per_j(row, report->ppf_umol_s);
    const double canopy = power_umol_per_j(row, report->canopy_umol_s);
    const struct mains *mains = &report->mains;
    set(object, "level", real(row->level));
    set(object, "share_of_light", real(row->share));
    set(object, "watts", real(row->watts));
    set(object, "measured", json_boolean(row->is_measured));
    set(object, "above_drive_ceiling", json_boolean(row->above_ceiling));
    set(object, "umol_per_j", real(lamp));
    set(object, "mol_per_kwh", real(efficacy_mol_per_kwh(lamp)));
    set(object, "canopy_umol_per_j", real(canopy));
    set(object, "canopy_mol_per_kwh", real(efficacy_mol_per_kwh(canopy)));
    set(object, "current_a", report->has_mains ? real(mains_a(mains, row->watts)) : json_null());
    set(object, "va", report->has_mains ? real(mains_va(mains, row->watts)) : json_null());
    set(object, "heat_w", real(row->watts));
    set(object, "heat_btu_per_h", real(mains_btu_per_h(row->watts)));
    return object;
}

static json_t *way_json(const struct power_report *report, const struct stagecost_way *day,
                        const struct stagecost_way *month, const struct stagecost_way *year)
{
    json_t *object = json_object();
    set(object, "kwh_day", real(day->kwh));
    set(object, "cost_day", real(day->cost));
    set(object, "cost_30_days", real(month->cost));
    set(object, "cost_365_days", real(year->cost));
    set(object, "kwh_365_days", real(year->kwh));
    set(object, "peak_w", real(year->peak_w));
    set(object, "bill_30_days",
        report->has_terms ? real(stagecost_bill(&report->terms, month->cost, month->peak_w / 1000))
                          : json_null());
    return object;
}

static json_t *stage_json(const struct power_report *report, const struct power_stage *stage)
{
    json_t *object = json_object();
    set(object, "stage", json_string(stage->stage->name));
    set(object, "target_mol", real(stage->stage->target_mol));
    set(object, "need_mol", real(stage->day.need_mol));
    set(object, "reach_mol", real(stage->year.reach_mol));
    set(object, "met", json_boolean(stage->year.is_met));
    set(object, "level", real(stage->day.level));
    set(object, "one_level",
        way_json(report, &stage->day.even, &stage->month.even, &stage->year.even));
    set(object, "cheapest_hours",
        way_json(report, &stage->day.planned, &stage->month.planned, &stage->year.planned));
    return object;
}

void power_json(const struct power_report *report)
{
    char day[16];
    int mark_count = 0;
    const struct efficacy_mark *marks = efficacy_marks(&mark_count);
    json_t *object = json_object();
    json_t *rows = json_array();
    json_t *stages = json_array();
    json_t *published = json_array();
    json_t *remarks = json_array();
    for (int i = 0; i < report->row_count; i++) {
        (void)json_array_append_new(rows, row_json(report, &report->rows[i]));
    }
    for (int i = 0; i < report->stage_count; i++) {
        (void)json_array_append_new(stages, stage_json(report, &report->stages[i]));
    }
    for (int i = 0; i < mark_count; i++) {
        (void)json_array_append_new(published,
                                    json_pack("{s:f,s:s,s:s}", "umol_per_j", marks[i].umol_per_j,
                                              "what", marks[i].what, "source", marks[i].source));
    }
    for (int i = 0; i < report->remark_count; i++) {
        (void)json_array_append_new(remarks, json_string(report->remarks[i]));
    }
    parse_format_date(report->day, day, sizeof day);
    set(object, "space", json_string(report->space->name));
    set(object, "currency", json_string(report->config->site.currency));
    set(object, "from", json_string(day));
    set(object, "full_umol", real(efficacy_full_umol(&report->space->rules)));
    set(object, "ppf_umol_s", real(report->ppf_umol_s));
    set(object, "canopy_umol_s", real(report->canopy_umol_s));
    set(object, "area_m2", real(report->area_m2));
    set(object, "utilisation", real(report->canopy_umol_s / report->ppf_umol_s));
    set(object, "power_factor", report->has_mains ? real(report->mains.power_factor) : json_null());
    set(object, "standby_w", real(efficacy_standby_w(&report->space->rules)));
    set(object, "best_level", real(report->rows[report->best].level));
    set(object, "levels", rows);
    set(object, "stages", stages);
    set(object, "published", published);
    set(object, "remarks", remarks);
    (void)json_dumpf(object, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
    (void)putchar('\n');
    json_decref(object);
}
