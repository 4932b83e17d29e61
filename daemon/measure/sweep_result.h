/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a sweep has found. Daylight D(t) is read at drive 0, what the lamp gives of its light when
 * warm, g(t), at the middle drive, both with straight lines between the looks: a step that read R
 * at time t saw (R − D) / g of a lamp as warm as at the end of its warm-up.
 */
#ifndef LAMPWARDEN_SWEEP_RESULT_H
#define LAMPWARDEN_SWEEP_RESULT_H

#include "dimfit.h"
#include "sweep.h"

#define SWEEP_WORST 0.1 /* of full light: readings that differ by more contradict each other */

struct sweep_result {
    int count;
    struct dimfit_reading readings[SWEEP_STEPS_MAX];
    int step_of[SWEEP_STEPS_MAX]; /* index of the reading's step */
    struct dimfit fit;
    double off_drive,
        on_drive;         /* light goes, light comes, ± half of rules.fine; NaN: no dark zone */
    double droop;         /* share of light lost from the coldest to the hottest look back */
    double droop_per_k;   /* NaN: no temperature, or it hardly changed */
    double cold_c, hot_c; /* heatsink at these two; NaN: not known */
    double warm_c;        /* heatsink at the end of the warm-up: the light of the curve is that of
                           * then; NaN */
    double dark_least, dark_most; /* daylight (and other lamps) meanwhile */
    int unsteady;                 /* steps that had not come to rest */
};

/* -ENODATA: it was given up too early; -EDOM as in dimfit.h. */
int sweep_result_of(const struct sweep *sweep, struct sweep_result *ret, struct err *err);

#endif
