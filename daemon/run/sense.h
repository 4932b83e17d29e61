/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What every sensor says, from its registers to how far it is believed, as JSON: for the daemon's
 * control socket and for a look at a bus without a daemon.
 *
 * One object a sensor: {sensor, bus, driver, kind, unit, raw, read_value, value, age_s, quality,
 * reason, low, high}. raw: as the device said it; read_value: decoded, believed or not; value and
 * age_s: what is believed and how old it is; reason: why it is not simply good. Not known: null.
 */
#ifndef LAMPWARDEN_SENSE_H
#define LAMPWARDEN_SENSE_H

#include "config.h"
#include "snapshot.h"

#include <jansson.h>

struct sense_look {
    const struct config *config;
    int sensor;
    const struct picture_sensor *picture;
    const char *bus_trouble; /* why its bus does not answer at all; NULL: it does */
    int64_t now_ns;          /* boot time */
};

/* NULL: no memory. The caller's to json_decref. */
json_t *sense_sensor_json(const struct sense_look *look);
json_t *sense_json(const struct picture *picture); /* an array, in the configuration's order */

const char *sense_kind_name(enum sensor_kind kind);
const char *sense_unit(enum sensor_kind kind); /* "µmol m⁻² s⁻¹", "°C", "%", "W" */

#endif
