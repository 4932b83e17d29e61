/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The bench as a Modbus device, for the program `lampwarden-bench`: requests in, answers out.
 *
 * bench_device_pdu.c knows functions and registers and nothing of lines; bench_device_tcp.c and
 * bench_device_rtu.c know their framing and nothing of registers. One thread, one poll loop in
 * bench_device_main.c. The framing is our own, a page each: a library's server would block on one
 * slow client.
 *
 * Unit id = 1 + fixture. Holding register 0: drive × 10000. Coil 0: the switch. Input registers,
 * and the same as holding registers from 100 on: 0 PPFD × 10 of the canopy (u16; 0xFFFF: not a
 * number)   1 heatsink °C × 10 (s16)   2 W × 10 (u16) 3 air °C × 10 (s16)   4 relative humidity % ×
 * 10 (u16)   8 pace × 10 (u16)   9 always 0x4C57   10–11 PPFD   12–13 heatsink °C   14–15 W, each
 * as float, high word first
 */
#ifndef LAMPWARDEN_BENCH_DEVICE_H
#define LAMPWARDEN_BENCH_DEVICE_H

#include "bench_model.h"

#include <poll.h>
#include <stddef.h>
#include <stdint.h>

#define BENCH_PDU_MAX     253 /* function and data, MODBUS Application Protocol V1.1b3, 4.1 */
#define BENCH_CLIENTS_MAX 32
#define BENCH_NEVER_NS    INT64_MAX

struct err;

struct bench_device {
    struct bench_model *model;
    double pace;
    int64_t stepped_ns; /* boot time up to which the bench has lived */
};

/* Lets the bench live up to now. */
void bench_device_catch_up(struct bench_device *device, int64_t now_ns);

/* Answers one request PDU. Returns the length of the answer, 0 for silence by the fault script,
 * -ENXIO when there is no such unit; ret_answer holds BENCH_PDU_MAX bytes. */
int bench_device_answer(struct bench_device *device, int unit, const uint8_t *request, size_t size,
                        uint8_t *ret_answer);

/* How late answers are by the fault script, in ns. */
int64_t bench_device_lateness_ns(const struct bench_device *device);

/* The TCP side: a listener on a loopback address and its clients. */
struct bench_tcp;
int bench_tcp_open(const char *address, struct bench_tcp **ret, struct err *err);
void bench_tcp_close(struct bench_tcp *tcp); /* NULL is fine */
/* "127.0.0.1:1502", with the port that was really bound. */
const char *bench_tcp_name(const struct bench_tcp *tcp);
/* Fills at most 1 + BENCH_CLIENTS_MAX entries and returns their number; `serve` gets the same
 * entries back. */
int bench_tcp_poll(const struct bench_tcp *tcp, struct pollfd *ret_fds);
void bench_tcp_serve(struct bench_tcp *tcp, struct bench_device *device, const struct pollfd *fds,
                     int64_t now_ns);
int64_t bench_tcp_due_ns(const struct bench_tcp *tcp); /* when to serve without any event */

/* The RTU side: one serial line or pseudo terminal. */
struct bench_rtu;
struct bench_rtu_options {
    const char *path;
    int baud;
    char parity; /* 'N', 'E', 'O' */
    int stop_bits;
};
int bench_rtu_open(const struct bench_rtu_options *options, struct bench_rtu **ret,
                   struct err *err);
void bench_rtu_close(struct bench_rtu *rtu); /* NULL is fine */
int bench_rtu_fd(const struct bench_rtu *rtu);
/* Negative: the line is gone. */
int bench_rtu_serve(struct bench_rtu *rtu, struct bench_device *device, const struct pollfd *fd,
                    int64_t now_ns, struct err *err);
int64_t bench_rtu_due_ns(const struct bench_rtu *rtu);

#endif
