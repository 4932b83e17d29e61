/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One open Modbus connection: a serial line or a TCP stream. The only user of libmodbus (modbus.c;
 * the header is not called modbus.h because that is the library's).
 *
 * It sends one request and brings its answer, checked against the question, or an errno; it keeps
 * no history, retries nothing and decides nothing. Every call returns by its deadline (real time).
 * Errors: -ETIMEDOUT no answer in time; -EBADMSG a broken, foreign or unasked-for answer; -EIO
 * (serial) or -ENOTCONN (TCP) the connection is gone.
 */
#ifndef LAMPWARDEN_MODBUS_PORT_H
#define LAMPWARDEN_MODBUS_PORT_H

#include "modbus_pdu.h"

#include <stdbool.h>
#include <stdint.h>

struct err;
struct modbus_port;

struct modbus_port_setup {
    bool is_tcp;
    const char *host; /* TCP: numeric IPv4 or IPv6 address: a name server never delays light */
    int tcp_port;
    const char *device; /* serial: "/dev/serial/by-path/…" */
    int baud;
    char parity; /* 'N' 'E' 'O' */
    int stop_bits;
    bool has_echo;         /* what we send comes back to us first */
    bool kernel_direction; /* the kernel switches the RS-485 transmitter */
};

int modbus_port_open(const struct modbus_port_setup *setup, int64_t deadline_ns,
                     struct modbus_port **ret, struct err *err);
void modbus_port_close(struct modbus_port *port); /* NULL is fine */

/* Throws away what arrives until `until_ns` (once at least, without waiting when that is past) and
 * says how many bytes it was. */
int modbus_port_discard(struct modbus_port *port, int64_t until_ns, size_t *ret_bytes,
                        struct err *err);

/* Returns 0 for an answer that belongs to the request (an exception is an answer too). */
int modbus_port_exchange(struct modbus_port *port, const struct modbus_request *request,
                         int64_t deadline_ns, struct modbus_reply *ret, struct err *err);

#endif
