/* SPDX-License-Identifier: Apache-2.0 */
/* Private to sweep.c and sweep_course.c. */
#ifndef LAMPWARDEN_SWEEP_PARTS_H
#define LAMPWARDEN_SWEEP_PARTS_H

#include "sweep.h"

/* Puts the next visits into the empty queue, or ends the sweep. */
void sweep_course(struct sweep *sweep, double now_s);

/* What a stored step says about the course: edges and first light. */
void sweep_learn(struct sweep *sweep, const struct sweep_step *step);

double sweep_drive_of(const struct sweep *sweep, int index);

void sweep_give_up(struct sweep *sweep, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
