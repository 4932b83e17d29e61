/* SPDX-License-Identifier: Apache-2.0 */
#include "driver.h"

#include <errno.h>
#include <string.h>

extern const struct driver driver_bench, driver_pwm, driver_dac, driver_hwmon;
#ifdef HAVE_GPIO
extern const struct driver driver_gpio;
#endif
#ifdef HAVE_MODBUS
extern const struct driver driver_modbus_rtu, driver_modbus_tcp;
#endif

const struct driver *const driver_registry[] = {
#ifdef HAVE_MODBUS
    &driver_modbus_tcp, &driver_modbus_rtu,
#endif
#ifdef HAVE_GPIO
    &driver_gpio,
#endif
    &driver_pwm,        &driver_dac,        &driver_hwmon, &driver_bench, NULL,
};

const struct driver *driver_find(const char *name)
{
    for (size_t i = 0; driver_registry[i]; i++) {
        if (strcmp(driver_registry[i]->name, name) == 0) {
            return driver_registry[i];
        }
    }
    return NULL;
}

const char *driver_missing(void)
{
#if defined(HAVE_GPIO) && defined(HAVE_MODBUS)
    return "";
#elif defined(HAVE_GPIO)
    return "built without: modbus-tcp, modbus-rtu (Debian: libmodbus-dev)";
#elif defined(HAVE_MODBUS)
    return "built without: gpio (Debian: libgpiod-dev)";
#else
    return "built without: gpio (Debian: libgpiod-dev), modbus-tcp, modbus-rtu (Debian: "
           "libmodbus-dev)";
#endif
}

bool driver_is_gone(int error)
{
    return error == -EIO || error == -ENODEV || error == -ENXIO || error == -EBADF ||
           error == -ENOTCONN;
}

size_t option_count(const struct option *table)
{
    size_t count = 0;
    while (table && table[count].name) {
        count++;
    }
    return count;
}
