/* SPDX-License-Identifier: Apache-2.0 */
#include "driver.h"

extern const struct driver driver_bench;
const struct driver driver_bench = {.name = "bench"};
