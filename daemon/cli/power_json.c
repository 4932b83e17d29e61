/* SPDX-License-Identifier: Apache-2.0 */
/* Watts and money for programs. */
#include "power_parts.h"

#include "json_out.h"
#include "parse.h"

static json_t *row_json(const struct power_report *report, const struct efficacy_row *row)
{
    json_t *object = json_object();
    const double lamp = power_umol_per_j(row, report->ppf_umol_s);
    const double canopy = power_umol_per_j(row, report->canopy_umol_s);
    const struct mains *mains = &report->mains;
    json_out_set(object, "level", json_out_real(row->level));
    json_out_set(object, "share_of_light", json_out_real(row->share));
    json_out_set(object, "watts", json_out_real(row->watts));
    json_out_set(object, "measured", json_boolean(row->is_measured));
    json_out_set(object, "above_drive_ceiling", json_boolean(row->above_ceiling));
    json_out_set(object, "umol_per_j", json_out_real(lamp));
    json_out_set(object, "mol_per_kwh", json_out_real(efficacy_mol_per_kwh(lamp)));
    json_out_set(object, "canopy_umol_per_j", json_out_real(canopy));
    json_out_set(object, "canopy_mol_per_kwh", json_out_real(efficacy_mol_per_kwh(canopy)));
    json_out_set(object, "current_a",
                 report->has_mains ? json_out_real(mains_a(mains, row->watts)) : json_null());
    json_out_set(object, "va",
                 report->has_mains ? json_out_real(mains_va(mains, row->watts)) : json_null());
    json_out_set(object, "heat_w", json_out_real(row->watts));
    json_out_set(object, "heat_btu_per_h", json_out_real(mains_btu_per_h(row->watts)));
    return object;
}

static json_t *way_json(const struct power_report *report, const struct stagecost_way *day,
                        const struct stagecost_way *month, const struct stagecost_way *year)
{
    json_t *object = json_object();
    json_out_set(object, "kwh_day", json_out_real(day->kwh));
    json_out_set(object, "cost_day", json_out_real(day->cost));
    json_out_set(object, "cost_30_days", json_out_real(month->cost));
    json_out_set(object, "cost_365_days", json_out_real(year->cost));
    json_out_set(object, "kwh_365_days", json_out_real(year->kwh));
    json_out_set(object, "peak_w", json_out_real(year->peak_w));
    json_out_set(object, "bill_30_days",
                 report->has_terms ? json_out_real(stagecost_bill(&report->terms, month->cost,
                                                                  month->peak_w / 1000))
                                   : json_null());
    return object;
}

static json_t *stage_json(const struct power_report *report, const struct power_stage *stage)
{
    json_t *object = json_object();
    const struct power_mol mol = power_mol_of(report, stage);
    json_out_set(object, "stage", json_string(stage->stage->name));
    json_out_set(object, "target_mol", json_out_real(stage->stage->target_mol));
    json_out_set(object, "need_mol", json_out_real(stage->day.need_mol));
    json_out_set(object, "reach_mol", json_out_real(stage->year.reach_mol));
    json_out_set(object, "met", json_boolean(stage->year.is_met));
    json_out_set(object, "level", json_out_real(stage->day.level));
    json_out_set(object, "one_level",
                 way_json(report, &stage->day.even, &stage->month.even, &stage->year.even));
    json_out_set(
        object, "cheapest_hours",
        way_json(report, &stage->day.planned, &stage->month.planned, &stage->year.planned));
    json_out_set(object, "cost_per_mol_m2", json_out_real(mol.per_m2));
    json_out_set(object, "cost_per_mol_canopy", json_out_real(mol.on_canopy));
    json_out_set(object, "cost_per_mol_lamps", json_out_real(mol.from_lamps));
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
    json_out_set(object, "space", json_string(report->space->name));
    json_out_set(object, "currency", json_string(report->config->site.currency));
    json_out_set(object, "from", json_string(day));
    json_out_set(object, "full_umol", json_out_real(space_configured_umol(&report->space->rules)));
    json_out_set(object, "ppf_umol_s", json_out_real(report->ppf_umol_s));
    json_out_set(object, "canopy_umol_s", json_out_real(report->canopy_umol_s));
    json_out_set(object, "area_m2", json_out_real(report->area_m2));
    json_out_set(object, "utilisation", json_out_real(report->canopy_umol_s / report->ppf_umol_s));
    json_out_set(object, "power_factor",
                 report->has_mains ? json_out_real(report->mains.power_factor) : json_null());
    json_out_set(object, "standby_w", json_out_real(efficacy_standby_w(&report->space->rules)));
    json_out_set(object, "best_level", json_out_real(report->rows[report->best].level));
    json_out_set(object, "levels", rows);
    json_out_set(object, "stages", stages);
    json_out_set(object, "published", published);
    json_out_set(object, "remarks", remarks);
    json_out_print(object);
}
