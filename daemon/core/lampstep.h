/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The lamp as a check of the light sensor: when the lamp lights up or goes dark, the reading must
 * move by what the dimming curves promise. Daylight hardly changes within those seconds, so the
 * ratio of the two steps shows the sensor's gain times the age of the lamp, whatever the sun does.
 *
 * Still samples (all contacts open, or a lamp that stands) are averaged on both sides of a change.
 * A step counts when the lamp's share of it is large against the unrest of the samples, and the two
 * sides lie within LAMPSTEP_WITHIN_S. The median of the last steps is told when it has moved by
 * LAMPSTEP_DRIFT since it was told last (1 at first): one wild step, a cloud's edge or a fixture
 * that trips, says nothing.
 */
#ifndef LAMPWARDEN_LAMPSTEP_H
#define LAMPWARDEN_LAMPSTEP_H

#include <stdbool.h>
#include <stdint.h>

#define LAMPSTEP_KEPT     9
#define LAMPSTEP_SAMPLES  5    /* averaged on each side */
#define LAMPSTEP_LEAST    3    /* samples that one side needs */
#define LAMPSTEP_WITHIN_S 60   /* between the last sample before and the first after */
#define LAMPSTEP_UMOL     10.0 /* smallest step of the lamp that is looked at */
#define LAMPSTEP_UNREST   0.03 /* standard error of a step, as a share of it */
#define LAMPSTEP_DRIFT    0.05

enum lampstep_lamp {
    LAMPSTEP_MOVING, /* or afterglow: the sample may show either side */
    LAMPSTEP_DARK,
    LAMPSTEP_LIT,
};

struct lampstep_side {
    enum lampstep_lamp lamp;
    int count, next;
    int64_t first_ns, last_ns;
    double seen_umol[LAMPSTEP_SAMPLES];
    double lamp_umol[LAMPSTEP_SAMPLES]; /* promised by the curves */
};

/* The step that is being watched; all zero: none. After a restart nobody saw the lamp go dark. */
struct lampstep_sight {
    struct lampstep_side before, after;
};

/* Kept over restarts. */
struct lampstep {
    float ratio[LAMPSTEP_KEPT]; /* of the last good steps */
    int32_t day[LAMPSTEP_KEPT]; /* light day of each */
    int count, next;
    double told; /* 0: nothing was told yet */
};

struct lampstep_sample {
    int64_t taken_ns;
    double seen_umol;
    double lamp_umol; /* promised at that moment */
    enum lampstep_lamp lamp;
    int64_t light_day;
};

/* Takes a sample (one that was taken before is left out). True: the light has drifted,
 * lampstep_ratio says how far. */
bool lampstep_step(struct lampstep *watch, struct lampstep_sight *sight,
                   const struct lampstep_sample *sample);

/* Median of the last steps, seen over promised; NaN before LAMPSTEP_KEPT of them. */
double lampstep_ratio(const struct lampstep *watch);

/* Light day of the oldest and of the newest step; false: none yet. */
bool lampstep_days(const struct lampstep *watch, int64_t *ret_first, int64_t *ret_last);

#endif
