/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Resistance of copper conductors by the tables that electricians use. The two tables are made for
 * different temperatures and wires, and are never mixed: a size belongs to one of them.
 *
 * American sizes: NFPA 70 (NEC) 2020, chapter 9, table 8, uncoated copper at 75 °C, moved by its
 * note R2 = R1 (1 + 0.00323 (T2 − 75)) (the coefficient from memory). Metric sizes: IEC 60228,
 * largest resistance of plain copper at 20 °C, classes 1 and 2 (rigid) and 5 (flexible), divided by
 * 250 / (230 + T).
 */
#ifndef LAMPWARDEN_CONDUCTOR_H
#define LAMPWARDEN_CONDUCTOR_H

struct err;

enum conductor_make {
    CONDUCTOR_AWG_SOLID,
    CONDUCTOR_AWG_STRANDED, /* 7 strands */
    CONDUCTOR_MM2_RIGID,    /* classes 1 and 2 */
    CONDUCTOR_MM2_FLEXIBLE, /* class 5 */
};

#define CONDUCTOR_SIZES_MAX 10
#define CONDUCTOR_COLD_C    (-40.0)
#define CONDUCTOR_HOT_C     120.0

struct conductor {
    enum conductor_make make;
    double size; /* AWG number, or mm² */
};

/* Ohms of one metre of one conductor at a conductor temperature of CONDUCTOR_COLD_C …
 * CONDUCTOR_HOT_C °C. -ENOENT: not a size of its table (the sentence lists them); -ERANGE. */
int conductor_ohm_per_m(const struct conductor *conductor, double temperature_c, double *ret,
                        struct err *err);

/* The sizes of a make, thinnest first; returns their number. */
int conductor_sizes(enum conductor_make make, double ret[CONDUCTOR_SIZES_MAX]);

/* "14 AWG stranded", "1.5 mm² flexible": at least 32 bytes. */
void conductor_name(const struct conductor *conductor, char *buffer, unsigned size);

/* "NEC chapter 9 table 8" or "IEC 60228". */
const char *conductor_source(enum conductor_make make);

#endif
