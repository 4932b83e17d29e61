/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A configuration for simulated days, built without a file: one space, one or more equal fixtures
 * with their own heat and power sensors, one PPFD sensor, two stages. The caller changes what a
 * test is about.
 */
#ifndef LAMPWARDEN_SIM_CONFIG_H
#define LAMPWARDEN_SIM_CONFIG_H

#include "config.h"

#define SIM_FIXTURES_MAX 4
#define SIM_DAY          20454 /* 2026-01-01, days since 1970-01-01 */

struct sim_config {
    struct config config;
    struct config_bus bus;
    struct config_sensor sensors[1 + 2 * SIM_FIXTURES_MAX];
    struct config_output outputs[2 * SIM_FIXTURES_MAX];
    struct config_fixture fixtures[SIM_FIXTURES_MAX];
    struct fixture_rules rules[SIM_FIXTURES_MAX];
    struct config_space space;
    struct stage stages[2];
};

/* 420 µmol in all at full light from `fixtures` fixtures; lettuce, 16 h from 06:00, 13 mol,
 * raised-cosine ramps of 30 min, ceiling 400 µmol, protected night; UTC+1. Fills in place: the
 * struct must not move afterwards. */
void sim_config_init(struct sim_config *sim, int fixtures);

/* Again after a change of a fixture's curve: what the light of all of them costs. */
void sim_config_join(struct sim_config *sim);

#endif
