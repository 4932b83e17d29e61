/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_value.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

_Static_assert(sizeof(float) == sizeof(uint32_t), "registers hold IEEE 754 single precision");

/* The smallest raw value that is read as negative: 0xFF9C = −100, −10.0 at a scale of 0.1. */
enum { SMALL_NEGATIVE_FROM = 0xFF9C, NO_READING = -9999 };

int modbus_value_words(enum modbus_type type)
{
    return type == MODBUS_U16 || type == MODBUS_S16 ? 1 : 2;
}

static uint16_t swap_bytes(uint16_t word)
{
    return (uint16_t)(word << 8 | word >> 8);
}

/* The raw bits, most significant first, whatever order the device sends them in. */
static uint32_t raw_bits(const struct modbus_format *format, const uint16_t *words)
{
    bool bytes_swapped = format->order == MODBUS_BADC || format->order == MODBUS_DCBA;
    bool words_swapped = format->order == MODBUS_CDAB || format->order == MODBUS_DCBA;
    uint16_t first = bytes_swapped ? swap_bytes(words[0]) : words[0];
    if (modbus_value_words(format->type) == 1) {
        return first;
    }
    uint16_t second = bytes_swapped ? swap_bytes(words[1]) : words[1];
    return words_swapped ? (uint32_t)second << 16 | first : (uint32_t)first << 16 | second;
}

static bool is_sentinel(const struct modbus_format *format, uint32_t bits, double raw)
{
    if (format->sentinels == MODBUS_SENTINELS_NONE) {
        return false;
    }
    if (format->type != MODBUS_U16 && format->type != MODBUS_U32 && raw == NO_READING) {
        return true;
    }
    if (format->type == MODBUS_F32) {
        return false; /* the integers' limits are ordinary floats, or NaN already */
    }
    uint32_t all = modbus_value_words(format->type) == 1 ? UINT16_MAX : UINT32_MAX;
    uint32_t top = all / 2;
    return bits == top || bits == top + 1 ||
           (bits == all && format->sentinels == MODBUS_SENTINELS_ALL);
}

static double raw_number(const struct modbus_format *format, uint32_t bits)
{
    float single;
    switch (format->type) {
    case MODBUS_U16:
        if (format->small_negatives && bits >= SMALL_NEGATIVE_FROM) {
            return (int16_t)bits;
        }
        return bits;
    case MODBUS_S16:
        return (int16_t)bits;
    case MODBUS_U32:
        return bits;
    case MODBUS_S32:
        return (int32_t)bits;
    case MODBUS_F32:
        memcpy(&single, &bits, sizeof single);
        return (double)single;
    }
    return (double)NAN;
}

double modbus_value_decode(const struct modbus_format *format, const uint16_t *words)
{
    uint32_t bits = raw_bits(format, words);
    double raw = raw_number(format, bits);
    if (is_sentinel(format, bits, raw)) {
        return (double)NAN;
    }
    return raw * format->scale + format->offset;
}

void modbus_value_print(const uint16_t *words, int count, char *ret, size_t size)
{
    enum { FIRST = 6, FURTHER = 7 }; /* characters */
    size_t used = 0;
    ret[0] = '\0';
    for (int i = 0; i < count && used + (i == 0 ? FIRST : FURTHER) < size; i++) {
        used += (size_t)snprintf(ret + used, size - used, "%s0x%04X", i == 0 ? "" : " ", words[i]);
    }
}

uint16_t modbus_value_from_drive(const struct modbus_span *span, double drive)
{
    double raw = span->zero + drive * ((double)span->full - span->zero);
    return (uint16_t)lround(raw);
}

double modbus_value_to_drive(const struct modbus_span *span, uint16_t raw)
{
    return ((double)raw - span->zero) / ((double)span->full - span->zero);
}
