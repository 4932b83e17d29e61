/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whether a fixture gives what its dimming curve promises: a curve of another lamp, a line that is
 * inverted or does not arrive, a meter on the wrong fixture.
 *
 * Only said, never acted upon. It takes a difference beyond a share of what is expected and beyond
 * a tenth of the fixture's full value (noise, standby, a coarse meter), for ten minutes of steady
 * light. Steady samples that agree start afresh; unsteady ones and those that tell nothing hold the
 * count, so that a day of ramps is judged too. Once a light day.
 *
 * An LED driver that warms up changes its watts by some per cent, an LED that ages gives up to a
 * third less light (common practice, no source): both stay within the shares below.
 */
#ifndef LAMPWARDEN_CURVEWATCH_H
#define LAMPWARDEN_CURVEWATCH_H

#include <stdbool.h>

#define CURVEWATCH_CONFIRM_S   600.0
#define CURVEWATCH_STEADY_S    30.0 /* evidence counts only so long after the lamp last moved */
#define CURVEWATCH_WATTS_SHARE 0.25
#define CURVEWATCH_LIGHT_SHARE 0.5
#define CURVEWATCH_FULL_SHARE  0.1

struct curvewatch {
    double wrong_s;
    bool is_said; /* in this light day */
};

struct curvewatch_sight {
    double seen, expected, full; /* W or µmol m⁻² s⁻¹; seen NaN: nothing to see it with */
    double share;                /* of expected that a difference may have */
    bool is_steady;
};

void curvewatch_new_day(struct curvewatch *watch);

/* True once a light day, when it has gone on for long enough. */
bool curvewatch_step(struct curvewatch *watch, const struct curvewatch_sight *sight, double dt_s);

#endif
