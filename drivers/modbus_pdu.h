/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Modbus requests and replies as bytes: what is asked, and whether an answer belongs to the
 * question.
 *
 * A "body" is the unit followed by the PDU of the Modbus Application Protocol V1.1b3. The line adds
 * a CRC behind it (serial) or a header before it (TCP). Addresses count from 0: register number n
 * is address n − 1. Plain computation, no I/O.
 */
#ifndef LAMPWARDEN_MODBUS_PDU_H
#define LAMPWARDEN_MODBUS_PDU_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum modbus_pdu_limits {
    MODBUS_PDU_BODY_MAX = 254,  /* unit and 253 bytes of PDU */
    MODBUS_PDU_REQUEST_MAX = 9, /* the longest body that is ever sent */
    MODBUS_PDU_HEADER = 6,      /* TCP: transaction, protocol, length; the unit begins the body */
    MODBUS_PDU_REGISTERS_MAX = 125, /* of one read */
    MODBUS_PDU_COILS_MAX = 2000,
};

enum modbus_pdu_function {
    MODBUS_PDU_READ_COILS = 1,
    MODBUS_PDU_READ_HOLDING = 3,
    MODBUS_PDU_READ_INPUT = 4,
    MODBUS_PDU_WRITE_COIL = 5,
    MODBUS_PDU_WRITE_REGISTER = 6,
    MODBUS_PDU_WRITE_REGISTERS = 16,
};

struct modbus_request {
    uint8_t unit;
    uint8_t function; /* enum modbus_pdu_function */
    uint16_t address;
    uint16_t count; /* reads: registers or coils, within the limits above; writes: 1 */
    uint16_t value; /* writes: the register's value, or 0 / 1 for a coil */
};

struct modbus_reply {
    uint8_t body[MODBUS_PDU_BODY_MAX];
    size_t size;
    int64_t arrived_ns; /* real time */
};

enum modbus_pdu_verdict {
    MODBUS_PDU_OK,
    MODBUS_PDU_EXCEPTION, /* the unit refused; modbus_pdu_exception says why */
    MODBUS_PDU_WRONG_UNIT,
    MODBUS_PDU_WRONG_FUNCTION,
    MODBUS_PDU_WRONG_LENGTH,
    MODBUS_PDU_WRONG_ECHO, /* a write confirmed for another address or value */
};

/* Fills `ret` (MODBUS_PDU_REQUEST_MAX bytes) and returns the size. */
size_t modbus_pdu_encode(const struct modbus_request *request, uint8_t *ret);

/* Size of the body that answers it. */
size_t modbus_pdu_reply_size(const struct modbus_request *request);

enum modbus_pdu_verdict modbus_pdu_check(const struct modbus_request *request,
                                         const struct modbus_reply *reply);
const char *modbus_pdu_verdict_name(enum modbus_pdu_verdict verdict);

/* Only after MODBUS_PDU_EXCEPTION. */
uint8_t modbus_pdu_exception(const struct modbus_reply *reply);

/* Only after MODBUS_PDU_OK of a read, index below its count. */
uint16_t modbus_pdu_word(const struct modbus_reply *reply, int index);
bool modbus_pdu_bit(const struct modbus_reply *reply, int index);

/* "illegal data address", … for the exception codes 01 … 0B, and a negative errno for each: -EAGAIN
 * for acknowledge and busy; none of them means that the connection is gone. */
const char *modbus_pdu_exception_name(uint8_t code);
int modbus_pdu_exception_errno(uint8_t code);

/* The header before a body of `size` bytes (Modbus Messaging on TCP/IP Implementation Guide
 * V1.0b, 3.1.3). */
void modbus_pdu_header(uint16_t transaction, size_t size, uint8_t *ret);

/* True when header and size of a received frame fit together and carry this transaction. */
bool modbus_pdu_header_fits(uint16_t transaction, const uint8_t *frame, size_t size);

#endif
