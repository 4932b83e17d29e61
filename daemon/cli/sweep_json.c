/* SPDX-License-Identifier: Apache-2.0 */
/* A sweep for programs. */
#include "sweep_parts.h"
#include "json_out.h"
#include "units.h"

static json_t *curve_json(const struct dimfit *fit)
{
    json_t *array = json_array();
    for (int i = 0; i < fit->curve.count; i++) {
        const struct dimcurve_point *point = &fit->curve.points[i];
        json_array_append_new(
            array, json_pack("{s:f,s:f,s:o}", "drive", point->drive, "level", point->level, "watts",
                             fit->has_watts ? json_out_real(point->watts) : json_null()));
    }
    return array;
}

static json_t *readings_json(const struct sweep_finding *finding)
{
    const struct sweep_result *result = &finding->result;
    json_t *array = json_array();
    for (int i = 0; i < result->count; i++) {
        const struct dimfit_reading *reading = &result->readings[i];
        json_t *object = json_pack("{s:f,s:f,s:o,s:f}", "drive", reading->drive, "lamp_umol",
                                   reading->umol, "watts", json_out_real(reading->watts),
                                   "residual", dimfit_residual(&result->fit, reading));
        if (finding->sweep) {
            const struct sweep_step *step = &finding->sweep->steps[result->step_of[i]];
            json_out_set(object, "kind", json_string(sweep_kind_name(step->kind)));
            json_out_set(object, "ppfd_umol", json_out_real(step->umol));
            json_out_set(object, "spread_umol", json_out_real(step->spread_umol));
            json_out_set(object, "samples", json_integer(step->samples));
            json_out_set(object, "heat_c", json_out_real(step->heat_c));
            json_out_set(object, "is_steady", json_boolean(step->is_steady));
        }
        json_array_append_new(array, object);
    }
    return array;
}

static json_t *search_json(bool is_there, const struct ceilingsearch *search)
{
    if (!is_there) {
        return json_null();
    }
    double heat_c = UNITS_NONE;
    json_t *rounds = json_array();
    for (int i = 0; i < search->round_count; i++) {
        const struct ceilingsearch_round *round = &search->rounds[i];
        json_array_append_new(rounds, json_pack("{s:o,s:o,s:o}", "held_drive",
                                                json_out_real(round->held_drive), "trip_drive",
                                                json_out_real(round->trip_drive), "heat_c",
                                                json_out_real(round->heat_c)));
    }
    const double ceiling = ceilingsearch_ceiling(search, &heat_c);
    return json_pack("{s:o,s:o,s:i,s:o,s:o}", "ceiling", json_out_real(ceiling), "heat_c",
                     json_out_real(heat_c), "trips", search->trips, "rounds", rounds, "given_up",
                     json_out_text(search->why));
}

static void add_text(void *context, const char *text)
{
    json_array_append_new(context, json_string(text));
}

void sweep_json(const struct sweep_finding *finding, const char *record)
{
    const struct sweep_result *result = &finding->result;
    const struct dimfit *fit = &result->fit;
    const struct {
        const char *key;
        double value;
    } numbers[] = {
        {"full_umol", fit->full_umol},
        {"dead_below", fit->dead_below},
        {"holds_drive", fit->holds_drive},
        {"holds_level", fit->holds_level},
        {"lights_drive", fit->lights_drive},
        {"off_drive", result->off_drive},
        {"on_drive", result->on_drive},
        {"saturated_above", fit->saturated_above},
        {"droop", result->droop},
        {"droop_per_k", result->droop_per_k},
        {"heat_low_c", finding->cold_c},
        {"heat_high_c", finding->hot_c},
        {"dark_least_umol", result->dark_least},
        {"dark_most_umol", result->dark_most},
        {"worst_level", fit->worst_level},
        {"rms_level", fit->rms_level},
        {"worst_w", fit->worst_w},
        {"rms_w", fit->rms_w},
        {"drive_ceiling", finding->ceiling},
        {"ceiling_heat_c", finding->ceiling_heat_c},
        {"ceiling_margin", finding->ceiling_margin},
        {"drive_cap_today", finding->cap_today},
    };
    json_t *object = json_object();
    json_t *found = json_array();
    json_out_set(object, "space", json_out_text(finding->space));
    json_out_set(object, "fixture", json_out_text(finding->fixture));
    json_out_set(object, "date", json_out_text(finding->date));
    json_out_set(object, "sensor", json_out_text(finding->sensor));
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        json_out_set(object, numbers[i].key, json_out_real(numbers[i].value));
    }
    json_out_set(object, "trips", json_integer(finding->sweep ? finding->sweep->trips : 0));
    json_out_set(object, "curve", curve_json(fit));
    json_out_set(object, "readings", readings_json(finding));
    json_out_set(object, "cold", search_json(finding->has_cold, &finding->cold));
    json_out_set(object, "warm", search_json(finding->has_warm, &finding->warm));
    sweep_words(finding, add_text, found);
    json_out_set(object, "found", found);
    json_out_set(object, "record", json_out_text(record));
    json_out_print(object);
}
