/* SPDX-License-Identifier: Apache-2.0 */
/* The report for programs: JSON objects, one a line. */
#include "control_proto.h"
#include "parse.h"
#include "report.h"
#include "report_days.h"
#include "report_json_parts.h"
#include "report_parts.h"
#include "units.h"

#include <errno.h>
#include <jansson.h>
#include <stdlib.h>

#define HOUR_S       3600
#define MISSED_SHARE 0.98

json_t *report_json_moment(int64_t wall_s, int32_t offset_s)
{
    char time[32];
    parse_format_datetime(wall_s, offset_s, time, sizeof time);
    return json_string(time);
}

json_t *report_json_moment_or_null(int64_t wall_s, int32_t offset_s)
{
    return wall_s == 0 ? json_null() : report_json_moment(wall_s, offset_s);
}

json_t *report_json_date(int64_t day)
{
    char text[16];
    parse_format_date(day, text, sizeof text);
    return json_string(text);
}

/* NULL is what jansson gives without memory. Nine digits: more is noise of the arithmetic. */
int report_json_line(json_t *object, FILE *out)
{
    if (!object) {
        return -ENOMEM;
    }
    char *text = json_dumps(object, JSON_COMPACT | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(9));
    json_decref(object);
    if (!text) {
        return -ENOMEM;
    }
    (void)fputs(text, out); /* errors stay in its flag */
    (void)fputc('\n', out);
    free(text);
    return 0;
}

static json_t *short_object(const struct account *account)
{
    json_t *object = json_object();
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        double mol = account->missing_mol[i];
        if (mol > 0 || mol < 0) {
            (void)json_object_set_new(object, limiter_name((enum limiter)i), control_real(mol));
        }
    }
    return object;
}

void report_json_set(json_t *object, const char *key, json_t *value)
{
    (void)json_object_set_new(object, key,
                              value); /* fails only without memory: the key is absent */
}

/* Below 98 % of a target that could have been met: what the plan has to answer for. */
static bool is_missed(const struct day_summary *summary)
{
    const struct account *account = &summary->account;
    return summary->is_feasible &&
           account->delivered_mol + account->to_come_mol < MISSED_SHARE * account->target_mol;
}

static void set_light(json_t *object, const struct day_summary *summary)
{
    const struct account *account = &summary->account;
    report_json_set(object, "target_mol", control_real(account->target_mol));
    report_json_set(object, "delivered_mol", control_real(account->delivered_mol));
    report_json_set(object, "lamp_mol", control_real(summary->integral.lamp_mol));
    report_json_set(object, "daylight_mol", control_real(summary->integral.daylight_mol));
    report_json_set(object, "bridged_mol", control_real(summary->integral.bridged_mol));
    report_json_set(object, "to_come_mol", control_real(account->to_come_mol));
    report_json_set(object, "surplus_mol", control_real(account->surplus_mol));
    report_json_set(object, "missing_mol", control_real(account_missing_mol(account)));
    report_json_set(object, "reach_mol", control_real(summary->reach_mol));
    report_json_set(object, "feasible", json_boolean(summary->is_feasible));
    report_json_set(object, "missed", json_boolean(is_missed(summary)));
}

/* The day in a word or two. */
static void set_words(json_t *object, const struct journal_day *day)
{
    const bool is_judged = day->is_closed && day->summary.account.target_mol > 0;
    const enum limiter why = report_why(day);
    report_json_set(object, "met", is_judged ? json_boolean(report_is_met(day)) : json_null());
    report_json_set(object, "why",
                    why < LIMITER_COUNT ? json_string(limiter_name(why)) : json_null());
    report_json_set(object, "night", json_string(report_night_word(day)));
}

static void set_run(json_t *object, const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    report_json_set(object, "energy_kwh", control_real(summary->energy_kwh));
    report_json_set(object, "cost", control_real(summary->cost));
    report_json_set(object, "lamp_cost", control_real(summary->lamp_cost));
    report_json_set(object, "bound_cost", control_real(summary->bound_cost));
    report_json_set(object, "even_cost", control_real(summary->even_cost));
    report_json_set(object, "currency", json_string(day->currency));
    report_json_set(object, "lights_on",
                    report_json_moment_or_null(summary->lights_on_s, day->utc_offset_s));
    report_json_set(object, "lights_off",
                    report_json_moment_or_null(summary->lights_off_s, day->utc_offset_s));
    report_json_set(object, "switch_operations", json_integer(summary->switch_operations));
    report_json_set(object, "heatsink_max_c", control_real(summary->heatsink_max_c));
    report_json_set(object, "heat_trips", json_integer(summary->heat_trips));
    report_json_set(object, "driver_trips", json_integer(summary->driver_trips));
    report_json_set(object, "measured_s", control_real(summary->integral.measured_s));
    report_json_set(object, "bridged_s", control_real(summary->integral.bridged_s));
    report_json_set(object, "lost_s", control_real(summary->integral.lost_s));
    report_json_set(object, "night_dose_umol_m2", control_real(summary->night_dose_umol_m2));
    report_json_set(object, "night_possible_umol_m2",
                    control_real(summary->night_possible_umol_m2));
    report_json_set(object, "night_longest_s", control_real(summary->night_longest_s));
    report_json_set(object, "night_breaks", json_integer(summary->night_breaks));
    report_json_set(object, "short_mol", short_object(&summary->account));
}

json_t *report_json_day(const struct journal_day *day)
{
    json_t *object = json_object();
    report_json_set(object, "space", json_string(day->space));
    report_json_set(object, "light_day", report_json_date(day->summary.light_day));
    report_json_set(object, "stage", json_string(day->stage));
    report_json_set(object, "stage_day", json_integer(day->summary.stage_day));
    report_json_set(object, "is_closed", json_boolean(day->is_closed));
    report_json_set(object, "utc_offset_s", json_integer(day->utc_offset_s));
    set_light(object, &day->summary);
    set_run(object, day);
    set_words(object, day);
    return object;
}

int report_day_json(const struct journal_day *day, FILE *out)
{
    return report_json_line(report_json_day(day), out);
}

static json_t *event_object(const struct journal_event *event, int32_t offset_s)
{
    json_t *object = json_object();
    report_json_set(object, "time", report_json_moment(event->wall_s, offset_s));
    report_json_set(object, "space", json_string(event->space));
    report_json_set(object, "fixture", json_string(event->fixture));
    report_json_set(object, "class", json_string(journal_class_name(event->class)));
    report_json_set(object, "kind", json_string(event->kind));
    report_json_set(object, "a", control_real(event->a));
    report_json_set(object, "b", control_real(event->b));
    report_json_set(object, "text", json_string(event->text));
    return object;
}

int report_event_json(const struct journal_event *event, int32_t offset_s, FILE *out)
{
    return report_json_line(event_object(event, offset_s), out);
}

static json_t *hour_object(const struct report *report, int hour)
{
    const struct report_span *span = &report->hours[hour];
    json_t *object = json_object();
    report_json_set(object, "begin",
                    report_json_moment(report->first_hour_s + (int64_t)hour * HOUR_S,
                                       report->day.utc_offset_s));
    report_json_set(object, "ppfd_umol", control_real(report_span_umol(span)));
    report_json_set(object, "mol", control_real(report_hour_mol(report, hour)));
    report_json_set(object, "level", control_real(report_span_level(span)));
    report_json_set(object, "limiter", json_string(limiter_name(report_span_limiter(span))));
    report_json_set(object, "heatsink_max_c", control_real(span->heatsink_max_c));
    report_json_set(object, "energy_kwh", control_real(span->watt_minutes / 60000));
    report_json_set(object, "minutes", json_integer(span->minutes));
    return object;
}

int report_json(const struct report *report, FILE *out)
{
    json_t *object = report_json_day(&report->day);
    json_t *hours = json_array();
    json_t *events = json_array();
    for (int i = 0; i < REPORT_HOURS; i++) {
        if (report->hours[i].minutes > 0) {
            (void)json_array_append_new(hours, hour_object(report, i)); /* fails without memory */
        }
    }
    for (int i = 0; i < report->event_count; i++) {
        (void)json_array_append_new(events,
                                    event_object(&report->events[i], report->day.utc_offset_s));
    }
    report_json_set(object, "ageing", report->age[0] ? json_string(report->age) : json_null());
    report_json_set(object, "hours", hours);
    report_json_set(object, "nights", report_json_nights(report->nights));
    report_json_set(object, "events", events);
    return report_json_line(object, out);
}
