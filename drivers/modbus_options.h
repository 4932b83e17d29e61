/* SPDX-License-Identifier: Apache-2.0 */
/* Rows of the option tables of modbus_options.c, and so indices into the values that come with
 * them. */
#ifndef LAMPWARDEN_MODBUS_OPTIONS_H
#define LAMPWARDEN_MODBUS_OPTIONS_H

#include "driver.h"

extern const struct option modbus_tcp_options[], modbus_rtu_options[];
extern const struct option modbus_sensor_options[], modbus_dim_options[], modbus_switch_options[];

enum {
    MODBUS_TCP_HOST,
    MODBUS_TCP_PORT,
    MODBUS_TCP_UNIT,
    MODBUS_TCP_TIMEOUT,
    MODBUS_TCP_WORST_REPLY,
    MODBUS_TCP_GAP,
};

enum {
    MODBUS_RTU_DEVICE,
    MODBUS_RTU_BAUD,
    MODBUS_RTU_PARITY, /* choices: MODBUS_PARITY_… */
    MODBUS_RTU_STOP,
    MODBUS_RTU_UNIT,
    MODBUS_RTU_TIMEOUT,
    MODBUS_RTU_WORST_REPLY,
    MODBUS_RTU_GAP,
    MODBUS_RTU_ECHO,
    MODBUS_RTU_DIRECTION, /* choices: 0 adapter, 1 kernel */
};

enum { MODBUS_PARITY_EVEN, MODBUS_PARITY_NONE, MODBUS_PARITY_ODD };

/* Every point begins with these. */
enum {
    MODBUS_POINT_UNIT,
    MODBUS_POINT_IDENTITY,
    MODBUS_POINT_IDENTITY_VALUE,
    MODBUS_POINT_IDENTITY_FUNCTION,
    MODBUS_POINT_LOSS,
    MODBUS_POINT_LOSS_VALUE,
    MODBUS_POINT_GAP,
    MODBUS_POINT_TIMEOUT,
    MODBUS_POINT_WORST_REPLY,
    MODBUS_POINT_OWN,
};

enum {
    MODBUS_SENSOR_FUNCTION = MODBUS_POINT_OWN,
    MODBUS_SENSOR_REGISTER,
    MODBUS_SENSOR_TYPE,  /* choices: enum modbus_type */
    MODBUS_SENSOR_ORDER, /* choices: enum modbus_order */
    MODBUS_SENSOR_SCALE,
    MODBUS_SENSOR_OFFSET,
    MODBUS_SENSOR_SENTINELS, /* choices: enum modbus_sentinels */
    MODBUS_SENSOR_SMALL,
};

enum {
    MODBUS_DIM_REGISTER = MODBUS_POINT_OWN,
    MODBUS_DIM_FULL,
    MODBUS_DIM_ZERO,
    MODBUS_DIM_SAFE,
    MODBUS_DIM_VERIFY,
    MODBUS_DIM_FUNCTION,
};

enum {
    MODBUS_SWITCH_COIL = MODBUS_POINT_OWN,
    MODBUS_SWITCH_INVERTED,
    MODBUS_SWITCH_VERIFY,
};

#endif
