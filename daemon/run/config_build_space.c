/* SPDX-License-Identifier: Apache-2.0 */
/* Fixtures, their rules in the order of the spaces, stages copied for each space, and the spaces.
 */
#include "config_build.h"

#include "arena.h"
#include "config_section.h"
#include "fileio.h"

#include <math.h>
#include <string.h>

#define PER_MIN_PERCENT (1.0 / 100 / 60)

/* A reference that may be absent has −1. */
static int index_of(const struct section *section, int key)
{
    return section->values[key].is_set ? (int)section_integer(section, key) : -1;
}

static int copy_refs(const struct value *refs, int *ret, int room)
{
    int count = refs->count < room ? refs->count : room;
    for (int i = 0; i < count; i++) {
        ret[i] = (int)refs->items[i].integer;
    }
    return count;
}

static double real_or(const struct section *section, int key, double absent)
{
    return section->values[key].is_set ? section_real(section, key) : absent;
}

bool build_lamps(const struct section *root, struct arena *arena, struct config *config)
{
    const struct value *list = &root->values[ROOT_FIXTURES];
    config->fixtures = arena_take(arena, (size_t)list->count, sizeof *config->fixtures);
    config->fixture_rules = arena_take(arena, (size_t)list->count, sizeof *config->fixture_rules);
    config->fixture_count = list->count;
    if (!config->fixtures || !config->fixture_rules) {
        return false;
    }
    for (int i = 0; i < list->count; i++) {
        const struct section *section = &list->sections[i];
        struct config_fixture *fixture = &config->fixtures[i];
        build_text(fixture->name, sizeof fixture->name, section_text(section, FIXTURE_NAME));
        fixture->dim_output = index_of(section, FIXTURE_DIM);
        fixture->switch_output = index_of(section, FIXTURE_SWITCH);
        fixture->heat_sensor_count = copy_refs(&section->values[FIXTURE_HEAT_SENSORS],
                                               fixture->heat_sensors, CONFIG_HEAT_SENSORS_MAX);
        fixture->power_sensor = index_of(section, FIXTURE_POWER_SENSOR);
        fixture->space = -1;
        fixture->is_commissioned = section->values[FIXTURE_COMMISSIONED].is_set;
        fixture->commissioned = section_integer(section, FIXTURE_COMMISSIONED);
        fixture->commissioned_c = real_or(section, FIXTURE_COMMISSIONED_C, (double)NAN);
        if (!build_measured(section, arena, &fixture->measured)) {
            return false;
        }
    }
    return true;
}

static struct heat_rules build_heat(const struct section *heat, bool is_watched)
{
    return (struct heat_rules){
        .is_watched = is_watched,
        .from_c = section_real(heat, HEAT_FROM),
        .to_c = section_real(heat, HEAT_TO),
        .low_level = section_real(heat, HEAT_LEVEL),
        .trip_c = section_real(heat, HEAT_TRIP),
        .rearm_c = section_real(heat, HEAT_REARM),
        .filter_s = section_real(heat, HEAT_FILTER),
        .rise_per_s = section_real(heat, HEAT_RISE) * PER_MIN_PERCENT,
        .lost_s = section_real(heat, HEAT_LOST),
        .max_k_per_s = section_real(heat, HEAT_STEEP),
        .trips_to_latch = (int)section_integer(heat, HEAT_LATCH),
    };
}

static struct ceiling_rules build_ceiling(const struct section *led, double drive_ceiling,
                                          const struct dimcurve *curve)
{
    double lowest = fmax(section_real(led, LED_LOWEST), dimcurve_min_drive(curve));
    return (struct ceiling_rules){
        .drive_max = drive_ceiling,
        .drive_floor = fmin(lowest, drive_ceiling),
        .collapse = section_real(led, LED_COLLAPSE),
        .confirm_s = section_real(led, LED_CONFIRM),
        .settle_s = section_real(led, LED_SETTLE),
        .rest_s = section_real(led, LED_REST),
        .long_rest_s = section_real(led, LED_LONG_REST),
        .step = section_real(led, LED_STEP),
        .tries = (int)section_integer(led, LED_TRIES),
    };
}

static bool is_shared(const struct config *config, int fixture)
{
    int sensor = config->fixtures[fixture].power_sensor;
    for (int i = 0; sensor >= 0 && i < config->fixture_count; i++) {
        if (i != fixture && config->fixtures[i].power_sensor == sensor) {
            return true;
        }
    }
    return false;
}

static void build_rules(const struct section *section, const struct config *config, int fixture,
                        struct fixture_rules *rules)
{
    struct dimcurve_point points[DIMCURVE_POINTS_MAX] = {{0, 0, 0}};
    const struct section *switching = section_group(section, FIXTURE_SWITCHING);
    (void)dimcurve_init(&rules->curve, points, section_curve(section, points), NULL); /* checked */
    rules->full_umol = section_real(section, FIXTURE_PPFD_FULL);
    rules->safe_drive = section_real(section, FIXTURE_SAFE_DRIVE);
    rules->has_switch = config->fixtures[fixture].switch_output >= 0;
    rules->has_power = config->fixtures[fixture].power_sensor >= 0;
    rules->power_is_shared = is_shared(config, fixture);
    rules->heat = build_heat(section_group(section, FIXTURE_HEAT),
                             config->fixtures[fixture].heat_sensor_count > 0);
    rules->ceiling = build_ceiling(section_group(section, FIXTURE_LED_DRIVER),
                                   section_real(section, FIXTURE_DRIVE_CEILING), &rules->curve);
    rules->switching = (struct switching_rules){
        .min_on_s = section_real(switching, SWITCHING_MIN_ON),
        .min_off_s = section_real(switching, SWITCHING_MIN_OFF),
        .settle_s = section_real(switching, SWITCHING_SETTLE),
    };
}

static struct stage build_stage(const struct section *section)
{
    struct stage stage = {
        .days = (int32_t)section_integer(section, STAGE_DAYS),
        .window = {.on_s = (int32_t)section_integer(section, STAGE_ON),
                   .length_s = (int32_t)lround(section_real(section, STAGE_LENGTH) * 3600)},
        .target_mol = section_real(section, STAGE_TARGET),
        .carry_over_mol = section_real(section, STAGE_CARRY),
        .ceiling_umol = real_or(section, STAGE_CEILING, (double)INFINITY),
        .floor_umol = section_real(section, STAGE_FLOOR),
        .ramp = {.shape = (enum ramp_shape)section_integer(section, STAGE_RAMP),
                 .dawn_s = (int32_t)lround(section_real(section, STAGE_DAWN) * 60),
                 .dusk_s = (int32_t)lround(section_real(section, STAGE_DUSK) * 60)},
        .protects_night = section_integer(section, STAGE_PROTECT) != 0,
        .rise_umol_per_s = real_or(section, STAGE_RISE, 0) / 60,
        .shortest_run_s = section_real(section, STAGE_RUN) * 60,
        .shortest_rest_s = section_real(section, STAGE_REST) * 60,
    };
    build_text(stage.name, sizeof stage.name, section_text(section, STAGE_NAME));
    return stage;
}

static struct space_rules build_space_rules(const struct section *section, int32_t utc_offset_s)
{
    return (struct space_rules){
        .day = {.utc_offset_s = utc_offset_s}, /* its start by build_day_start */
        .first_day = section_integer(section, SPACE_START),
        .acclimation_mol = real_or(section, SPACE_ACCLIMATION, (double)INFINITY),
        .aim_margin = section_real(section, SPACE_MARGIN),
        .rise_per_s = section_real(section, SPACE_RISE) * PER_MIN_PERCENT,
        .fall_per_s = section_real(section, SPACE_FALL) * PER_MIN_PERCENT,
        .has_ppfd = section->values[SPACE_PPFD].count > 0,
        .sees_daylight = section_integer(section, SPACE_DAYLIGHT) != 0,
        .clock_policy = (enum clock_policy)section_integer(section, SPACE_CLOCK_POLICY),
        .nightguard = {.threshold_umol = section_real(section, SPACE_NIGHT_LIGHT),
                       .confirm_s = section_real(section, SPACE_NIGHT_CONFIRM)},
        .integral = {.gap_s = section_real(section, SPACE_BRIDGE),
                     .estimate_s = real_or(section, SPACE_ESTIMATE, (double)INFINITY) * 3600},
    };
}

static struct sun_site build_sun(const struct section *section, const struct config_site *site)
{
    return (struct sun_site){
        .has_place = !isnan(site->latitude) && !isnan(site->longitude),
        .latitude = site->latitude,
        .longitude = site->longitude,
        .utc_offset_s = site->utc_offset_s,
        .daylight_share = section_real(section, SPACE_DAYLIGHT_SHARE),
    };
}

/* The oldest date of its lamps; none where one has none. A sensor is known by its name. */
static struct ageing_rules build_ageing(const struct section *root, int index,
                                        const struct config *config)
{
    const struct section *section = &root->values[ROOT_SPACES].sections[index];
    const struct config_space *space = &config->spaces[index];
    const int count = space->rules.fixture_count;
    struct ageing_rules rules = {
        .limit = section_real(section, SPACE_AGED_AT),
        .sensor_count = space->ppfd_sensor_count,
    };
    bool is_dated = true;
    for (int i = 0; i < count; i++) {
        const struct section *lamp = &root->values[ROOT_FIXTURES].sections[space->fixtures[i]];
        const int64_t day = section_integer(lamp, FIXTURE_COMMISSIONED);
        is_dated = is_dated && lamp->values[FIXTURE_COMMISSIONED].is_set;
        rules.commissioned = i == 0 || day < rules.commissioned ? day : rules.commissioned;
        rules.heat_c += real_or(lamp, FIXTURE_COMMISSIONED_C, (double)NAN) / count;
    }
    for (int i = 0; i < space->ppfd_sensor_count; i++) {
        const char *name = config->sensors[space->ppfd_sensors[i]].name;
        rules.sensor[i] = fileio_crc32(name, strlen(name));
    }
    rules.commissioned = is_dated ? rules.commissioned : 0;
    return rules;
}

static void join_lamps(struct space_rules *rules)
{
    struct lampcurve_part parts[SPACE_FIXTURES_MAX];
    for (int i = 0; i < rules->fixture_count; i++) {
        parts[i] = (struct lampcurve_part){&rules->fixtures[i].curve, rules->fixtures[i].full_umol};
    }
    lampcurve_join(&rules->lamp, parts, rules->fixture_count, 0);
}

/* When its stages, lamps and tariff are known. */
static void build_day_start(const struct section *section, const struct config_site *site,
                            struct config_space *space)
{
    const int64_t given_s = section_integer(section, SPACE_DAY_START);
    space->day_start = given_s >= 0 ? (struct daystart){DAYSTART_GIVEN, (int32_t)given_s, -1, -1}
                                    : daystart_of(&space->rules, site->cheap_end_s);
    space->rules.day.start_s = space->day_start.start_s;
}

/* Takes the next free fixture rules and stages; both runs stay in one piece. */
static void build_space(const struct section *root, int index, struct config *config,
                        int *rules_used)
{
    const struct section *section = &root->values[ROOT_SPACES].sections[index];
    struct config_space *space = &config->spaces[index];
    build_text(space->name, sizeof space->name, section_text(section, SPACE_NAME));
    space->rules = build_space_rules(section, config->site.utc_offset_s);
    space->canopy_factor = section_real(section, SPACE_CANOPY);
    space->air_temperature = index_of(section, SPACE_AIR_C);
    space->air_humidity = index_of(section, SPACE_AIR_RH);
    space->ppfd_sensor_count =
        copy_refs(&section->values[SPACE_PPFD], space->ppfd_sensors, CONFIG_PPFD_SENSORS_MAX);
    space->rules.fixture_count =
        copy_refs(&section->values[SPACE_FIXTURES], space->fixtures, SPACE_FIXTURES_MAX);
    space->rules.fixtures = &config->fixture_rules[*rules_used];
    for (int i = 0; i < space->rules.fixture_count; i++) {
        int fixture = space->fixtures[i];
        config->fixtures[fixture].space = index;
        build_rules(&root->values[ROOT_FIXTURES].sections[fixture], config, fixture,
                    &config->fixture_rules[(*rules_used)++]);
    }
    space->rules.ageing = build_ageing(root, index, config);
    join_lamps(&space->rules);
    space->rules.tariff = &config->site.tariff;
    space->rules.sun = build_sun(section, &config->site);
    const struct value *stages = &section->values[SPACE_STAGES];
    space->rules.stages = &config->stages[config->stage_count];
    space->rules.stage_count = stages->count;
    for (int i = 0; i < stages->count; i++) {
        config->stages[config->stage_count++] =
            build_stage(&root->values[ROOT_STAGES].sections[stages->items[i].integer]);
    }
    build_day_start(section, &config->site, space);
}

bool build_spaces(const struct section *root, struct arena *arena, struct config *config)
{
    const struct value *list = &root->values[ROOT_SPACES];
    size_t stages = 0;
    for (int i = 0; i < list->count; i++) {
        stages += (size_t)list->sections[i].values[SPACE_STAGES].count;
    }
    config->stages = arena_take(arena, stages, sizeof *config->stages);
    config->spaces = arena_take(arena, (size_t)list->count, sizeof *config->spaces);
    if (!config->stages || !config->spaces) {
        return false;
    }
    config->space_count = list->count;
    config->site.cheap_end_s = daystart_cheap_end(&config->site.tariff);
    int rules_used = 0;
    for (int i = 0; i < list->count; i++) {
        build_space(root, i, config, &rules_used);
    }
    for (int i = 0; i < config->fixture_count; i++) {
        if (config->fixtures[i].space < 0) { /* unused ones behind the others */
            build_rules(&root->values[ROOT_FIXTURES].sections[i], config, i,
                        &config->fixture_rules[rules_used++]);
        }
    }
    return true;
}
