/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_plan.h"

#include <stdlib.h>

static int compare(const void *left, const void *right)
{
    const struct modbus_wish *a = left, *b = right;
    if (a->unit != b->unit) {
        return a->unit - b->unit;
    }
    if (a->function != b->function) {
        return a->function - b->function;
    }
    if (a->address != b->address) {
        return a->address - b->address;
    }
    return a->sensor - b->sensor; /* the same order every time: a cursor survives a rebuild */
}

static int end_of(const struct modbus_request *request)
{
    return request->address + request->count;
}

static bool fits(const struct modbus_request *request, const struct modbus_wish *wish,
                 const struct modbus_plan_limits *limits)
{
    int wish_end = wish->address + wish->count;
    int end = wish_end > end_of(request) ? wish_end : end_of(request);
    return wish->unit == request->unit && wish->function == request->function &&
           wish->address - end_of(request) <= limits->gap_registers &&
           end - request->address <= limits->count_max;
}

int modbus_plan_build(struct modbus_wish *wishes, int count,
                      const struct modbus_plan_limits *limits, struct modbus_block *ret)
{
    if (count > 0) {
        qsort(wishes, (size_t)count, sizeof *wishes, compare);
    }
    int blocks = 0;
    bool is_open = false;
    for (int i = 0; i < count; i++) {
        const struct modbus_wish *wish = &wishes[i];
        if (is_open && !wish->alone && fits(&ret[blocks - 1].request, wish, limits)) {
            struct modbus_block *block = &ret[blocks - 1];
            int wish_end = wish->address + wish->count;
            if (wish_end > end_of(&block->request)) {
                block->request.count = (uint16_t)(wish_end - block->request.address);
            }
            block->wish_count++;
            continue;
        }
        ret[blocks++] = (struct modbus_block){
            .request = {wish->unit, wish->function, wish->address, wish->count, 0},
            .first = i,
            .wish_count = 1,
        };
        is_open = !wish->alone;
    }
    return blocks;
}

bool modbus_plan_split(struct modbus_wish *wishes, const struct modbus_block *block)
{
    if (block->wish_count < 2) {
        return false;
    }
    for (int i = 0; i < block->wish_count; i++) {
        wishes[block->first + i].alone = true;
    }
    return true;
}
