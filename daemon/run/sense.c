/* SPDX-License-Identifier: Apache-2.0 */
#include "sense.h"

#include "control_proto.h"
#include "err.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>

const char *sense_kind_name(enum sensor_kind kind)
{
    switch (kind) {
    case SENSOR_PPFD:
        return "ppfd";
    case SENSOR_TEMPERATURE:
        return "temperature";
    case SENSOR_HUMIDITY:
        return "humidity";
    case SENSOR_POWER:
        break;
    }
    return "power";
}

const char *sense_unit(enum sensor_kind kind)
{
    switch (kind) {
    case SENSOR_PPFD:
        return "µmol m⁻² s⁻¹";
    case SENSOR_TEMPERATURE:
        return "°C";
    case SENSOR_HUMIDITY:
        return "%";
    case SENSOR_POWER:
        break;
    }
    return "W";
}

/* Exceptions of a Modbus device under the errno that its driver gives them: it did answer. Others
 * share theirs with a broken line or a chip's silence. NULL: another error. */
static const char *refusal(int error)
{
    switch (error) {
    case -EADDRNOTAVAIL:
        return "illegal data address; registers count from 0";
    case -EOPNOTSUPP:
        return "illegal function; input or holding registers?";
    default:
        return NULL;
    }
}

static void say_no_answer(const struct sense_look *look, char *buffer, size_t size)
{
    const struct sample *sample = &look->picture->sample;
    if (look->bus_trouble) {
        (void)snprintf(buffer, size, "bus %s is not connected: %.120s",
                       look->config->buses[look->config->sensors[look->sensor].bus].name,
                       look->bus_trouble[0] ? look->bus_trouble : "not tried yet");
    } else if (sample->error < 0 && sample->raw[0]) {
        (void)snprintf(buffer, size, "%s was read, which is no measurement of such a device",
                       sample->raw);
    } else if (sample->error < 0 && refusal(sample->error)) {
        (void)snprintf(buffer, size, "the device refuses it: %s", refusal(sample->error));
    } else if (sample->error < 0) {
        (void)snprintf(buffer, size, "no answer: %s", err_name(sample->error));
    } else {
        (void)snprintf(buffer, size, "nothing new was read");
    }
}

/* Why the newest sample is not simply believed. */
static void say_fault(const struct sense_look *look, char *buffer, size_t size)
{
    const double value = look->picture->sample.value;
    buffer[0] = '\0';
    switch (look->picture->fault) {
    case QUALITY_OK:
        break;
    case QUALITY_NO_ANSWER:
        say_no_answer(look, buffer, size);
        break;
    case QUALITY_NOT_A_NUMBER:
        (void)snprintf(buffer, size, "what was read is not a number");
        break;
    case QUALITY_TINY:
        (void)snprintf(buffer, size, "%.3g is too small to be true: wrong word order?", value);
        break;
    case QUALITY_RANGE:
        (void)snprintf(buffer, size, "%.6g is outside the allowed range", value);
        break;
    case QUALITY_JUMP:
        (void)snprintf(buffer, size, "jumped to %.6g: believed when three readings agree", value);
        break;
    case QUALITY_FROZEN:
        (void)snprintf(buffer, size, "stands still although the light changed");
        break;
    case QUALITY_POWER_ON:
        (void)snprintf(buffer, size, "%.6g is what this chip shows before it has measured", value);
        break;
    }
}

static json_t *reason_json(const struct sense_look *look)
{
    char fault[192];
    char text[256];
    say_fault(look, fault, sizeof fault);
    if (look->picture->reading.quality == READING_STALE) {
        (void)snprintf(text, sizeof text, "this is the last good value%s%s", fault[0] ? "; " : "",
                       fault);
        return control_text(text);
    }
    return fault[0] ? control_text(fault) : json_null();
}

json_t *sense_sensor_json(const struct sense_look *look)
{
    const struct config_sensor *sensor = &look->config->sensors[look->sensor];
    const struct config_bus *bus = &look->config->buses[sensor->bus];
    const struct reading *reading = &look->picture->reading;
    const struct sample *sample = &look->picture->sample;
    const bool has_value = isfinite(reading->value);
    json_t *object = json_object();
    json_object_set_new(object, "sensor", json_string(sensor->name));
    json_object_set_new(object, "bus", json_string(bus->name));
    json_object_set_new(object, "driver", json_string(bus->driver->name));
    json_object_set_new(object, "kind", json_string(sense_kind_name(sensor->kind)));
    json_object_set_new(object, "unit", json_string(sense_unit(sensor->kind)));
    json_object_set_new(object, "raw", sample->raw[0] ? json_string(sample->raw) : json_null());
    json_object_set_new(object, "read_value",
                        control_real(sample->error < 0 ? (double)NAN : sample->value));
    json_object_set_new(object, "value", control_real(reading->value));
    json_object_set_new(
        object, "age_s",
        control_real(has_value ? units_seconds(look->now_ns - reading->taken_ns) : (double)NAN));
    json_object_set_new(object, "quality", json_string(journal_quality_name(reading->quality)));
    json_object_set_new(object, "reason", reason_json(look));
    json_object_set_new(object, "low", control_real(sensor->quality.low));
    json_object_set_new(object, "high", control_real(sensor->quality.high));
    return object;
}

json_t *sense_json(const struct picture *picture)
{
    json_t *array = json_array();
    for (int i = 0; i < picture->config->sensor_count; i++) {
        const struct mailbox_health *bus = &picture->buses[picture->config->sensors[i].bus];
        const struct sense_look look = {
            .config = picture->config,
            .sensor = i,
            .picture = &picture->sensors[i],
            .bus_trouble = bus->is_connected ? NULL : bus->reason,
            .now_ns = picture->boot_ns,
        };
        json_array_append_new(array, sense_sensor_json(&look));
    }
    return array;
}
