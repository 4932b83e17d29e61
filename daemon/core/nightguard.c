/* SPDX-License-Identifier: Apache-2.0 */
#include "nightguard.h"

#include "units.h"

void nightguard_reset(struct nightguard *guard)
{
    *guard = (struct nightguard){0};
}

static double brightest(const struct nightguard_light *light)
{
    double seen_umol = light->under_daylight ? UNITS_NONE : light->seen_umol;

    return fmax(seen_umol, light->commanded_umol); /* fmax leaves out a NaN */
}

static enum nightguard_event add_light(const struct nightguard_rules *rules,
                                       struct nightguard *guard, double light_umol, double dt_s)
{
    double dose = light_umol * dt_s;

    if (!guard->is_lit) {
        guard->is_lit = true;
        guard->lit_s = 0;
        guard->present_dose = 0;
    }
    guard->lit_s += dt_s;
    guard->present_dose += dose;
    guard->dose_umol_m2 += dose;
    guard->longest_s = fmax(guard->longest_s, guard->lit_s);
    guard->peak_umol = fmax(guard->peak_umol, light_umol);
    if (guard->in_break || guard->lit_s < rules->confirm_s) {
        return NIGHTGUARD_NOTHING;
    }
    guard->in_break = true;
    guard->breaks++;
    return NIGHTGUARD_BREAK_BEGINS;
}

static enum nightguard_event add_dark(struct nightguard *guard)
{
    bool was_break = guard->in_break;

    guard->is_lit = false;
    guard->in_break = false;
    return was_break ? NIGHTGUARD_BREAK_ENDS : NIGHTGUARD_NOTHING;
}

enum nightguard_event nightguard_step(const struct nightguard_rules *rules,
                                      struct nightguard *guard,
                                      const struct nightguard_light *light, double dt_s)
{
    if (!light->is_night) {
        bool was_night = guard->in_night;

        (void)add_dark(guard); /* the end of the night says it all */
        guard->in_night = false;
        return was_night ? NIGHTGUARD_NIGHT_ENDS : NIGHTGUARD_NOTHING;
    }
    if (!guard->in_night) {
        nightguard_reset(guard);
        guard->in_night = true;
        return NIGHTGUARD_NOTHING;
    }
    double light_umol = brightest(light);

    if (!(light_umol > rules->threshold_umol)) {
        return add_dark(guard);
    }
    return add_light(rules, guard, light_umol, dt_s > 0 ? dt_s : 0);
}

double nightguard_seconds_to(double dose_umol_m2, double light_umol)
{
    return light_umol > 0 ? dose_umol_m2 / light_umol : (double)INFINITY;
}
