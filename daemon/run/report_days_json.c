/* SPDX-License-Identifier: Apache-2.0 */
/* Days, weeks and stages for programs: JSON, and rows of CSV. */
#include "control_proto.h"
#include "parse.h"
#include "report_days.h"
#include "report_json_parts.h"
#include "report_parts.h"
#include "units.h"

#include <errno.h>
#include <string.h>

/* The sums, or what they are a day: of no day nothing is known. */
static json_t *amounts(const struct report_sum *sum, double days)
{
    json_t *object = json_object();
    const double share = days > 0 ? 1 / days : UNITS_NONE;
    report_json_set(object, "target_mol", control_real(sum->target_mol * share));
    report_json_set(object, "delivered_mol", control_real(sum->delivered_mol * share));
    report_json_set(object, "lamp_mol", control_real(sum->lamp_mol * share));
    report_json_set(object, "daylight_mol", control_real(sum->daylight_mol * share));
    report_json_set(object, "missing_mol", control_real(sum->missing_mol * share));
    report_json_set(object, "energy_kwh", control_real(sum->energy_kwh * share));
    report_json_set(object, "cost", control_real(sum->cost * share));
    return object;
}

static void set_sum(json_t *object, const struct report_sum *sum)
{
    const bool has_bound = sum->bound_days > 0;
    report_json_set(object, "from", sum->days ? report_json_date(sum->first) : json_null());
    report_json_set(object, "to", sum->days ? report_json_date(sum->last) : json_null());
    report_json_set(object, "days", json_integer(sum->days));
    report_json_set(object, "days_with_target", json_integer(sum->with_target));
    report_json_set(object, "days_met", json_integer(sum->met));
    report_json_set(object, "sum", amounts(sum, sum->days ? 1 : 0));
    report_json_set(object, "mean", amounts(sum, sum->days));
    report_json_set(object, "bound_days", json_integer(sum->bound_days));
    report_json_set(object, "bound_lamp_cost",
                    has_bound ? control_real(sum->bound_lamp_cost) : json_null());
    report_json_set(object, "bound_cost", has_bound ? control_real(sum->bound_cost) : json_null());
    report_json_set(object, "currency", sum->currency ? json_string(sum->currency) : json_null());
    report_json_set(object, "heat_trips", json_integer(sum->heat_trips));
    report_json_set(object, "driver_trips", json_integer(sum->driver_trips));
    report_json_set(object, "nights_broken", json_integer(sum->nights_broken));
    report_json_set(object, "nights_possible", json_integer(sum->nights_possible));
    report_json_set(object, "nights_unseen", json_integer(sum->nights_unseen));
}

static json_t *weeks_of(const struct report_days *report)
{
    json_t *weeks = json_array();
    for (int first = 0; first < report->count;) {
        const int end = report_days_week_end(report, first);
        const struct report_sum sum = report_days_sum(report, first, end);
        char name[12];
        json_t *week = json_object();
        report_week(report->days[first].summary.light_day, name, sizeof name);
        report_json_set(week, "week", json_string(name));
        set_sum(week, &sum);
        (void)json_array_append_new(weeks, week); /* fails only without memory */
        first = end;
    }
    return weeks;
}

static json_t *stages_of(const struct report_days *report)
{
    json_t *stages = json_array();
    for (int first = 0; first < report->count;) {
        const int end = report_days_stage_end(report, first);
        const struct report_sum sum = report_days_sum(report, first, end);
        const char *name = report->days[first].stage;
        json_t *stage = json_object();
        report_json_set(stage, "stage", name[0] ? json_string(name) : json_null());
        set_sum(stage, &sum);
        (void)json_array_append_new(stages, stage); /* as above */
        first = end;
    }
    return stages;
}

int report_days_json(const struct report_days *report, FILE *out)
{
    const struct report_sum sum = report_days_sum(report, 0, report->count);
    json_t *object = json_object();
    json_t *days = json_array();
    json_t *all = json_object();
    for (int i = 0; i < report->count; i++) {
        (void)json_array_append_new(days, report_json_day(&report->days[i])); /* as above */
    }
    set_sum(all, &sum);
    report_json_set(object, "space", json_string(report->space));
    report_json_set(object, "days", days);
    report_json_set(object, "weeks", weeks_of(report));
    report_json_set(object, "stages", stages_of(report));
    report_json_set(object, "all", all);
    return report_json_line(object, out);
}

void report_days_csv_header(FILE *out)
{
    (void)fputs("space,light_day,week,stage,stage_day,is_closed,met,why,target_mol,delivered_mol,"
                "lamp_mol,daylight_mol,missing_mol,energy_kwh,cost,lamp_cost,bound_cost,even_cost,"
                "currency,lights_on,lights_off,switch_operations,heatsink_max_c,heat_trips,"
                "driver_trips,night,night_dose_umol_m2,night_possible_umol_m2,night_longest_s,"
                "night_breaks\n",
                out);
}

static void put_moment(int64_t wall_s, int32_t offset_s, FILE *out)
{
    char time[32] = "";
    if (wall_s != 0) {
        parse_format_datetime(wall_s, offset_s, time, sizeof time);
    }
    (void)fprintf(out, "%s,", time);
}

static void put_head(const struct journal_day *day, FILE *out)
{
    const struct day_summary *summary = &day->summary;
    const bool is_judged = day->is_closed && summary->account.target_mol > 0;
    const enum limiter why = report_why(day);
    char date[16];
    char week[12];
    parse_format_date(summary->light_day, date, sizeof date);
    report_week(summary->light_day, week, sizeof week);
    report_csv_text(day->space, out);
    (void)fprintf(out, ",%s,%s,", date, week);
    report_csv_text(day->stage, out);
    (void)fprintf(out, ",%d,%d,%s,%s,", summary->stage_day, day->is_closed,
                  !is_judged           ? ""
                  : report_is_met(day) ? "1"
                                       : "0",
                  why < LIMITER_COUNT ? limiter_name(why) : "");
}

static void put_day(const struct journal_day *day, FILE *out)
{
    const struct day_summary *summary = &day->summary;
    put_head(day, out);
    const double light[] = {summary->account.target_mol,
                            summary->account.delivered_mol,
                            summary->integral.lamp_mol,
                            summary->integral.daylight_mol,
                            account_missing_mol(&summary->account),
                            summary->energy_kwh,
                            summary->cost,
                            summary->lamp_cost,
                            summary->bound_cost,
                            summary->even_cost};
    for (size_t i = 0; i < sizeof light / sizeof light[0]; i++) {
        report_csv_real(light[i], out);
    }
    report_csv_text(day->currency, out);
    (void)fputc(',', out);
    put_moment(summary->lights_on_s, day->utc_offset_s, out);
    put_moment(summary->lights_off_s, day->utc_offset_s, out);
    (void)fprintf(out, "%u,", summary->switch_operations);
    report_csv_real(summary->heatsink_max_c, out);
    (void)fprintf(out, "%u,%u,%s,", summary->heat_trips, summary->driver_trips,
                  report_night_word(day));
    report_csv_real(summary->night_dose_umol_m2, out);
    report_csv_real(summary->night_possible_umol_m2, out);
    report_csv_real(summary->night_longest_s, out);
    (void)fprintf(out, "%u\n", summary->night_breaks);
}

void report_days_csv(const struct report_days *report, FILE *out)
{
    for (int i = 0; i < report->count; i++) {
        put_day(&report->days[i], out);
    }
}
