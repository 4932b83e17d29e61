/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A lamp burning at a level through a slot gives level · full_umol · lit_s · 10⁻⁶ mol and costs
 * (watts − off_w) · full_share · lit_s · price_per_kwh / 3.6e6.
 *
 * The rest of a light day cut into slots: what energy costs, how much lamp is allowed and how much
 * daylight a clear sky would give. Slots begin on the half hours of the light day, and also where
 * the price or the window changes; the first one is what is left of the present one.
 */
#ifndef LAMPWARDEN_PLAN_SLOT_H
#define LAMPWARDEN_PLAN_SLOT_H

#include "lampcurve.h"

#include <stdbool.h>
#include <stdint.h>

#define PLAN_SLOTS_MAX 160

struct plan_slot {
    double dt_s;
    double lit_s; /* seconds of full light in it: dt_s less dawn, dusk and dark parts; 0 … dt_s */
    double price_per_kwh; /* may be ≤ 0 */
    double cap; /* highest level while lit, 0 … 1; below the lamp's lowest: no lamp in this slot */
    double floor_umol; /* least PPFD at the canopy; 0: the lamp may be off */
    double clear_umol; /* daylight at the canopy under a clear sky, mean over dt_s */
    int64_t from_s;    /* wall clock; pieces of a window lie apart */
};

struct plan_slots {
    int count;
    struct plan_slot slot[PLAN_SLOTS_MAX];
};

/* The lamp of the space, as it is now. */
struct plan_lamp {
    const struct lampcurve *curve;
    double full_umol;    /* PPFD at level 1: gain and passing faults included */
    double full_share;   /* part of the curve's watts that this light costs, ≥ 0; usual 1 */
    double ceiling_umol; /* highest PPFD at the canopy, lamp and daylight; INFINITY: none */
    bool stays_lit;      /* in the window it burns at its lowest level at least */
};

#endif
