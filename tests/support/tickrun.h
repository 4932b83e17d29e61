/* SPDX-License-Identifier: Apache-2.0 */
/* A tick on real boot time, whose wall time the test chooses second by second. */
#ifndef LAMPWARDEN_TICKRUN_H
#define LAMPWARDEN_TICKRUN_H

#include "clock.h"
#include "config.h"
#include "tick.h"

/* Takes over the configuration; the lamps may be lit at once. Never NULL; to be destroyed. */
struct tick *tickrun_begin(struct config *config, const char *resume_path, int64_t wall_s);
void tickrun_at(struct tick *tick, int64_t wall_s, enum clock_sync sync);

#endif
