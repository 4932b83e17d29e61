/* SPDX-License-Identifier: Apache-2.0 */
/*
 * From samples to the picture of now: every sensor through its quality rules, then per space the
 * PPFD at the canopy, per fixture its hottest heat sensor and its power, and the air for the
 * record.
 *
 * Readings are combined by the best quality present: the median (PPFD) or the largest (heat) of the
 * good ones; only when none is good, of the next best. Called by the tick alone; no allocation
 * after create.
 */
#ifndef LAMPWARDEN_INPUTS_H
#define LAMPWARDEN_INPUTS_H

#include "config.h"
#include "decide.h"
#include "recorder.h"

struct inputs;

/* before: inputs of an earlier configuration whose sensors of the same name carry over (a reload),
 * or NULL. */
int inputs_create(const struct config *config, const struct inputs *before, struct inputs **ret,
                  struct err *err);
void inputs_destroy(struct inputs *inputs); /* NULL is fine */

/* Steps every sensor. samples: by sensor index; states: by space index, whose applied levels are
 * what moves the sensors (for the frozen watch). */
void inputs_step(struct inputs *inputs, const struct sample *samples,
                 const struct space_state *states, int64_t boot_ns);

/* Fills ppfd, the fixtures' heat and power, and inputs_settled of *now; air of the space. */
void inputs_fill(const struct inputs *inputs, int space, struct now *now,
                 struct recorder_air *ret_air);

/* One sensor as of the last step, for status. */
struct reading inputs_reading(const struct inputs *inputs, int sensor);
enum quality_fault inputs_fault(const struct inputs *inputs, int sensor);

#endif
