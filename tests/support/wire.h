/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A serial line with Modbus slaves on it, behind a pseudo-terminal, that takes the time a real one
 * takes: 11 bits a character, 3.5 characters of silence between frames, a slave's turnaround.
 *
 * The moment each byte is over on the line is calculated from the moment at which the request was
 * seen, and the bytes are handed over at those moments, one by one: what a busy machine delays in
 * one byte is not added to the next. One thread, of real-time priority where that is allowed; the
 * last 100 µs before the end of an answer are spun away. How late its last bytes were is counted,
 * so that a late line can be told from a slow master.
 *
 * What the line allows, after Modbus over Serial Line V1.02, 2.5.1.1 (frames are separated by at
 * least 3.5 characters; above 19200 Bd 1.75 ms):
 *
 *   one read of n registers = 8 characters (unit, function, address, count, CRC)
 *                           + t3.5 (by which the slave knows that the request is over)
 *                           + turnaround of the slave
 *                           + 5 + 2 n characters (unit, function, byte count, registers, CRC)
 *                           + t3.5 (before the next request)
 *
 * Every unit from 1 to 247 answers reads of holding registers; register a of unit u holds
 * u × 256 + a. Uses its own clock (CLOCK_MONOTONIC): a test may bend the program's.
 */
#ifndef LAMPWARDEN_WIRE_H
#define LAMPWARDEN_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct wire_setup {
    int baud;
    int64_t turnaround_ns;
    int dead_unit;   /* never answers; 0: all do */
    bool one_by_one; /* reads of more than one register are refused (exception 02) */
};

struct wire_count {
    int answers, silences; /* requests answered, and those to the dead unit */
    int short_gaps;        /* requests that came before 3.5 characters of silence were over */
    int broken;            /* requests with a wrong length or CRC */
    double late_mean_us;   /* the line's own: the last byte of an answer after its moment */
    double late_p99_us;
    double idle_mean_us; /* the master's: from the end of the silence to its next request */
};

struct wire;

int64_t wire_bytes_ns(int baud, int bytes); /* on the line */
int64_t wire_t35_ns(int baud);
int64_t wire_read_ns(const struct wire_setup *setup, int registers); /* as above */

struct wire *wire_start(const struct wire_setup *setup); /* NULL: no pseudo-terminal here */
const char *wire_device(const struct wire *wire);
void wire_stop(struct wire *wire, struct wire_count *ret); /* NULL is fine for both */

#endif
