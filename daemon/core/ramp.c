/* SPDX-License-Identifier: Apache-2.0 */
#include "ramp.h"

#include <math.h>

/* M_PI is no part of strict C11. */
static const double PI = 3.14159265358979323846;

/* Share of full light when `run_s` of a ramp have passed. */
static double share(enum ramp_shape shape, double ramp_s, double run_s)
{
    if (run_s < 0.0) {
        return 0.0;
    }
    if (run_s >= ramp_s) {
        return 1.0;
    }
    double x = run_s / ramp_s;
    return shape == RAMP_LINEAR ? x : 0.5 * (1.0 - cos(PI * x));
}

/* Its integral from the ramp's start to run_s ≥ 0, the full light behind the ramp included. */
static double area(enum ramp_shape shape, double ramp_s, double run_s)
{
    if (run_s >= ramp_s) {
        return run_s - 0.5 * ramp_s;
    }
    if (shape == RAMP_LINEAR) {
        return 0.5 * run_s * run_s / ramp_s;
    }
    return 0.5 * (run_s - ramp_s / PI * sin(PI * run_s / ramp_s));
}

double ramp_envelope(const struct ramp *ramp, double since_on_s, double until_off_s)
{
    return fmin(share(ramp->shape, ramp->dawn_s, since_on_s),
                share(ramp->shape, ramp->dusk_s, until_off_s));
}

double ramp_integral(const struct ramp *ramp, double length_s, double from_s, double to_s)
{
    double from = fmax(from_s, 0.0);
    double to = fmin(to_s, length_s);
    if (!(from < to)) {
        return 0.0;
    }
    double dawn = ramp->dawn_s;
    double dusk = ramp->dusk_s;
    /* Up to `turn` the dawn is the smaller one, then the dusk. */
    double turn = dawn + dusk > length_s ? length_s * dawn / (dawn + dusk) : dawn;
    double rising =
        area(ramp->shape, dawn, fmin(to, turn)) - area(ramp->shape, dawn, fmin(from, turn));
    double falling = area(ramp->shape, dusk, length_s - fmax(from, turn)) -
                     area(ramp->shape, dusk, length_s - fmax(to, turn));
    return rising + falling;
}

double ramp_slew(double now, double want, double rise_per_s, double fall_per_s, double dt_s)
{
    double dt = fmax(dt_s, 0.0);
    /* INFINITY · 0 is NaN, which fails the comparison: at once. */
    if (want - now > rise_per_s * dt) {
        return fmin(now + rise_per_s * dt, want);
    }
    if (now - want > fall_per_s * dt) {
        return fmax(now - fall_per_s * dt, want);
    }
    return want;
}
