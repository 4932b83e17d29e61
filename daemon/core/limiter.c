/* SPDX-License-Identifier: Apache-2.0 */
#include "limiter.h"

#include <string.h>

static const char *const names[LIMITER_COUNT] = {
    [LIMITER_NOT_RUNNING] = "not-running",
    [LIMITER_NIGHT] = "night",
    [LIMITER_CLOCK_UNTRUSTED] = "clock-untrusted",
    [LIMITER_OUTPUT_FAULT] = "output-fault",
    [LIMITER_HEAT_TRIP] = "heat-trip",
    [LIMITER_DRIVER_TRIP] = "driver-trip",
    [LIMITER_REST] = "rest",
    [LIMITER_HEAT] = "heat",
    [LIMITER_DRIVE_CEILING] = "drive-ceiling",
    [LIMITER_POWER_LIMIT] = "power-limit",
    [LIMITER_LIGHT_CEILING] = "light-ceiling",
    [LIMITER_SENSOR_LOST] = "sensor-lost",
    [LIMITER_BY_HAND] = "by-hand",
    [LIMITER_DAWN] = "dawn",
    [LIMITER_DUSK] = "dusk",
    [LIMITER_FULL_LIGHT] = "full-light",
    [LIMITER_TARGET_MET] = "target-met",
    [LIMITER_PLAN] = "plan",
};

const char *limiter_name(enum limiter limiter)
{
    return (unsigned)limiter < LIMITER_COUNT ? names[limiter] : "unknown";
}

enum limiter limiter_find(const char *name)
{
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (strcmp(names[i], name) == 0) {
            return (enum limiter)i;
        }
    }
    return LIMITER_COUNT;
}
