/* SPDX-License-Identifier: Apache-2.0 */
/* A misbehaving device and a bus of the Modbus drivers on it, for tests. Failures fail the running
 * test. */
#ifndef LAMPWARDEN_MODBUS_SETUP_H
#define LAMPWARDEN_MODBUS_SETUP_H

#include "bad_modbus.h"
#include "driver.h"
#include "err.h"
#include "option_fill.h"

enum { MODBUS_SETUP_SENSORS = 64 };

struct modbus_setup {
    struct bad_modbus *bad;
    const struct driver *driver;
    struct bus *bus;
    char folder[32], path[48];               /* serial: a name for the device that outlives it */
    struct option_fill bus_options, options; /* texts of the bus live as long as the bus */
    struct sample samples[MODBUS_SETUP_SENSORS];
    struct err err;
};

/* options: of the bus, beside the device, as for option_fill */
void modbus_setup_tcp(struct modbus_setup *setup, const char *options);
void modbus_setup_rtu(struct modbus_setup *setup, const char *options);
void modbus_setup_end(struct modbus_setup *setup);

/* Serial: the old device vanishes, and another one appears under the same name. */
void modbus_setup_replug(struct modbus_setup *setup);

void modbus_setup_sensor(struct modbus_setup *setup, const char *options);
void modbus_setup_dim(struct modbus_setup *setup, const char *options);
void modbus_setup_switch(struct modbus_setup *setup, const char *options);

/* Must succeed; at a later time, too, where a busy machine let the device answer late. */
void modbus_setup_connect(struct modbus_setup *setup);
int modbus_setup_read(struct modbus_setup *setup); /* into samples; checks the contract */
int modbus_setup_write(struct modbus_setup *setup, int output, double value, double *ret_seen);

/* Reads until it answers 0 with this sensor free of error; fails the test after `limit_s`. */
void modbus_setup_read_until_good(struct modbus_setup *setup, int sensor, double limit_s);

#endif
