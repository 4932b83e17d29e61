/* SPDX-License-Identifier: Apache-2.0 */
/* What a light day can come to, as a sentence. */
#include "words.h"

#include <math.h>
#include <stdio.h>

#define SHARE_LEAST 0.005 /* what takes less binds nothing */

void words_reach(const struct reach *reach, char *buffer, size_t size)
{
    char window[48];
    char heat[24] = "";
    char power[32] = "";
    char faults[48] = "";
    char sun[48] = "";
    if (reach->is_whole) {
        (void)snprintf(window, sizeof window, "window %.3g h", reach->left_h);
    } else {
        (void)snprintf(window, sizeof window, "%.1f h of the window left", reach->left_h);
    }
    if (reach->heat_share >= SHARE_LEAST) {
        (void)snprintf(heat, sizeof heat, ", heat −%.0f %%", reach->heat_share * 100);
    }
    if (reach->power_share >= SHARE_LEAST) {
        (void)snprintf(power, sizeof power, ", power limit −%.0f %%", reach->power_share * 100);
    }
    if (reach->fault_share >= SHARE_LEAST) {
        (void)snprintf(faults, sizeof faults, ", faults and drive ceilings −%.0f %%",
                       reach->fault_share * 100);
    }
    if (isfinite(reach->daylight_mol)) {
        (void)snprintf(sun, sizeof sun, ", at most %.1f mol of daylight to come",
                       reach->daylight_mol);
    }
    (void)snprintf(buffer, size, "%.1f mol asked, %.1f reachable: %s, %s %.0f µmol m⁻² s⁻¹%s%s%s%s",
                   reach->target_mol, reach->reach_mol, window,
                   reach->by_ceiling ? "ceiling" : "lamps", reach->light_umol, heat, power, faults,
                   sun);
}
