/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Care of one fixture's switch: minimum times, dim before open, close at minimum, count of
 * operations.
 *
 *   OPEN ──want, rest over──► CLOSING (closed, drive at minimum, settle_s) ──► CLOSED
 *   CLOSED ──not wanted, min_on over──► OPENING (drive at minimum, settle_s) ──► OPEN
 *   any closed phase ──urgent──► OPEN at once
 *
 * Contacts and LED drivers' inrush limiters need the minimum times (common practice, no source).
 */
#ifndef LAMPWARDEN_SWITCHING_H
#define LAMPWARDEN_SWITCHING_H

#include <stdbool.h>
#include <stdint.h>

struct switching_rules {
    double min_on_s; /* usual 60; served at the minimum level; never outlives the night or a trip */
    double min_off_s; /* usual 60 */
    double settle_s;  /* at minimum before and after the contact moves; usual 2 */
};

enum switching_phase { SWITCHING_OPEN, SWITCHING_CLOSING, SWITCHING_CLOSED, SWITCHING_OPENING };

struct switching {
    enum switching_phase phase;
    double phase_s;            /* time in this phase */
    double since_change_s;     /* since the contact last moved; survives restarts */
    uint32_t operations_today; /* closings and openings of the contact in this light day */
    uint64_t operations_total;
};

struct switching_ask {
    bool want;       /* light is wanted */
    bool may_close;  /* false: another contact moved too recently, or READY is not reached; wait */
    bool is_unknown; /* nobody can say how the contact stood until now: its minimum off time begins
                        now */
    bool urgent;     /* night, heat trip, fault: open now, no dimming first, no minimum on time */
};

struct switching_answer {
    bool closed;     /* command for the contact */
    bool at_minimum; /* drive must be at its minimum (or safe when open) */
    bool is_resting; /* light is wanted but the minimum off time is not over */
    bool is_held_on; /* light is not wanted but the minimum on time is not over */
    bool moved;      /* the contact moves with this answer */
};

/* Unknown past (first start, after a power cut without a record): as if opened just now. */
void switching_reset(struct switching *switching);
void switching_new_day(struct switching *switching);
struct switching_answer switching_step(const struct switching_rules *rules,
                                       struct switching *switching, const struct switching_ask *ask,
                                       double dt_s);

#endif
