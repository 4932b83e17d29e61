/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One space under a hand-made picture of now: what the sensors say is set by the test, nothing is
 * simulated.
 */
#ifndef LAMPWARDEN_SCENE_H
#define LAMPWARDEN_SCENE_H

#include "decide.h"
#include "sim_config.h"

struct scene {
    struct sim_config sim;
    struct space_state state;
    struct now now;
    struct verdict verdict;
};

/* sim_config_init's space at a second of SIM_DAY (local time), sensors good: PPFD as the level
 * promises (follows by itself until scene_ppfd is called), 40 °C, watts by the curve. */
void scene_begin(struct scene *scene, int fixtures, int64_t second);

/* Readings from now on; NaN: the reading is lost. */
void scene_ppfd(struct scene *scene, double umol);
void scene_heat(struct scene *scene, int fixture, double celsius);
void scene_power(struct scene *scene, int fixture, double watts);

/* One decision dt_s later; the sensors that were not set by hand follow the lamp. */
void scene_tick(struct scene *scene, double dt_s);
void scene_run(struct scene *scene, int ticks); /* of one second */

bool scene_said(const struct scene *scene, enum core_event kind); /* in the last tick */

#endif
