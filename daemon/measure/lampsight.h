/* SPDX-License-Identifier: Apache-2.0 */
/* What is seen of a lamp that is measured, and what is asked of it next. */
#ifndef LAMPWARDEN_LAMPSIGHT_H
#define LAMPWARDEN_LAMPSIGHT_H

#include <stdbool.h>

struct lampsight {
    double now_s;     /* any clock that never steps back */
    double umol;      /* newest good PPFD of the space; NaN: none */
    double taken_s;   /* … and when it was measured; a repeated sample keeps its time */
    double watts;     /* of this lamp's own meter; NaN: none */
    double heat_c;    /* heatsink; NaN: not known */
    double drive;     /* where its output stands, which may be less than was asked */
    bool is_closed;   /* its switch */
    bool has_tripped; /* its LED driver is held for tripped by whoever guards it */
};

struct lampwish {
    bool is_closed;
    double drive;
    bool acknowledges; /* the trip: whoever guards the lamp may allow its commissioned ceiling again
                        */
};

#endif
