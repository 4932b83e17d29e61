/* SPDX-License-Identifier: Apache-2.0 */
#include "sim_config.h"

#include "bench_model.h"
#include "units.h"

#include <stdio.h>
#include <string.h>

static const struct stage lettuce = {
    .name = "growing",
    .window = {.on_s = 6 * 3600, .length_s = 16 * 3600},
    .target_mol = 13,
    .ceiling_umol = 400,
    .shortest_run_s = 1200,
    .shortest_rest_s = 1200,
    .ramp = {RAMP_COSINE, 1800, 1800},
    .protects_night = true,
};

static const struct quality_rules ppfd_quality = {
    .low = -10,
    .high = 4000,
    .stale_ns = 10 * UNITS_NS_PER_S,
    .lost_ns = 60 * UNITS_NS_PER_S,
    .jump_per_s = (double)INFINITY,
    .frozen_ns = 120 * UNITS_NS_PER_S,
    .frozen_stir = 0.1,
    .frozen_above = 1,
    .power_on_c = (double)NAN,
};

static const struct quality_rules heat_quality = {
    .low = -40,
    .high = 125,
    .stale_ns = 10 * UNITS_NS_PER_S,
    .lost_ns = 30 * UNITS_NS_PER_S,
    .jump_per_s = (double)INFINITY,
    .power_on_c = (double)NAN,
};

static const struct quality_rules power_quality = {
    .low = -5,
    .high = 5000,
    .stale_ns = 10 * UNITS_NS_PER_S,
    .lost_ns = 60 * UNITS_NS_PER_S,
    .jump_per_s = (double)INFINITY,
    .power_on_c = (double)NAN,
};

static void init_curve(struct dimcurve *curve, double full_watts)
{
    struct dimcurve_point points[BENCH_CURVE_POINTS];
    for (int i = 0; i < BENCH_CURVE_POINTS; i++) {
        points[i] = (struct dimcurve_point){bench_curve[i].drive, bench_curve[i].level,
                                            bench_curve[i].watts_share * full_watts};
    }
    if (dimcurve_init(curve, points, BENCH_CURVE_POINTS, NULL) != DIMCURVE_OK) {
        fprintf(stderr, "the bench's own curve is refused\n");
        memset(curve, 0, sizeof *curve);
    }
}

static void init_fixture(struct sim_config *sim, int i, double full_umol)
{
    struct fixture_rules *rules = &sim->rules[i];
    *rules = (struct fixture_rules){
        .full_umol = full_umol,
        .has_switch = true,
        .has_power = true,
        .heat = {.is_watched = true,
                 .from_c = 58,
                 .to_c = 70,
                 .low_level = 0.1,
                 .trip_c = 80,
                 .rearm_c = 55,
                 .filter_s = 20,
                 .rise_per_s = 0.1 / 60,
                 .lost_s = 30,
                 .max_k_per_s = 5,
                 .trips_to_latch = 3},
        .ceiling = {.drive_max = 0.98,
                    .drive_floor = 0.4,
                    .collapse = 0.3,
                    .confirm_s = 6,
                    .settle_s = 5,
                    .rest_s = 60,
                    .long_rest_s = 1800,
                    .step = 0.05,
                    .tries = 3},
        .switching = {.min_on_s = 60, .min_off_s = 60, .settle_s = 2},
    };
    init_curve(&rules->curve, 300 * full_umol / 420);
    struct config_fixture *fixture = &sim->fixtures[i];
    (void)snprintf(fixture->name, sizeof fixture->name, "fixture %d", i);
    fixture->dim_output = 2 * i;
    fixture->switch_output = 2 * i + 1;
    fixture->heat_sensors[0] = 1 + 2 * i;
    fixture->heat_sensor_count = 1;
    fixture->power_sensor = 2 + 2 * i;
    sim->outputs[2 * i] = (struct config_output){.kind = OUTPUT_DIM, .tolerance = 0.01};
    sim->outputs[2 * i + 1] = (struct config_output){.kind = OUTPUT_SWITCH};
    sim->sensors[1 + 2 * i] =
        (struct config_sensor){.kind = SENSOR_TEMPERATURE, .quality = heat_quality};
    sim->sensors[2 + 2 * i] =
        (struct config_sensor){.kind = SENSOR_POWER, .quality = power_quality};
    sim->space.fixtures[i] = i;
}

void sim_config_join(struct sim_config *sim)
{
    struct lampcurve_part parts[SIM_FIXTURES_MAX];
    struct space_rules *rules = &sim->space.rules;
    for (int i = 0; i < rules->fixture_count; i++) {
        parts[i] = (struct lampcurve_part){&sim->rules[i].curve, sim->rules[i].full_umol};
    }
    lampcurve_join(&rules->lamp, parts, rules->fixture_count, 0);
}

void sim_config_init(struct sim_config *sim, int fixtures)
{
    memset(sim, 0, sizeof *sim);
    sim->stages[0] = lettuce;
    sim->sensors[0] = (struct config_sensor){.kind = SENSOR_PPFD, .quality = ppfd_quality};
    for (int i = 0; i < fixtures; i++) {
        init_fixture(sim, i, 420.0 / fixtures);
    }
    struct config_space *space = &sim->space;
    (void)snprintf(space->name, sizeof space->name, "lettuce");
    space->ppfd_sensor_count = 1;
    space->canopy_factor = 1;
    space->air_temperature = space->air_humidity = -1;
    space->rules = (struct space_rules){
        .day = {.utc_offset_s = 3600},
        .stages = sim->stages,
        .stage_count = 1,
        .first_day = SIM_DAY,
        .acclimation_mol = 2,
        .aim_margin = 0.002,
        .rise_per_s = 0.01,
        .fall_per_s = 0.01,
        .has_ppfd = true,
        .clock_policy = CLOCK_POLICY_DARK,
        .nightguard = {.threshold_umol = 0.2, .confirm_s = 10},
        .integral = {.gap_s = 300, .estimate_s = (double)INFINITY},
        .ageing = {.commissioned = SIM_DAY - 30,
                   .heat_c = (double)NAN,
                   .limit = 0.8,
                   .sensor_count = 1,
                   .sensor = {1}},
        .fixture_count = fixtures,
        .fixtures = sim->rules,
        .sun = {.utc_offset_s = 3600, .daylight_share = 0.6},
        .tariff = &sim->config.site.tariff,
    };
    sim_config_join(sim);
    struct config *config = &sim->config;
    config->site.utc_offset_s = 3600;
    config->site.tariff.price_per_kwh = 0.3;
    config->buses = &sim->bus;
    config->bus_count = 1;
    config->sensors = sim->sensors;
    config->sensor_count = 1 + 2 * fixtures;
    config->outputs = sim->outputs;
    config->output_count = 2 * fixtures;
    config->fixtures = sim->fixtures;
    config->fixture_rules = sim->rules;
    config->fixture_count = fixtures;
    config->spaces = space;
    config->space_count = 1;
    config->stages = sim->stages;
    config->stage_count = 1;
}
