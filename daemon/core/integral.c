/* SPDX-License-Identifier: Apache-2.0 */
#include "integral.h"

#include "units.h"

#include <math.h>

static bool is_light(double umol)
{
    return umol >= 0.0 && umol < (double)INFINITY;
}

static void add_light(struct integral *integral, const struct integral_step *step, double seconds)
{
    integral->lamp_mol += units_mol(step->lamp_umol, seconds);
    integral->daylight_mol += units_mol(step->daylight_umol, seconds);
}

void integral_reset(struct integral *integral)
{
    *integral = (struct integral){.lamp_mol = 0.0};
}

void integral_step(struct integral *integral, const struct integral_rules *rules,
                   const struct integral_step *step)
{
    double dt_s = step->dt_s;
    if (!(dt_s > 0.0)) {
        return;
    }
    bool is_known = is_light(step->lamp_umol) && is_light(step->daylight_umol);
    if (is_known && step->origin == INTEGRAL_MEASURED) {
        integral->estimating_s = 0.0;
        if (dt_s <= rules->gap_s) {
            add_light(integral, step, dt_s);
            integral->measured_s += dt_s;
            return;
        }
    }
    /* An estimate, or a reading that had to hold for too long: bridged as far as both limits reach.
     */
    double room_s = fmin(rules->gap_s, fmax(rules->estimate_s - integral->estimating_s, 0.0));
    double bridged_s = is_known ? fmin(dt_s, room_s) : 0.0;
    if (bridged_s > 0.0) {
        add_light(integral, step, bridged_s);
        integral->bridged_mol += units_mol(step->lamp_umol + step->daylight_umol, bridged_s);
    }
    integral->bridged_s += bridged_s;
    integral->lost_s += dt_s - bridged_s;
    integral->estimating_s += dt_s;
}

double integral_delivered_mol(const struct integral *integral)
{
    return integral->lamp_mol + integral->daylight_mol;
}
