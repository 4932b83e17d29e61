/* SPDX-License-Identifier: Apache-2.0 */
#include "driver.h"

extern const struct driver driver_hwmon;
const struct driver driver_hwmon = {.name = "hwmon"};
