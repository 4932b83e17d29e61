/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Registers and the numbers they stand for. Modbus defines one 16-bit big-endian register and
 * nothing wider, so makers differ in word order, byte order, sign and scale: all of it is
 * configuration. Plain computation, no I/O. libmodbus' float helpers are not used: its set and get
 * pairs do not round-trip in 3.1.6.
 */
#ifndef LAMPWARDEN_MODBUS_VALUE_H
#define LAMPWARDEN_MODBUS_VALUE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* In the order of the configuration's choices. */
enum modbus_type { MODBUS_U16, MODBUS_S16, MODBUS_U32, MODBUS_S32, MODBUS_F32 };

/* A is the most significant byte; registers follow each other by address, high byte first. For
 * 16-bit types ABCD and CDAB mean high byte first, BADC and DCBA low byte first. */
enum modbus_order { MODBUS_ABCD, MODBUS_CDAB, MODBUS_BADC, MODBUS_DCBA };

/* Raw values by which instruments say "no reading". LIMITS: 0x7FFF, 0x8000 (32 bit: 0x7FFFFFFF,
 * 0x80000000) and −9999. ALL: also all bits set, which in a signed register is a plain −1. */
enum modbus_sentinels { MODBUS_SENTINELS_NONE, MODBUS_SENTINELS_LIMITS, MODBUS_SENTINELS_ALL };

struct modbus_format {
    enum modbus_type type;
    enum modbus_order order;
    enum modbus_sentinels sentinels;
    bool small_negatives; /* u16 only: raw 0xFF9C … 0xFFFF is −100 … −1 */
    double scale, offset; /* value = raw × scale + offset */
};

int modbus_value_words(enum modbus_type type); /* 1 or 2 registers */

/* NaN for a sentinel, and for a float that is not a number. */
double modbus_value_decode(const struct modbus_format *format, const uint16_t *words);

/* The registers in the order on the wire: "0x00EB", "0x41C8 0x0000"; as many as fit whole. */
void modbus_value_print(const uint16_t *words, int count, char *ret, size_t size);

/* A dimming output: raw value of drive 0 and of drive 1; one may be above or below the other. */
struct modbus_span {
    uint16_t zero, full;
};

uint16_t modbus_value_from_drive(const struct modbus_span *span, double drive); /* drive 0 … 1 */
double modbus_value_to_drive(const struct modbus_span *span, uint16_t raw); /* may leave 0 … 1 */

#endif
