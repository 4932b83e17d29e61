/* SPDX-License-Identifier: Apache-2.0 */
#include "driver.h"

extern const struct driver driver_pwm;
const struct driver driver_pwm = {.name = "pwm"};
