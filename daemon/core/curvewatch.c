/* SPDX-License-Identifier: Apache-2.0 */
#include "curvewatch.h"

#include "units.h"

void curvewatch_new_day(struct curvewatch *watch)
{
    *watch = (struct curvewatch){.wrong_s = 0};
}

static bool is_wrong(const struct curvewatch_sight *sight)
{
    const double allowed =
        fmax(sight->share * sight->expected, CURVEWATCH_FULL_SHARE * sight->full);
    return fabs(sight->seen - sight->expected) > allowed;
}

bool curvewatch_step(struct curvewatch *watch, const struct curvewatch_sight *sight, double dt_s)
{
    if (!sight->is_steady || !units_known(sight->seen) || !units_known(sight->expected)) {
        return false;
    }
    if (!is_wrong(sight)) {
        watch->wrong_s = 0;
        return false;
    }
    watch->wrong_s += dt_s > 0 ? dt_s : 0;
    if (watch->is_said || watch->wrong_s < CURVEWATCH_CONFIRM_S) {
        return false;
    }
    watch->is_said = true;
    return true;
}
