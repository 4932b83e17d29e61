/* SPDX-License-Identifier: Apache-2.0 */
#include "driver.h"

extern const struct driver driver_modbus_rtu, driver_modbus_tcp;
const struct driver driver_modbus_rtu = {.name = "modbus-rtu"};
const struct driver driver_modbus_tcp = {.name = "modbus-tcp"};
