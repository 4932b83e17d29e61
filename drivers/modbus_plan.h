/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Which registers are fetched by which request: neighbours of one unit and function share one.
 * Plain computation, no I/O. When a unit refuses a merged read, its wishes are marked `alone` and
 * the plan is built anew: a device with a hole in its register map then costs more requests, not
 * its readings.
 */
#ifndef LAMPWARDEN_MODBUS_PLAN_H
#define LAMPWARDEN_MODBUS_PLAN_H

#include "modbus_pdu.h"

#include <stdbool.h>
#include <stdint.h>

/* What one sensor needs. */
struct modbus_wish {
    uint8_t unit, function;
    uint16_t address, count; /* address + count ≤ 65536 */
    int sensor;
    bool alone; /* never merged with another */
};

/* One request and the wishes that it answers: `first` … `first + wish_count − 1`. */
struct modbus_block {
    struct modbus_request request;
    int first, wish_count;
};

struct modbus_plan_limits {
    int gap_registers; /* registers nobody asked for that may lie between two wishes of one request
                        */
    int count_max;     /* of one request, ≤ MODBUS_PDU_REGISTERS_MAX and at least 2 */
};

/* Sorts the wishes by unit, function and address, fills `ret` (room for `count`) and returns how
 * many requests it takes. */
int modbus_plan_build(struct modbus_wish *wishes, int count,
                      const struct modbus_plan_limits *limits, struct modbus_block *ret);

/* Marks the block's wishes `alone`; build again afterwards. False when it is a single wish already.
 */
bool modbus_plan_split(struct modbus_wish *wishes, const struct modbus_block *block);

#endif
