/* SPDX-License-Identifier: Apache-2.0 */
/* The night check for programs. */
#include "control_proto.h"
#include "report_json_parts.h"
#include "report_nights.h"

static json_t *break_object(const struct night_break *its, int32_t offset_s)
{
    json_t *object = json_object();
    report_json_set(object, "begin", report_json_moment(its->from_s, offset_s));
    report_json_set(object, "end", report_json_moment_or_null(its->to_s, offset_s));
    report_json_set(object, "peak_umol", control_real(its->peak_umol));
    report_json_set(object, "dose_umol_m2", control_real(its->dose_umol_m2));
    report_json_set(object, "cause", json_string(night_cause_name(its->cause)));
    report_json_set(object, "text", json_string(its->text));
    return object;
}

static void set_times(json_t *object, const struct night *night, int32_t offset_s)
{
    report_json_set(object, "light_day", report_json_date(night->light_day));
    report_json_set(object, "begin", report_json_moment(night->from_s, offset_s));
    report_json_set(object, "end", report_json_moment(night->to_s, offset_s));
    report_json_set(object, "begin_seen", json_boolean(night->is_from_seen));
    report_json_set(object, "end_seen", json_boolean(night->is_to_seen));
    report_json_set(object, "length_s", control_real((double)(night->to_s - night->from_s)));
    report_json_set(object, "summary_only", json_boolean(night->is_summary));
    report_json_set(object, "open_from", report_json_moment_or_null(night->open_from_s, offset_s));
    report_json_set(object, "open_to", report_json_moment_or_null(night->open_to_s, offset_s));
    report_json_set(object, "recorded_s", control_real(night->recorded_s));
    report_json_set(object, "seen_s", control_real(night->seen_s));
    report_json_set(object, "under_daylight", json_boolean(night->under_sky));
}

static json_t *night_object(const struct night *night, int32_t offset_s)
{
    json_t *object = json_object();
    json_t *breaks = json_array();
    char text[800];
    night_text(night, offset_s, text, sizeof text);
    for (int i = 0; i < night->break_count; i++) {
        (void)json_array_append_new(breaks, break_object(&night->breaks[i], offset_s));
    }
    set_times(object, night, offset_s);
    report_json_set(object, "longest_light_s", control_real(night->longest_s));
    report_json_set(object, "dose_umol_m2", control_real(night->dose_umol_m2));
    report_json_set(object, "most_umol_m2", control_real(night->most_umol_m2));
    report_json_set(object, "possible_umol_m2", control_real(night->possible_umol_m2));
    report_json_set(object, "night", json_string(night_word(night)));
    report_json_set(object, "text", json_string(text));
    report_json_set(object, "breaks", breaks);
    report_json_set(object, "breaks_left_out", json_integer(night->breaks_left_out));
    return object;
}

json_t *report_json_nights(const struct report_nights *report)
{
    json_t *nights = json_array();
    for (int i = 0; i < report->count; i++) {
        (void)json_array_append_new(nights, night_object(&report->nights[i], report->utc_offset_s));
    }
    return nights;
}

int report_nights_json(const struct report_nights *report, FILE *out)
{
    json_t *object = json_object();
    report_json_set(object, "space", json_string(report->space));
    report_json_set(object, "nights", report_json_nights(report));
    return report_json_line(object, out);
}
