/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a person accepted after the lamp's own steps showed another light than promised: the light
 * sensor reads wrong, or the lamps give less (or more) than they were commissioned with. Nothing is
 * corrected by itself. A correction belongs to the configured value beside which it was accepted
 * (its basis); when that is changed, the correction ends, or it would count twice.
 */
#ifndef LAMPWARDEN_CORRECTION_H
#define LAMPWARDEN_CORRECTION_H

#include "reading.h"

#include <stdbool.h>
#include <stdint.h>

/* Beyond these a sensor is broken, or it is another lamp. */
#define CORRECTION_LOW  0.7
#define CORRECTION_HIGH 1.4

enum correction_of { CORRECTION_SENSOR, CORRECTION_LAMP };

struct correction {
    double sensor;       /* readings are divided by it; 1: none */
    double lamp;         /* full light is multiplied by it; 1: none */
    double sensor_basis; /* canopy factor, > 0 */
    double lamp_basis;   /* configured full light, µmol m⁻² s⁻¹, > 0 */
    int64_t since_s;     /* wall time of the last acceptance; 0: none */
};

void correction_reset(struct correction *correction);

static inline bool correction_is_none(const struct correction *correction)
{
    return correction->since_s == 0;
}

/* ratio: light seen over promised, beside what was accepted before. False, and nothing is changed,
 * when both together leave CORRECTION_LOW … CORRECTION_HIGH. */
bool correction_accept(struct correction *correction, enum correction_of of, double ratio,
                       double basis, int64_t wall_s);

/* True: one was accepted beside another basis, and has ended. */
bool correction_rebase(struct correction *correction, enum correction_of of, double basis);

/* A PPFD reading as it is to be taken. */
struct reading correction_reading(const struct correction *correction, struct reading reading);

#endif
