/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Light days: 24 h on a fixed UTC offset, so that no change of the civil clock moves the night.
 *
 * A light day is named by the date (at the fixed offset) on which it starts. Day numbers count
 * from 1970-01-01. A window is the lit part: it begins at a time of day and may cross midnight and
 * the start of the light day; it then lies in two pieces of that light day.
 * All functions are pure; wall times are seconds since 1970-01-01 UTC and may be negative.
 *
 * An always-lit window has no edges, so no ramp may dim it: its lights-on and lights-off are
 * reckoned a whole day (longer than any ramp) outside the light day, in the place and in the
 * pieces.
 */
#ifndef LAMPWARDEN_LIGHTDAY_H
#define LAMPWARDEN_LIGHTDAY_H

#include <stdbool.h>
#include <stdint.h>

struct lightday_rules {
    int32_t utc_offset_s; /* −50400 … 50400 */
    int32_t start_s; /* when the light day starts, second of the day at that offset, 0 … 86399 */
};

struct lightday_window {
    int32_t on_s;     /* lights-on, second of the day at the fixed offset, 0 … 86399 */
    int32_t length_s; /* 0 (never lit) … 86400 (always lit) */
};

/* The light day that holds a moment, and the moments at which a light day begins and ends. */
int64_t lightday_of(const struct lightday_rules *rules, int64_t wall_s);
int64_t lightday_begin(const struct lightday_rules *rules, int64_t day);

/* Second of the civil day at the fixed offset, 0 … 86399. */
int32_t lightday_second(const struct lightday_rules *rules, int64_t wall_s);

/* Where a moment lies in the window. */
struct lightday_place {
    bool is_lit; /* on_s ≤ t < on_s + length_s */
    bool
        is_always; /* the window is 24 h: say "always lit", since_on and until_off are no moments */
    int64_t since_on_s;  /* lit: since lights-on, whole window; else −1. Always: ≥ 86400 */
    int64_t until_off_s; /* lit: until lights-off, whole window; else −1. Always: > 86400 */
    int64_t until_on_s;  /* dark: until the next lights-on; lit: 0; never lit: −1 */
};
struct lightday_place lightday_place(const struct lightday_rules *rules,
                                     const struct lightday_window *window, int64_t wall_s);

/* The pieces of the window from a moment to the end of its light day (0, 1 or 2), in order, none
 * empty. Times are wall seconds; window_on_s/window_off_s give the whole window to which a piece
 * belongs, for ramps. */
struct lightday_piece {
    int64_t from_s, to_s;
    int64_t window_on_s, window_off_s;
};
int lightday_pieces(const struct lightday_rules *rules, const struct lightday_window *window,
                    int64_t wall_s, struct lightday_piece ret_pieces[2]);

#endif
