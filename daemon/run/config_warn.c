/* SPDX-License-Identifier: Apache-2.0 */
/* What loads and works, but is probably not meant; always with the numbers. */
#include "config_build.h"

#include "config_section.h"
#include "dimcurve.h"
#include "findings.h"
#include "units.h"

#include <math.h>
#include <string.h>

double config_lamps_umol(const struct space_rules *rules)
{
    double sum = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_rules *fixture = &rules->fixtures[i];
        sum += fixture->full_umol * dimcurve_level(&fixture->curve, fixture->ceiling.drive_max);
    }
    return sum;
}

/* Light that cannot be dimmed below a ceiling is none. */
static void warn_ceiling(const struct section *root, const struct config *config, int index,
                         struct findings *findings)
{
    const struct config_space *space = &config->spaces[index];
    const struct value *names = &section_entry(root, ROOT_SPACES, index)->values[SPACE_STAGES];
    double lowest = 0;
    for (int i = 0; i < space->rules.fixture_count; i++) {
        const struct fixture_rules *fixture = &space->rules.fixtures[i];
        lowest += fixture->full_umol * dimcurve_min_level(&fixture->curve);
    }
    for (int i = 0; i < space->rules.stage_count; i++) {
        const struct stage *stage = &space->rules.stages[i];
        const int number = (int)names->items[i].integer;
        if (stage->ceiling_umol < lowest) {
            findings_warning(findings,
                             section_entry(root, ROOT_STAGES, number)->values[STAGE_CEILING].line,
                             "stages[%d].ceiling_umol: %.10g, but the lamps of space %s give "
                             "%.0f µmol m⁻² s⁻¹ at their lowest: they stay dark",
                             number, stage->ceiling_umol, space->name, lowest);
        }
    }
}

/* Ramps are usually half an hour; a short light of an interrupted night is shorter than two. */
static void warn_ramps(const struct section *root, const struct config *config, int index,
                       struct findings *findings)
{
    const struct config_space *space = &config->spaces[index];
    const struct value *names = &section_entry(root, ROOT_SPACES, index)->values[SPACE_STAGES];
    for (int i = 0; i < space->rules.stage_count; i++) {
        const struct stage *stage = &space->rules.stages[i];
        const int number = (int)names->items[i].integer;
        const int ramps_s = stage->ramp.dawn_s + stage->ramp.dusk_s;
        if (stage->window.length_s > 0 && stage->window.length_s < UNITS_S_PER_DAY &&
            ramps_s > stage->window.length_s) {
            findings_warning(
                findings, section_entry(root, ROOT_STAGES, number)->values[STAGE_LENGTH].line,
                "stages[%d].day_length_h: dawn and dusk take %d min, and the lamps are "
                "lit for %d min: full light is never reached",
                number, ramps_s / 60, stage->window.length_s / 60);
        }
    }
}

/* A floor is light that nobody chooses by its price. */
static void warn_floor(const struct section *root, const struct config *config, int index,
                       struct findings *findings)
{
    const struct config_space *space = &config->spaces[index];
    const struct value *names = &section_entry(root, ROOT_SPACES, index)->values[SPACE_STAGES];
    const double lamps = config_lamps_umol(&space->rules);
    for (int i = 0; i < space->rules.stage_count; i++) {
        const struct stage *stage = &space->rules.stages[i];
        const int number = (int)names->items[i].integer;
        const int line = section_entry(root, ROOT_STAGES, number)->values[STAGE_FLOOR].line;
        const double lit_s =
            ramp_integral(&stage->ramp, stage->window.length_s, 0, stage->window.length_s);
        const double alone = units_mol(fmin(stage->floor_umol, lamps), lit_s);
        if (stage->floor_umol > lamps) {
            findings_warning(findings, line,
                             "stages[%d].floor_umol: %.10g, but the lamps of space %s give at most "
                             "%.0f µmol m⁻² s⁻¹: without daylight they burn at full light all day",
                             number, stage->floor_umol, space->name, lamps);
        } else if (alone > stage->target_mol) {
            findings_warning(findings, line,
                             "stages[%d].floor_umol: %.10g gives %.1f mol in the window by itself, "
                             "more than the target of %.1f mol",
                             number, stage->floor_umol, alone, stage->target_mol);
        }
    }
}

/* A float in the wrong word order often lands between what the lamps give and a generous limit. */
static void warn_range(const struct section *root, const struct config *config, int index,
                       struct findings *findings)
{
    const struct config_space *space = &config->spaces[index];
    double reads = space_configured_umol(&space->rules) / space->canopy_factor;
    for (int i = 0; i < space->ppfd_sensor_count; i++) {
        int number = space->ppfd_sensors[i];
        const struct config_sensor *sensor = &config->sensors[number];
        if (space->rules.sees_daylight || !(sensor->quality.high > 4 * reads)) {
            continue;
        }
        const struct section *section = section_entry(root, ROOT_SENSORS, number);
        int line = section->values[SENSOR_HIGH].line;
        findings_warning(findings, line > 0 ? line : section->line,
                         "sensors[%d].high: %.10g, but the lamps of space %s give it at most %.0f "
                         "µmol m⁻² s⁻¹: about %.0f would refuse wrong readings sooner",
                         number, sensor->quality.high, space->name, reads, 1.5 * reads);
    }
}

static void warn_spaces(const struct section *root, const struct config *config,
                        struct findings *findings)
{
    for (int i = 0; i < config->space_count; i++) {
        const struct config_space *space = &config->spaces[i];
        warn_ceiling(root, config, i, findings);
        warn_ramps(root, config, i, findings);
        warn_floor(root, config, i, findings);
        warn_range(root, config, i, findings);
        if (space->ppfd_sensor_count == 0) {
            findings_warning(findings, section_entry(root, ROOT_SPACES, i)->line,
                             "spaces[%d]: no ppfd_sensors: its light is reckoned from the dimming "
                             "curves and a dark lamp is not noticed",
                             i);
        }
        if (space->ppfd_sensor_count == 0 && space->rules.sees_daylight) {
            findings_warning(findings,
                             section_entry(root, ROOT_SPACES, i)->values[SPACE_DAYLIGHT].line,
                             "spaces[%d].sees_daylight: has no effect without ppfd_sensors", i);
        }
    }
}

/* The contact opens in every fault, but a welded one, or a stop while it is closed, leaves this. */
static void warn_bright(const struct section *fixture, const char *path, double safe, int line,
                        struct findings *findings)
{
    struct dimcurve_point points[DIMCURVE_POINTS_MAX] = {{0, 0, 0}};
    struct dimcurve curve;
    int bad = -1;
    if (dimcurve_init(&curve, points, section_curve(fixture, points), &bad) != DIMCURVE_OK) {
        return;
    }
    double level = dimcurve_level(&curve, safe);
    if (safe >= 0.5 || level >= 0.5) {
        findings_warning(findings, line,
                         "%s: %.10g is bright, %.0f %% of full light: a contact that welds, or a "
                         "stop while it is closed, leaves that light on",
                         path, safe, level * 100);
    }
}

/* Drivers that know a safe value themselves should mean the same one. */
static void warn_safe_drive(const struct section *root, const struct config *config, int index,
                            struct findings *findings)
{
    int output = config->fixtures[index].dim_output;
    const struct section *fixture = section_entry(root, ROOT_FIXTURES, index);
    if (output < 0) {
        return;
    }
    const struct section *dim = section_entry(root, ROOT_OUTPUTS, output);
    double safe = section_real(fixture, FIXTURE_SAFE_DRIVE);
    int line = fixture->values[FIXTURE_SAFE_DRIVE].line;
    line = line > 0 ? line : fixture->line;
    char path[64];
    (void)snprintf(path, sizeof path, "fixtures[%d].safe_drive", index);
    warn_bright(fixture, path, safe, line, findings);
    for (int i = dim->own_count; i < dim->key_count; i++) {
        if (strcmp(dim->keys[i].name, "safe") != 0 || !section_is_usable(dim, i)) {
            continue;
        }
        double own = section_real(dim, i);
        int own_line = dim->values[i].line > 0 ? dim->values[i].line : dim->line;
        (void)snprintf(path, sizeof path, "outputs[%d].safe", output);
        warn_bright(fixture, path, own, own_line, findings);
        if (fabs(own - safe) > 1e-9) {
            findings_warning(findings, line,
                             "fixtures[%d].safe_drive: %.10g, but outputs[%d].safe is %.10g", index,
                             safe, output, own);
        }
    }
}

static void warn_fixtures(const struct section *root, const struct config *config,
                          struct findings *findings)
{
    for (int i = 0; i < config->fixture_count; i++) {
        const struct config_fixture *fixture = &config->fixtures[i];
        int line = section_entry(root, ROOT_FIXTURES, i)->line;
        if (fixture->space < 0) {
            findings_warning(findings, line, "fixtures[%d]: \"%s\" belongs to no space", i,
                             fixture->name);
        }
        if (fixture->heat_sensor_count == 0) {
            findings_warning(
                findings, line,
                "fixtures[%d]: no heat_sensors: nothing here protects \"%s\" from heat", i,
                fixture->name);
        }
        if (fixture->switch_output < 0) {
            findings_warning(
                findings, line,
                "fixtures[%d]: no switch: its dark depends on the dimming line, and an "
                "interrupted 0-10 V line is full light",
                i);
        }
        warn_safe_drive(root, config, i, findings);
    }
}

static bool is_sensor_used(const struct config *config, int sensor)
{
    for (int i = 0; i < config->fixture_count; i++) {
        const struct config_fixture *fixture = &config->fixtures[i];
        bool is_heat = false;
        for (int k = 0; k < fixture->heat_sensor_count; k++) {
            is_heat = is_heat || fixture->heat_sensors[k] == sensor;
        }
        if (is_heat || fixture->power_sensor == sensor) {
            return true;
        }
    }
    for (int i = 0; i < config->space_count; i++) {
        const struct config_space *space = &config->spaces[i];
        bool is_light = false;
        for (int k = 0; k < space->ppfd_sensor_count; k++) {
            is_light = is_light || space->ppfd_sensors[k] == sensor;
        }
        if (is_light || space->air_temperature == sensor || space->air_humidity == sensor) {
            return true;
        }
    }
    return false;
}

static bool is_output_used(const struct config *config, int output)
{
    for (int i = 0; i < config->fixture_count; i++) {
        if (config->fixtures[i].dim_output == output ||
            config->fixtures[i].switch_output == output) {
            return true;
        }
    }
    return false;
}

static bool is_stage_used(const struct section *root, int stage)
{
    const struct value *spaces = &root->values[ROOT_SPACES];
    for (int i = 0; i < spaces->count; i++) {
        const struct value *stages = &spaces->sections[i].values[SPACE_STAGES];
        for (int k = 0; k < stages->count; k++) {
            if (stages->items[k].integer == stage) {
                return true;
            }
        }
    }
    return false;
}

static void warn_unused(const struct section *root, const struct config *config,
                        struct findings *findings)
{
    for (int i = 0; i < config->sensor_count; i++) {
        if (!is_sensor_used(config, i)) {
            findings_warning(findings, config->sensors[i].line,
                             "sensors[%d]: \"%s\" is not used by any fixture or space", i,
                             config->sensors[i].name);
        }
    }
    for (int i = 0; i < config->output_count; i++) {
        if (!is_output_used(config, i)) {
            findings_warning(findings, config->outputs[i].line,
                             "outputs[%d]: \"%s\" is not used by any fixture", i,
                             config->outputs[i].name);
        }
    }
    for (int i = 0; i < root->values[ROOT_STAGES].count; i++) {
        if (!is_stage_used(root, i)) {
            findings_warning(findings, section_entry(root, ROOT_STAGES, i)->line,
                             "stages[%d]: \"%s\" is not used by any space", i,
                             section_text(section_entry(root, ROOT_STAGES, i), STAGE_NAME));
        }
    }
}

void config_warn(const struct section *root, const struct config *config, struct findings *findings)
{
    config_warn_reach(root, config, findings);
    warn_spaces(root, config, findings);
    warn_fixtures(root, config, findings);
    warn_unused(root, config, findings);
    config_warn_power(root, config, findings);
    config_warn_points(root, findings);
    config_warn_page(root, findings);
    config_warn_alarm(root, config, findings);
}
