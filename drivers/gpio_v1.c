/* SPDX-License-Identifier: Apache-2.0 */
#include "driver.h"

extern const struct driver driver_gpio;
const struct driver driver_gpio = {.name = "gpio"};
