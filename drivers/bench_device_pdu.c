/* SPDX-License-Identifier: Apache-2.0 */
/* Functions and registers of the bench device. Order of checks as in MODBUS Application Protocol
 * V1.1b3, 6: function, then quantity and length (03), then address (02), then value (03). */
#include "bench_device.h"

#include "clock.h"

#include <errno.h>
#include <math.h>
#include <string.h>

enum function {
    READ_COILS = 1,
    READ_HOLDING = 3,
    READ_INPUT = 4,
    WRITE_COIL = 5,
    WRITE_REGISTER = 6,
    WRITE_COILS = 15,
    WRITE_REGISTERS = 16,
};

/* Results beside the exception codes 1 … 3 of the protocol. */
enum { GOOD = 0, BAD_FUNCTION = 1, BAD_ADDRESS = 2, BAD_VALUE = 3, SILENT = -1 };

#define EXCEPTION_BIT    0x80
#define READ_MAX         125
#define READ_COILS_MAX   2000
#define COPIES_FROM      100 /* holding copies of the input registers */
#define IDENTITY         0x4C57
#define NOT_A_NUMBER_U16 0xFFFF
#define DRIVE_FULL       10000.0
#define STEP_MIN_S       0.05 /* requests closer together see the same readings */

static uint16_t get16(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] << 8 | bytes[1]);
}

static void put16(uint8_t *bytes, uint16_t value)
{
    bytes[0] = (uint8_t)(value >> 8);
    bytes[1] = (uint8_t)(value & 0xFF);
}

static uint16_t tenths_unsigned(double value)
{
    if (isnan(value)) {
        return NOT_A_NUMBER_U16;
    }
    return (uint16_t)lround(fmin(fmax(value * 10, 0), NOT_A_NUMBER_U16 - 1));
}

static uint16_t tenths_signed(double value)
{
    return (uint16_t)(int16_t)lround(fmin(fmax(value * 10, -32767), 32767));
}

static uint16_t float_word(double value, bool is_high)
{
    float single = (float)value;
    uint32_t bits = 0;
    memcpy(&bits, &single, sizeof bits);
    return (uint16_t)(is_high ? bits >> 16 : bits & 0xFFFF);
}

static int read_input(const struct bench_device *device, int fixture, int address, uint16_t *ret)
{
    struct bench_model *model = device->model;
    double value = 0, humidity = 0;
    int code = 0;
    switch (address) {
    case 0:
    case 10:
    case 11:
        code = bench_model_ppfd(model, bench_model_canopy_of(model, fixture), &value);
        break;
    case 1:
    case 12:
    case 13:
        code = bench_model_heat(model, fixture, &value);
        break;
    case 2:
    case 14:
    case 15:
        code = bench_model_power(model, fixture, &value);
        break;
    case 3:
    case 4:
        code = bench_model_air(model, &value, &humidity);
        break;
    case 8:
        *ret = tenths_unsigned(device->pace);
        return GOOD;
    case 9:
        *ret = IDENTITY;
        return GOOD;
    default:
        return BAD_ADDRESS;
    }
    if (code < 0) {
        return SILENT;
    }
    if (address >= 10) {
        *ret = float_word(value, address % 2 == 0);
    } else if (address == 1 || address == 3) {
        *ret = tenths_signed(value);
    } else {
        *ret = tenths_unsigned(address == 4 ? humidity : value);
    }
    return GOOD;
}

static int read_holding(const struct bench_device *device, int fixture, int address, uint16_t *ret)
{
    if (address >= COPIES_FROM) {
        return read_input(device, fixture, address - COPIES_FROM, ret);
    }
    if (address != 0) {
        return BAD_ADDRESS;
    }
    double drive = 0;
    if (bench_model_drive(device->model, fixture, &drive) < 0) {
        return SILENT;
    }
    *ret = (uint16_t)lround(drive * DRIVE_FULL);
    return GOOD;
}

/* An address that does not exist anywhere in the range outweighs a silent sensor. */
static int answer_registers(const struct bench_device *device, int fixture, const uint8_t *request,
                            uint8_t *answer, int *ret_length)
{
    int first = get16(request + 1), count = get16(request + 3), result = GOOD;
    if (count < 1 || count > READ_MAX) {
        return BAD_VALUE;
    }
    for (int i = 0; i < count; i++) {
        uint16_t value = 0;
        int code = request[0] == READ_INPUT ? read_input(device, fixture, first + i, &value)
                                            : read_holding(device, fixture, first + i, &value);
        if (code > 0) {
            return code;
        }
        if (code < 0) {
            result = code;
        }
        put16(answer + 2 + (ptrdiff_t)2 * i, value);
    }
    answer[1] = (uint8_t)(2 * count);
    *ret_length = 2 + 2 * count;
    return result;
}

static int answer_coils(struct bench_model *model, int fixture, const uint8_t *request,
                        uint8_t *answer, int *ret_length)
{
    int first = get16(request + 1), count = get16(request + 3);
    if (count < 1 || count > READ_COILS_MAX) {
        return BAD_VALUE;
    }
    if (first != 0 || count != 1) {
        return BAD_ADDRESS;
    }
    bool is_closed = false;
    if (bench_model_switch(model, fixture, &is_closed) < 0) {
        return SILENT;
    }
    answer[1] = 1;
    answer[2] = is_closed ? 1 : 0;
    *ret_length = 3;
    return GOOD;
}

static int set_drive(struct bench_model *model, int fixture, int value)
{
    if (value > (int)DRIVE_FULL) {
        return BAD_VALUE;
    }
    bench_model_set_drive(model, fixture, value / DRIVE_FULL);
    return GOOD;
}

/* Functions 5 and 6: address and value; the answer repeats the request. */
static int write_single(struct bench_model *model, int fixture, const uint8_t *request)
{
    int value = get16(request + 3);
    if (request[0] == WRITE_COIL && value != 0 && value != 0xFF00) {
        return BAD_VALUE;
    }
    if (get16(request + 1) != 0) {
        return BAD_ADDRESS;
    }
    if (request[0] == WRITE_REGISTER) {
        return set_drive(model, fixture, value);
    }
    bench_model_set_switch(model, fixture, value != 0);
    return GOOD;
}

/* Functions 15 and 16: address, quantity, byte count, values; the answer repeats the first two. */
static int write_several(struct bench_model *model, int fixture, const uint8_t *request,
                         size_t size)
{
    bool is_coil = request[0] == WRITE_COILS;
    size_t count = get16(request + 3);
    size_t bytes = is_coil ? (count + 7) / 8 : count * 2;
    if (count < 1 || request[5] != bytes || size != 6 + bytes) {
        return BAD_VALUE;
    }
    if (get16(request + 1) != 0 || count != 1) {
        return BAD_ADDRESS;
    }
    if (!is_coil) {
        return set_drive(model, fixture, get16(request + 6));
    }
    bench_model_set_switch(model, fixture, request[6] & 1);
    return GOOD;
}

static int dispatch(const struct bench_device *device, int fixture, const uint8_t *request,
                    size_t size, uint8_t *answer, int *ret_length)
{
    struct bench_model *model = device->model;
    bool has_five = size == 5;
    switch (request[0]) {
    case READ_COILS:
        return has_five ? answer_coils(model, fixture, request, answer, ret_length) : BAD_VALUE;
    case READ_HOLDING:
    case READ_INPUT:
        return has_five ? answer_registers(device, fixture, request, answer, ret_length)
                        : BAD_VALUE;
    case WRITE_COIL:
    case WRITE_REGISTER:
        return has_five ? write_single(model, fixture, request) : BAD_VALUE;
    case WRITE_COILS:
    case WRITE_REGISTERS:
        return size > 6 ? write_several(model, fixture, request, size) : BAD_VALUE;
    default:
        return BAD_FUNCTION;
    }
}

int bench_device_answer(struct bench_device *device, int unit, const uint8_t *request, size_t size,
                        uint8_t *ret_answer)
{
    struct bench_model *model = device->model;
    if (bench_model_has_fault(model, BENCH_BUS_DOWN, 0, NULL)) {
        return 0;
    }
    if (unit < 1 || unit > bench_model_fixtures(model)) {
        return -ENXIO;
    }
    if (size < 1 || size > BENCH_PDU_MAX) {
        return 0;
    }
    int length = 5; /* of an answer that repeats address and value */
    memcpy(ret_answer, request, size < 5 ? size : 5);
    int code = dispatch(device, unit - 1, request, size, ret_answer, &length);
    if (code == SILENT) {
        return 0;
    }
    if (code != GOOD) {
        ret_answer[0] = request[0] | EXCEPTION_BIT;
        ret_answer[1] = (uint8_t)code;
        return 2;
    }
    return length;
}

void bench_device_catch_up(struct bench_device *device, int64_t now_ns)
{
    double seconds = (double)(now_ns - device->stepped_ns) / (double)CLOCK_NS_PER_S * device->pace;
    if (seconds >= STEP_MIN_S) {
        bench_model_run(device->model, seconds);
        device->stepped_ns = now_ns;
    }
}

int64_t bench_device_lateness_ns(const struct bench_device *device)
{
    double seconds = 0;
    (void)bench_model_has_fault(device->model, BENCH_LATE, 0, &seconds);
    return (int64_t)(seconds * (double)CLOCK_NS_PER_S);
}
