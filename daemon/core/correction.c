/* SPDX-License-Identifier: Apache-2.0 */
#include "correction.h"

#include <math.h>

void correction_reset(struct correction *correction)
{
    *correction = (struct correction){.sensor = 1, .lamp = 1};
}

static double *factor_of(struct correction *correction, enum correction_of of)
{
    return of == CORRECTION_SENSOR ? &correction->sensor : &correction->lamp;
}

static double *basis_of(struct correction *correction, enum correction_of of)
{
    return of == CORRECTION_SENSOR ? &correction->sensor_basis : &correction->lamp_basis;
}

bool correction_accept(struct correction *correction, enum correction_of of, double ratio,
                       double basis, int64_t wall_s)
{
    double *factor = factor_of(correction, of);
    const double both = *factor * ratio;
    if (!(both >= CORRECTION_LOW && both <= CORRECTION_HIGH)) {
        return false;
    }
    *factor = both;
    *basis_of(correction, of) = basis;
    correction->since_s = wall_s;
    return true;
}

bool correction_rebase(struct correction *correction, enum correction_of of, double basis)
{
    double *factor = factor_of(correction, of);
    const double before = *basis_of(correction, of);
    if (!(before > 0) || fabs(basis - before) <= 1e-9 * before) {
        return false;
    }
    *factor = 1;
    *basis_of(correction, of) = 0;
    if (!(correction->sensor_basis > 0) && !(correction->lamp_basis > 0)) {
        correction->since_s = 0;
    }
    return true;
}

struct reading correction_reading(const struct correction *correction, struct reading reading)
{
    reading.value /= correction->sensor;
    return reading;
}
