/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Dawn and dusk, in light. The envelope is the share of the day's level that a moment may have: 0
 * at the window's edges, 1 between the ramps. Raised cosine: (1 − cos πx)/2, same integral as
 * linear. When the two ramps overlap (a window shorter than both) the smaller of the two counts.
 * Both have the same shape, so they cross where their progress is equal: the integral stays in
 * closed form.
 */
#ifndef LAMPWARDEN_RAMP_H
#define LAMPWARDEN_RAMP_H

#include <stdint.h>

enum ramp_shape { RAMP_LINEAR, RAMP_COSINE };

struct ramp {
    enum ramp_shape shape;
    int32_t dawn_s, dusk_s; /* length of each, 0 … 14400; 0: a step */
};

/* 0 … 1 from the time since lights-on and until lights-off. A moment outside the window gives 0. */
double ramp_envelope(const struct ramp *ramp, double since_on_s, double until_off_s);

/* Integral of the envelope over [from_s, to_s], measured from lights-on of a window of length_s;
 * seconds of full light; the part outside the window counts 0. Exact to rounding, additive over
 * splits. 500 µmol, 16 h, linear ramps of 0.5 h → 27.900 mol. */
double ramp_integral(const struct ramp *ramp, double length_s, double from_s, double to_s);

/* Moves `now` toward `want` by at most rise_per_s·dt upward and fall_per_s·dt downward;
 * a rate of INFINITY means at once. */
double ramp_slew(double now, double want, double rise_per_s, double fall_per_s, double dt_s);

#endif
