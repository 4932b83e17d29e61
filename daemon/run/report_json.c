/* SPDX-License-Identifier: Apache-2.0 */
/* The report for programs: JSON objects, one a line. */
#include "parse.h"
#include "report.h"
#include "report_parts.h"
#include "units.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#define HOUR_S       3600
#define MISSED_SHARE 0.98

/* JSON knows no NaN. Nine digits: more is noise of the arithmetic. */
static json_t *real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *moment(int64_t wall_s, int32_t offset_s)
{
    char time[32];
    parse_format_datetime(wall_s, offset_s, time, sizeof time);
    return json_string(time);
}

static json_t *moment_or_null(int64_t wall_s, int32_t offset_s)
{
    return wall_s == 0 ? json_null() : moment(wall_s, offset_s);
}

static json_t *date(int64_t day)
{
    char text[16];
    parse_format_date(day, text, sizeof text);
    return json_string(text);
}

/* Writes the object and lets it go; NULL is what jansson gives without memory. */
static int put_line(json_t *object, FILE *out)
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
            (void)json_object_set_new(object, limiter_name((enum limiter)i), real(mol));
        }
    }
    return object;
}

static void set(json_t *object, const char *key, json_t *value)
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
    set(object, "target_mol", real(account->target_mol));
    set(object, "delivered_mol", real(account->delivered_mol));
    set(object, "lamp_mol", real(summary->integral.lamp_mol));
    set(object, "daylight_mol", real(summary->integral.daylight_mol));
    set(object, "bridged_mol", real(summary->integral.bridged_mol));
    set(object, "to_come_mol", real(account->to_come_mol));
    set(object, "surplus_mol", real(account->surplus_mol));
    set(object, "missing_mol", real(account_missing_mol(account)));
    set(object, "reach_mol", real(summary->reach_mol));
    set(object, "feasible", json_boolean(summary->is_feasible));
    set(object, "missed", json_boolean(is_missed(summary)));
}

static void set_run(json_t *object, const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    set(object, "energy_kwh", real(summary->energy_kwh));
    set(object, "cost", real(summary->cost));
    set(object, "lamp_cost", real(summary->lamp_cost));
    set(object, "bound_cost", real(summary->bound_cost));
    set(object, "even_cost", real(summary->even_cost));
    set(object, "currency", json_string(day->currency));
    set(object, "lights_on", moment_or_null(summary->lights_on_s, day->utc_offset_s));
    set(object, "lights_off", moment_or_null(summary->lights_off_s, day->utc_offset_s));
    set(object, "switch_operations", json_integer(summary->switch_operations));
    set(object, "heatsink_max_c", real(summary->heatsink_max_c));
    set(object, "heat_trips", json_integer(summary->heat_trips));
    set(object, "driver_trips", json_integer(summary->driver_trips));
    set(object, "measured_s", real(summary->integral.measured_s));
    set(object, "bridged_s", real(summary->integral.bridged_s));
    set(object, "lost_s", real(summary->integral.lost_s));
    set(object, "night_dose_umol_m2", real(summary->night_dose_umol_m2));
    set(object, "night_possible_umol_m2", real(summary->night_possible_umol_m2));
    set(object, "night_longest_s", real(summary->night_longest_s));
    set(object, "night_breaks", json_integer(summary->night_breaks));
    set(object, "short_mol", short_object(&summary->account));
}

static json_t *day_object(const struct journal_day *day)
{
    json_t *object = json_object();
    set(object, "space", json_string(day->space));
    set(object, "light_day", date(day->summary.light_day));
    set(object, "stage", json_string(day->stage));
    set(object, "stage_day", json_integer(day->summary.stage_day));
    set(object, "is_closed", json_boolean(day->is_closed));
    set(object, "utc_offset_s", json_integer(day->utc_offset_s));
    set_light(object, &day->summary);
    set_run(object, day);
    return object;
}

int report_day_json(const struct journal_day *day, FILE *out)
{
    return put_line(day_object(day), out);
}

static json_t *event_object(const struct journal_event *event, int32_t offset_s)
{
    static const char *const classes[] = {
        [JOURNAL_INFO] = "info", [JOURNAL_NOTICE] = "notice", [JOURNAL_ALARM] = "alarm"};
    json_t *object = json_object();
    set(object, "time", moment(event->wall_s, offset_s));
    set(object, "space", json_string(event->space));
    set(object, "fixture", json_string(event->fixture));
    set(object, "class", json_string(classes[event->class]));
    set(object, "kind", json_string(event->kind));
    set(object, "a", real(event->a));
    set(object, "b", real(event->b));
    set(object, "text", json_string(event->text));
    return object;
}

int report_event_json(const struct journal_event *event, int32_t offset_s, FILE *out)
{
    return put_line(event_object(event, offset_s), out);
}

static json_t *hour_object(const struct report *report, int hour)
{
    const struct report_span *span = &report->hours[hour];
    json_t *object = json_object();
    set(object, "begin",
        moment(report->first_hour_s + (int64_t)hour * HOUR_S, report->day.utc_offset_s));
    set(object, "ppfd_umol", real(report_span_umol(span)));
    set(object, "mol", real(report_hour_mol(report, hour)));
    set(object, "level", real(report_span_level(span)));
    set(object, "limiter", json_string(limiter_name(report_span_limiter(span))));
    set(object, "heatsink_max_c", real(span->heatsink_max_c));
    set(object, "energy_kwh", real(span->watt_minutes / 60000));
    set(object, "minutes", json_integer(span->minutes));
    return object;
}

int report_json(const struct report *report, FILE *out)
{
    json_t *object = day_object(&report->day);
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
    set(object, "ageing", report->age[0] ? json_string(report->age) : json_null());
    set(object, "hours", hours);
    set(object, "events", events);
    return put_line(object, out);
}
