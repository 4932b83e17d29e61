/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A Modbus device that misbehaves on demand, on a pseudo-terminal (RTU) or a TCP port of the
 * loopback. It frames by itself, without libmodbus, so that it can also frame wrongly. One thread;
 * answers that are late come late while newer requests are being answered.
 *
 * Every unit answers. A holding register holds unit × 256 + address (address < 256), an input
 * register the same with its top bit set, unless it was set or written; a value under a wrong
 * address therefore shows. Addresses from 256 on do not exist (exception 02). Coils are off until
 * written.
 */
#ifndef LAMPWARDEN_BAD_MODBUS_H
#define LAMPWARDEN_BAD_MODBUS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum bad_kind {
    BAD_SILENT,
    BAD_LATE,        /* value: ms */
    BAD_DRIP,        /* value: ms before each byte */
    BAD_UNIT,        /* answers as unit + 1 */
    BAD_SHORT,       /* one register less than asked, well framed */
    BAD_LONG,        /* one more */
    BAD_CHECKSUM,    /* RTU: CRC wrong; TCP: length of the header wrong */
    BAD_TRANSACTION, /* TCP: another transaction number */
    BAD_EXCEPTION,   /* value: code */
    BAD_TWICE,       /* the answer, and at once again */
    BAD_HALF,        /* the first half of it */
    BAD_FUNCTION,    /* the answer of another function */
    BAD_STUCK,       /* confirms a write and keeps the old value */
    BAD_ECHO,        /* confirms a write of another value */
    BAD_RESET,       /* TCP: resets the connection instead of answering */
    BAD_NOISE,       /* value: bytes of 0x00 before the answer */
    BAD_STEPS,       /* keeps a written register only to a multiple of value */
};

struct bad_rule {
    enum bad_kind kind;
    int value;
    int unit, function, address; /* −1: any; an address anywhere in the asked range */
    int times;                   /* how often; −1: for ever */
};

struct bad_modbus;

struct bad_modbus *bad_modbus_start_rtu(bool has_echo); /* NULL: no pseudo-terminal here */
struct bad_modbus *bad_modbus_start_tcp(void);
void bad_modbus_stop(struct bad_modbus *bad);

const char *bad_modbus_device(const struct bad_modbus *bad); /* RTU */
int bad_modbus_port(const struct bad_modbus *bad);           /* TCP */

/* The first rule that fits a request is used. */
void bad_modbus_rule(struct bad_modbus *bad, struct bad_rule rule);
void bad_modbus_forget(struct bad_modbus *bad); /* all rules */

void bad_modbus_set_holding(struct bad_modbus *bad, int unit, int address, uint16_t value);
void bad_modbus_set_input(struct bad_modbus *bad, int unit, int address, uint16_t value);
void bad_modbus_set_coil(struct bad_modbus *bad, int unit, int address, bool on);
uint16_t bad_modbus_holding(struct bad_modbus *bad, int unit, int address);
bool bad_modbus_coil(struct bad_modbus *bad, int unit, int address);

/* The unplugged adapter, the device without power. */
void bad_modbus_vanish(struct bad_modbus *bad);

/* A device whose program hangs while its network still takes what comes. */
void bad_modbus_freeze(struct bad_modbus *bad, bool is_frozen);

/* RTU with echo: somebody talked at the same time, so often. */
void bad_modbus_collide(struct bad_modbus *bad, int times);

/* Bytes as they came over the wire since the last call; returns how many. */
size_t bad_modbus_recorded(struct bad_modbus *bad, uint8_t *ret, size_t room);
/* Modbus over Serial Line V1.02, 6.2: polynomial A001 reflected, start FFFF, low byte first on the
 * wire. */
uint16_t bad_modbus_crc16(const uint8_t *bytes, size_t size);

int bad_modbus_requests(struct bad_modbus *bad);    /* well formed ones since the start */
int bad_modbus_connections(struct bad_modbus *bad); /* TCP: accepted since the start */
int64_t
bad_modbus_least_gap_ns(struct bad_modbus *bad); /* RTU: from an answer to the next request */

#endif
