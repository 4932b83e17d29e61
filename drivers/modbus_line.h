/* SPDX-License-Identifier: Apache-2.0 */
/*
 * When the line may be used, and whether its next answer can be believed. State and timing only: no
 * I/O, no clock, every function is given the time: real time, as all that a device takes.
 *
 *     closed ──opened──► up ──trouble──► quarantine ──silent long enough──► up        (serial)
 *                        up ──trouble──► closed                                       (TCP)
 *
 * Serial Modbus has no transaction number: a reply that comes after our timeout looks like the
 * answer to the next request, and from then on every answer is one too old, without any error. So
 * any trouble (no answer in time, a broken or foreign answer, bytes nobody asked for) puts the line
 * in quarantine: what arrives is thrown away until the line was silent for the worst reply time of
 * the slowest unit. Then the unit in trouble has to prove itself with a recognisable answer first
 * (modbus_health). On TCP a new connection does the same, and the transaction number tells old
 * answers.
 *
 * The silence between frames is what the standard asks for, counted from the moment at which the
 * last byte was seen here, which is never before it was over on the line. Some units need more:
 * merge frames that follow so closely, or hold the line for a while after their answer. What they
 * do then is trouble, and after their first trouble they are given more for good (common practice,
 * no source: 10 ms). Who knows it beforehand says so (modbus_pace).
 */
#ifndef LAMPWARDEN_MODBUS_LINE_H
#define LAMPWARDEN_MODBUS_LINE_H

#include "modbus_pdu.h"

#include <stdbool.h>
#include <stdint.h>

enum { MODBUS_UNITS = 256 };

/* What one unit needs other than the bus does; 0: as the bus. */
struct modbus_pace {
    int64_t gap_ns;     /* silence before it is asked, and after it answered; the longer counts */
    int64_t timeout_ns; /* instead of the bus's */
};

struct modbus_timing {
    bool is_serial;
    int64_t char_ns;     /* one character on the wire; 0 on TCP */
    int64_t gap_ns;      /* silence before a request */
    int64_t wary_gap_ns; /* … before and after a unit that was in trouble once */
    int64_t timeout_ns;  /* for the answer, beside the characters' own time */
    int64_t silence_ns;  /* of a quarantine; TCP: nothing is sent for so long after trouble */
    struct modbus_pace paces[MODBUS_UNITS]; /* by unit number */
};

/* Inter-character and inter-frame times of Modbus over Serial Line V1.02, 2.5.1.1: 1.5 and 3.5
 * characters, above 19200 baud fixed at 750 µs and 1.75 ms. bits: of one character, start to stop
 * (11, or 10). */
int64_t modbus_line_char_ns(int baud, int bits);
int64_t modbus_line_t15_ns(int baud, int bits);
int64_t modbus_line_t35_ns(int baud, int bits);

void modbus_line_serial(struct modbus_timing *ret, int baud, int bits, int timeout_ms,
                        int worst_reply_ms);
void modbus_line_tcp(struct modbus_timing *ret, int timeout_ms, int worst_reply_ms);

/* How long this request may take from its first byte sent to the last byte of its answer. */
int64_t modbus_line_patience_ns(const struct modbus_timing *timing,
                                const struct modbus_request *request);

/* The most registers one read may ask for, so that its answer passes in half a second. */
int modbus_line_registers_max(const struct modbus_timing *timing);

enum modbus_state { MODBUS_CLOSED, MODBUS_UP, MODBUS_QUARANTINE };

struct modbus_line {
    struct modbus_timing timing;
    enum modbus_state state;
    int64_t quiet_since_ns; /* last byte heard or sent */
    int64_t trouble_ns;     /* when the last trouble was seen; 0: none yet */
    uint8_t last_unit;
    int misses;                 /* troubles since the last good answer */
    bool is_wary[MODBUS_UNITS]; /* by unit number: was in trouble since the program began */
};

/* A quarantine outlives a close and reopen: the late answer does not care. */
void modbus_line_opened(struct modbus_line *line, int64_t now_ns);
void modbus_line_closed(struct modbus_line *line);
void modbus_line_answered(struct modbus_line *line, uint8_t unit, int64_t now_ns);
void modbus_line_trouble(struct modbus_line *line, uint8_t unit, int64_t now_ns);
void modbus_line_heard(struct modbus_line *line, int64_t now_ns); /* bytes were thrown away */

void modbus_line_urgent(struct modbus_line *line); /* no quarantine, no rest */

/* Ends a quarantine that was silent long enough. */
enum modbus_state modbus_line_step(struct modbus_line *line, int64_t now_ns);

/* The earliest moment at which the next request to this unit may start. */
int64_t modbus_line_earliest_ns(const struct modbus_line *line, uint8_t unit);

/* When its answer has come or is given up, if nothing else happens before. */
int64_t modbus_line_done_ns(const struct modbus_line *line, const struct modbus_request *request,
                            int64_t now_ns);

/* One unit's standing. A unit that failed is skipped for 1, 2, 4 … 60 s. */
struct modbus_health {
    int failures; /* in a row */
    int64_t retry_ns;
    bool has_suspect;
    struct modbus_request suspect; /* whose answer may still come late */
};

void modbus_health_failed(struct modbus_health *health, const struct modbus_request *request,
                          int64_t now_ns);
void modbus_health_answered(struct modbus_health *health);
void modbus_health_reopened(struct modbus_health *health); /* due at once; the count stays */
bool modbus_health_is_due(const struct modbus_health *health, int64_t now_ns);

/* `usual`, or a variant of it whose answer cannot be mistaken for that of the suspect: another
 * length. Every second attempt keeps the usual one, for units that never answer a read of an
 * address they lack. */
struct modbus_request modbus_health_probe(const struct modbus_health *health,
                                          const struct modbus_request *usual);

#endif
