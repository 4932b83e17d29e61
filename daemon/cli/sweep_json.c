/* SPDX-License-Identifier: Apache-2.0 */
/* A sweep for programs. */
#include "sweep_parts.h"
#include "units.h"

#include <jansson.h>
#include <math.h>

static json_t *real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static void set(json_t *object, const char *key, json_t *value)
{
    (void)json_object_set_new(object, key, value); /* fails only without memory */
}

static json_t *text_or_null(const char *text)
{
    return text && text[0] ? json_string(text) : json_null();
}

static json_t *curve_json(const struct dimfit *fit)
{
    json_t *array = json_array();
    for (int i = 0; i < fit->curve.count; i++) {
        const struct dimcurve_point *point = &fit->curve.points[i];
        json_array_append_new(array, json_pack("{s:f,s:f,s:o}", "drive", point->drive, "level",
                                               point->level, "watts",
                                               fit->has_watts ? real(point->watts) : json_null()));
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
                                   reading->umol, "watts", real(reading->watts), "residual",
                                   dimfit_residual(&result->fit, reading));
        if (finding->sweep) {
            const struct sweep_step *step = &finding->sweep->steps[result->step_of[i]];
            set(object, "kind", json_string(sweep_kind_name(step->kind)));
            set(object, "ppfd_umol", real(step->umol));
            set(object, "spread_umol", real(step->spread_umol));
            set(object, "samples", json_integer(step->samples));
            set(object, "heat_c", real(step->heat_c));
            set(object, "is_steady", json_boolean(step->is_steady));
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
        json_array_append_new(
            rounds, json_pack("{s:o,s:o,s:o}", "held_drive", real(round->held_drive), "trip_drive",
                              real(round->trip_drive), "heat_c", real(round->heat_c)));
    }
    const double ceiling = ceilingsearch_ceiling(search, &heat_c);
    return json_pack("{s:o,s:o,s:i,s:o,s:o}", "ceiling", real(ceiling), "heat_c", real(heat_c),
                     "trips", search->trips, "rounds", rounds, "given_up",
                     text_or_null(search->why));
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
        {"drive_cap_today", finding->cap_today},
    };
    json_t *object = json_object();
    json_t *found = json_array();
    set(object, "space", text_or_null(finding->space));
    set(object, "fixture", text_or_null(finding->fixture));
    set(object, "date", text_or_null(finding->date));
    set(object, "sensor", text_or_null(finding->sensor));
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        set(object, numbers[i].key, real(numbers[i].value));
    }
    set(object, "trips", json_integer(finding->sweep ? finding->sweep->trips : 0));
    set(object, "curve", curve_json(fit));
    set(object, "readings", readings_json(finding));
    set(object, "cold", search_json(finding->has_cold, &finding->cold));
    set(object, "warm", search_json(finding->has_warm, &finding->warm));
    sweep_words(finding, add_text, found);
    set(object, "found", found);
    set(object, "record", text_or_null(record));
    (void)json_dumpf(object, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
    (void)putchar('\n');
    json_decref(object);
}
