/* SPDX-License-Identifier: Apache-2.0 */
/* Outputs and fixtures as they were asked, written, read back and observed, each by itself. */
#include "status_parts.h"

#include "ageings.h"
#include "control_proto.h"
#include "parse.h"
#include "units.h"
#include "words.h"

#include <string.h>

static json_t *trial_json(const struct words_lamp *lamp, bool of_contact)
{
    char held[128];
    const struct trial *trial = of_contact ? &lamp->now->try_contact : &lamp->now->try_drive;
    if (!trial_is_on(trial, lamp->boot_ns)) {
        return json_null();
    }
    words_trial(lamp, of_contact, held, sizeof held);
    return json_pack("{s:f,s:f,s:b,s:o}", "value", trial->value, "left_s",
                     units_seconds(trial->until_ns - lamp->boot_ns), "breaks_night",
                     (int)trial->breaks_night, "held", held[0] ? control_text(held) : json_null());
}

/* The lamp behind an output; of no fixture: names null. */
static void put_lamp(json_t *object, const struct picture *picture, int space, int output)
{
    const struct config *config = picture->config;
    const struct config_space *its = &config->spaces[space];
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &config->fixtures[its->fixtures[place]];
        const bool is_contact = fixture->switch_output == output;
        if (!is_contact && fixture->dim_output != output) {
            continue;
        }
        const struct words_lamp lamp = {
            .rules = &its->rules.fixtures[place],
            .now = &picture->spaces[space].now.fixtures[place],
            .state = &picture->spaces[space].state.fixtures[place],
            .verdict = &picture->spaces[space].verdict.fixtures[place],
            .boot_ns = picture->boot_ns,
        };
        json_object_set_new(object, "space", json_string(its->name));
        json_object_set_new(object, "fixture", json_string(fixture->name));
        json_object_set_new(object, "try", trial_json(&lamp, is_contact));
    }
}

static json_t *output_json(const struct picture *picture, int output)
{
    const struct config_output *its = &picture->config->outputs[output];
    const struct outputs_view *view = &picture->outputs[output];
    json_t *object = json_object();
    json_object_set_new(object, "output", json_string(its->name));
    json_object_set_new(object, "bus", json_string(picture->config->buses[its->bus].name));
    json_object_set_new(object, "kind", json_string(its->kind == OUTPUT_SWITCH ? "switch" : "dim"));
    json_object_set_new(object, "space", json_null());
    json_object_set_new(object, "fixture", json_null());
    json_object_set_new(object, "try", json_null());
    json_object_set_new(object, "asked", control_real(view->asked));
    json_object_set_new(object, "written", control_real(view->written));
    json_object_set_new(object, "read_back", control_real(view->read_back));
    json_object_set_new(object, "since_s",
                        view->since_ns > 0
                            ? json_real(units_seconds(picture->boot_ns - view->since_ns))
                            : json_null());
    json_object_set_new(object, "is_used", json_boolean(view->is_used));
    json_object_set_new(object, "obeys", json_boolean(view->obeys));
    json_object_set_new(object, "is_fault", json_boolean(view->is_fault));
    json_object_set_new(object, "error",
                        view->reason[0] ? control_text(view->reason) : json_null());
    for (int space = 0; picture->is_ready && space < picture->config->space_count; space++) {
        put_lamp(object, picture, space, output);
    }
    return object;
}

json_t *status_outputs(const struct picture *picture, int space)
{
    const struct config *config = picture->config;
    json_t *array = json_array();
    for (int i = 0; i < config->output_count; i++) {
        json_t *object = output_json(picture, i);
        const char *its = json_string_value(json_object_get(object, "space"));
        if (space < 0 || (its && strcmp(its, config->spaces[space].name) == 0)) {
            json_array_append(array, object);
        }
        json_decref(object);
    }
    return array;
}

/* What the fixture's own curve promises for its drive, beside what its own meter says. */
void status_put_observed(json_t *object, const struct fixture_rules *rules,
                         const struct picture_space *its, int place)
{
    const struct fixture_verdict *verdict = &its->verdict.fixtures[place];
    const struct reading *power = &its->now.fixtures[place].power;
    const bool is_metered = rules->has_power && !rules->power_is_shared && reading_is_good(power);
    const double watts = verdict->closed ? dimcurve_watts(&rules->curve, verdict->drive) : 0;
    const double umol =
        rules->full_umol * its->state.correction.lamp * its->state.light_gain * verdict->level;
    json_object_set_new(object, "measured_watts",
                        is_metered ? control_real(power->value) : json_null());
    json_object_set_new(object, "expected_watts", control_real(watts));
    json_object_set_new(object, "full_watts", control_real(dimcurve_watts(&rules->curve, 1)));
    json_object_set_new(object, "expected_umol", control_real(umol));
}

json_t *status_gain(const struct space_state *state)
{
    const struct correction *correction = &state->correction;
    return json_pack("{s:i,s:o,s:f,s:f,s:o}", "steps", state->lampstep.count, "ratio",
                     control_real(lampstep_ratio(&state->lampstep)), "sensor_factor",
                     correction->sensor, "lamp_factor", correction->lamp, "accepted_s",
                     correction_is_none(correction) ? json_null()
                                                    : json_integer(correction->since_s));
}

json_t *status_ageing(const struct config_space *space, const struct space_state *state)
{
    const struct ageing_rules *rules = &space->rules.ageing;
    const struct ageing_view view = ageing_view(&state->ageing, rules);
    char words[AGEINGS_WORDS_MAX];
    char day[16];
    if (!view.is_known) {
        return json_null();
    }
    ageings_words(rules, &state->ageing, words, sizeof words);
    parse_format_date(view.last_day, day, sizeof day);
    return json_pack(
        "{s:s,s:f,s:f,s:I,s:s,s:i,s:o,s:o}", "words", words, "share", view.share, "spread",
        view.spread, "days", (json_int_t)(view.last_day - rules->commissioned), "last_day", day,
        "sensors_compared", view.sensors, "sensor_fallen",
        view.fallen >= 0 ? json_integer(view.fallen) : json_null(), "sensor_fallen_share",
        control_real(view.fallen >= 0 ? view.fallen_share : UNITS_NONE));
}
