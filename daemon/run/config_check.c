/* SPDX-License-Identifier: Apache-2.0 */
/* What a single value cannot show: places, lines, sensors, outputs. Lamps are in
 * config_check_lamp.c. */
#include "config_section.h"

#include "config_check.h"
#include "config_zone.h"
#include "err.h"
#include "findings.h"
#include "parse.h"

#include <string.h>

static void check_site(const struct section *site, struct findings *findings)
{
    const struct value *offset = &site->values[SITE_UTC_OFFSET];
    struct value *zone = &site->values[SITE_TIME_ZONE];
    if (offset->is_bad || zone->is_bad) {
        return;
    }
    if (!offset->is_set && !zone->is_set) {
        findings_error(findings, site->line,
                       "site: missing utc_offset (\"-14:00\" … \"+14:00\") or time_zone "
                       "(\"Europe/Berlin\")");
        return;
    }
    if (offset->is_set && zone->is_set) {
        findings_error(findings, zone->line,
                       "site.time_zone: utc_offset in line %d says it already: give one of them",
                       offset->line);
        return;
    }
    int32_t offset_s = 0;
    struct err err;
    if (zone->is_set && zone_standard_offset(ZONE_FOLDER, zone->text, &offset_s, &err) < 0) {
        findings_error(findings, zone->line, "site.time_zone: %s", err.text);
        zone->is_bad = true;
        return;
    }
    zone->integer = offset_s;
}

static void check_bus(const struct section *bus, int index, struct findings *findings)
{
    const struct value *driver = &bus->values[BUS_DRIVER];
    if (!driver->is_set || bus->driver) {
        return;
    }
    const char *names[32] = {NULL};
    char known[256] = "";
    size_t used = 0;
    for (int i = 0; i < 31 && used < sizeof known && driver_registry[i]; i++) {
        names[i] = driver_registry[i]->name;
        used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", i > 0 ? ", " : "",
                                 names[i]);
    }
    char quoted[48];
    parse_quote(driver->text, quoted, sizeof quoted);
    const char *nearest = value_nearest(names, driver->text);
    const char *missing = driver_missing();
    findings_error(findings, driver->line,
                   "buses[%d].driver: no driver \"%s\"%s%s%s (known: %s)%s%s", index, quoted,
                   nearest ? ", did you mean \"" : "", nearest ? nearest : "", nearest ? "\"?" : "",
                   known, missing[0] ? "; " : "", missing);
}

/* The line is locked by the first bus that opens it: the second would never connect. */
static void check_serial_line(const struct section *buses, int index, struct findings *findings)
{
    const struct section *bus = &buses[index];
    if (!bus->driver || strcmp(bus->driver->name, "modbus-rtu") != 0) {
        return;
    }
    int key = bus->own_count;
    while (key < bus->key_count && strcmp(bus->keys[key].name, "device") != 0) {
        key++;
    }
    for (int i = 0; i < index && key < bus->key_count && section_is_usable(bus, key); i++) {
        if (buses[i].driver == bus->driver &&
            value_is_same(&buses[i].values[key], &bus->values[key])) {
            findings_error(findings, bus->values[key].line,
                           "buses[%d].device: the serial line of buses[%d] (\"%s\") already: only "
                           "one bus can open it; put the points on that one",
                           index, i, section_text(&buses[i], BUS_NAME));
            break;
        }
    }
}

static void check_sensor(const struct section *root, int index, struct findings *findings)
{
    const struct section *sensor = &root->values[ROOT_SENSORS].sections[index];
    const struct value *values = sensor->values;
    if (sensor->driver && !sensor->driver->sensor_options) {
        findings_error(findings, sensor->line, "sensors[%d].bus: driver %s has no sensors", index,
                       sensor->driver->name);
    }
    if (section_is_usable(sensor, SENSOR_LOW) && section_is_usable(sensor, SENSOR_HIGH) &&
        !(values[SENSOR_LOW].real < values[SENSOR_HIGH].real)) {
        findings_error(findings, check_line(sensor, SENSOR_HIGH, SENSOR_LOW),
                       "sensors[%d].high: %.10g is not above low (%.10g)", index,
                       values[SENSOR_HIGH].real, values[SENSOR_LOW].real);
    }
    bool has_ages =
        section_is_usable(sensor, SENSOR_STALE) && section_is_usable(sensor, SENSOR_LOST);
    if (has_ages && !(values[SENSOR_LOST].real > values[SENSOR_STALE].real)) {
        findings_error(findings, check_line(sensor, SENSOR_LOST, SENSOR_STALE),
                       "sensors[%d].lost_s: %.10g is not above stale_s (%.10g s)", index,
                       values[SENSOR_LOST].real, values[SENSOR_STALE].real);
    }
    if (section_is_usable(sensor, SENSOR_POWER_ON) && section_is_usable(sensor, SENSOR_KIND) &&
        section_integer(sensor, SENSOR_KIND) != SENSOR_TEMPERATURE) {
        findings_error(findings, values[SENSOR_POWER_ON].line,
                       "sensors[%d].power_on_c: only for sensors of kind temperature", index);
    }
    if (!section_is_usable(sensor, SENSOR_BUS) || !section_is_usable(sensor, SENSOR_STALE)) {
        return;
    }
    const struct section *bus = &root->values[ROOT_BUSES].sections[values[SENSOR_BUS].integer];
    if (section_is_usable(bus, BUS_EVERY) &&
        !(values[SENSOR_STALE].real > section_real(bus, BUS_EVERY))) {
        findings_error(findings, check_line(sensor, SENSOR_STALE, SENSOR_BUS),
                       "sensors[%d].stale_s: %.10g is not above every_s of its bus (%.10g s)",
                       index, values[SENSOR_STALE].real, section_real(bus, BUS_EVERY));
    }
}

static bool is_same_point(const struct section *a, const struct section *b)
{
    bool is_comparable = a->driver && a->driver == b->driver && a->own_count < a->key_count &&
                         a->key_count == b->key_count &&
                         value_is_same(&a->values[OUTPUT_BUS], &b->values[OUTPUT_BUS]) &&
                         value_is_same(&a->values[OUTPUT_KIND], &b->values[OUTPUT_KIND]);
    for (int i = a->own_count; is_comparable && i < a->key_count; i++) {
        is_comparable = !a->values[i].is_bad && value_is_same(&a->values[i], &b->values[i]);
    }
    return is_comparable;
}

static void check_output(const struct section *root, int index, struct findings *findings)
{
    const struct section *outputs = root->values[ROOT_OUTPUTS].sections;
    const struct section *output = &outputs[index];
    if (output->driver && section_is_usable(output, OUTPUT_KIND)) {
        bool is_switch = section_integer(output, OUTPUT_KIND) == OUTPUT_SWITCH;
        if (!(is_switch ? output->driver->switch_options : output->driver->dim_options)) {
            findings_error(findings, output->line, "outputs[%d].kind: driver %s has no %s outputs",
                           index, output->driver->name, is_switch ? "switch" : "dim");
        }
    }
    for (int i = 0; i < index; i++) {
        if (is_same_point(&outputs[i], output)) {
            findings_error(findings, output->line,
                           "outputs[%d]: the same place on the same bus as outputs[%d] (\"%s\")",
                           index, i, section_text(&outputs[i], OUTPUT_NAME));
            break;
        }
    }
}

static bool check_days(const struct section *root, int space, struct findings *findings)
{
    const struct value *stages = &root->values[ROOT_SPACES].sections[space].values[SPACE_STAGES];
    bool is_protected = false;
    for (int i = 0; i < stages->count; i++) {
        if (!stages->items[i].is_set || stages->items[i].is_bad) {
            continue;
        }
        const struct section *stage = &root->values[ROOT_STAGES].sections[stages->items[i].integer];
        is_protected = is_protected || (section_is_usable(stage, STAGE_PROTECT) &&
                                        section_integer(stage, STAGE_PROTECT));
        if (i + 1 < stages->count && section_is_usable(stage, STAGE_DAYS) &&
            section_integer(stage, STAGE_DAYS) == 0) {
            findings_error(findings, stages->items[i].line,
                           "spaces[%d].stages[%d]: \"%s\" has days = 0 (until further notice) and "
                           "is not the last stage",
                           space, i, stages->items[i].text);
        }
    }
    return is_protected;
}

static void check_space(const struct section *root, int index, struct findings *findings)
{
    const struct section *space = &root->values[ROOT_SPACES].sections[index];
    const struct value *policy = &space->values[SPACE_CLOCK_POLICY];
    bool is_protected = check_days(root, index, findings);
    if (!is_protected || !section_is_usable(space, SPACE_CLOCK_POLICY)) {
        return;
    }
    if (policy->integer == CLOCK_POLICY_LOW) {
        findings_error(findings, policy->line,
                       "spaces[%d].clock_policy: \"low\" would light the night of a stage with "
                       "protect_night (use \"dark\")",
                       index);
    } else if (policy->integer == CLOCK_POLICY_CARRY_ON) {
        findings_warning(findings, policy->line,
                         "spaces[%d].clock_policy: \"carry-on\" with a stage that has "
                         "protect_night: a wrong clock then moves the night",
                         index);
    }
}

static void check_carry(const struct section *stage, int index, struct findings *findings)
{
    if (section_is_usable(stage, STAGE_CARRY) && section_is_usable(stage, STAGE_TARGET) &&
        section_real(stage, STAGE_CARRY) > section_real(stage, STAGE_TARGET) / 2) {
        findings_error(findings, check_line(stage, STAGE_CARRY, STAGE_TARGET),
                       "stages[%d].carry_over_mol: %.10g is more than half of target_mol (%.10g "
                       "mol m⁻² per day)",
                       index, section_real(stage, STAGE_CARRY), section_real(stage, STAGE_TARGET));
    }
}

static void check_run(const struct section *stage, int index, struct findings *findings)
{
    if (section_is_usable(stage, STAGE_RUN) && section_is_usable(stage, STAGE_LENGTH) &&
        section_real(stage, STAGE_LENGTH) > 0 &&
        section_real(stage, STAGE_RUN) > section_real(stage, STAGE_LENGTH) * 60) {
        findings_error(findings, check_line(stage, STAGE_RUN, STAGE_LENGTH),
                       "stages[%d].shortest_run_min: %.10g is longer than day_length_h (%.10g h)",
                       index, section_real(stage, STAGE_RUN), section_real(stage, STAGE_LENGTH));
    }
}

static void check_stage(const struct section *stage, int index, struct findings *findings)
{
    if (section_is_usable(stage, STAGE_FLOOR) && section_is_usable(stage, STAGE_CEILING) &&
        section_real(stage, STAGE_FLOOR) > section_real(stage, STAGE_CEILING)) {
        findings_error(findings, check_line(stage, STAGE_FLOOR, STAGE_CEILING),
                       "stages[%d].floor_umol: %.10g is above ceiling_umol (%.10g µmol m⁻² s⁻¹)",
                       index, section_real(stage, STAGE_FLOOR), section_real(stage, STAGE_CEILING));
    }
    if (section_is_usable(stage, STAGE_LENGTH) && section_is_usable(stage, STAGE_PROTECT) &&
        section_integer(stage, STAGE_PROTECT) && section_real(stage, STAGE_LENGTH) * 3600 > 86399) {
        findings_error(findings, stage->values[STAGE_LENGTH].line,
                       "stages[%d].day_length_h: %.10g leaves no night to protect (protect_night = "
                       "true; below 24 h)",
                       index, section_real(stage, STAGE_LENGTH));
    }
    check_run(stage, index, findings);
    check_carry(stage, index, findings);
}

void section_check_points(const struct section *root, struct findings *findings)
{
    for (int i = 0; i < root->values[ROOT_BUSES].count; i++) {
        check_bus(&root->values[ROOT_BUSES].sections[i], i, findings);
        check_serial_line(root->values[ROOT_BUSES].sections, i, findings);
    }
    for (int i = 0; i < root->values[ROOT_SENSORS].count; i++) {
        check_sensor(root, i, findings);
    }
}

void section_check(const struct section *root, struct findings *findings)
{
    check_site(section_group(root, ROOT_SITE), findings);
    check_power(section_group(root, ROOT_SITE), findings);
    check_page(section_group(root, ROOT_PAGE), findings);
    check_alarm(section_group(root, ROOT_ALARM), findings);
    for (int i = 0; i < root->values[ROOT_OUTPUTS].count; i++) {
        check_output(root, i, findings);
    }
    for (int i = 0; i < root->values[ROOT_STAGES].count; i++) {
        check_stage(&root->values[ROOT_STAGES].sections[i], i, findings);
    }
    for (int i = 0; i < root->values[ROOT_SPACES].count; i++) {
        check_space(root, i, findings);
    }
    check_lamps(root, findings);
}
