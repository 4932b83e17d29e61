/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The DC lead between a remote LED driver and its boards: there and back, so the current sees twice
 * its length. Drop = I · R′ · 2 L, loss = I² · R′ · 2 L.
 */
#ifndef LAMPWARDEN_LEAD_H
#define LAMPWARDEN_LEAD_H

#include "conductor.h"

struct lead {
    struct conductor conductor;
    double length_m;      /* one way, > 0 … 1000 */
    double current_a;     /* > 0 … 100 */
    double temperature_c; /* of the conductor */
    double output_v;      /* of the LED driver under load; 0: not known */
};

struct lead_answer {
    double ohm; /* there and back */
    double drop_v;
    double loss_w;
    double share; /* drop over output voltage; NaN without one */
};

/* -ENOENT, -ERANGE as in conductor.h; -EDOM: the drop is all of the output voltage or more. */
int lead_of(const struct lead *lead, struct lead_answer *ret, struct err *err);

/* The thinnest size of a make whose drop is at most `share` of output_v (> 0), into
 * ret->conductor; the rest of *lead stays. -ENOENT: none in the table is thick enough. */
int lead_thinnest(const struct lead *lead, double share, struct lead *ret, struct err *err);

#endif
