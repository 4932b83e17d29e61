/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Heat of one fixture: proportional foldback over a wide band, and a hard trip.
 *
 *   cap = clamp(1 − (1 − low_level)(y − from_c)/(to_c − from_c), low_level, 1)
 *
 * with y the hottest valid sensor through a first-order filter. The cap falls at once and rises
 * slowly. Band and slopes: a wide proportional band needs no tuning and does not cycle; see
 * DEVELOPERS.md. Trip: the raw value at or above trip_c in 3 samples running, or no valid sensor
 * for lost_s. Re-armed below rearm_c (filtered and raw, from a good reading); after
 * `trips_to_latch` trips in one light day it stays until acknowledged. While tripped the cap waits
 * at low_level, so that light returns slowly.
 *
 * Doubt is resolved towards heat. A suspect reading may raise y and counts as a hot sample, but
 * never cools; suspect, stale and lost readings alike count as blind time. A step faster than
 * max_k_per_s is left out until a second sample agrees with it: a real fault must not hide for
 * long. Before the first good reading the cap is low_level; the first good reading sets it without
 * a slew.
 */
#ifndef LAMPWARDEN_HEAT_H
#define LAMPWARDEN_HEAT_H

#include "reading.h"

#include <stdbool.h>
#include <stdint.h>

struct heat_rules {
    bool is_watched;     /* false: the fixture has no heat sensor, the cap is always 1 */
    double from_c, to_c; /* foldback band, to_c > from_c; usual 12 K wide */
    double low_level;    /* level at to_c, 0 < … ≤ 1 */
    double trip_c;       /* > to_c */
    double rearm_c;      /* < from_c */
    double filter_s;     /* time constant of the filter; usual 20 */
    double rise_per_s;   /* how fast the cap may rise, level per second; usual 0.1/60 */
    double lost_s;       /* how long without any valid sensor before it counts as hot; usual 30 */
    double max_k_per_s;  /* a faster step is a bad sample, not heat; usual 5 */
    int trips_to_latch;  /* ≥ 1 */
};

struct heat {
    double filtered_c; /* NaN before the first good reading */
    double cap;        /* 0 < … ≤ 1 */
    double max_c;      /* hottest good reading of the light day; NaN: none */
    int64_t seen_ns;   /* newest sample seen */
    double last_c;     /* newest sample believed; NaN: none yet */
    int64_t last_ns;   /* its time */
    double doubted_c;  /* a step too fast, waiting for a second sample that agrees; NaN: none */
    int64_t doubted_ns;
    double blind_s;  /* time without a valid sensor */
    int hot_samples; /* samples at or above trip_c in a row */
    int trips_today;
    bool is_tripped, is_latched;
};

/* HEAT_LATCHED stands for a trip, hot or blind, that stays until acknowledged. */
enum heat_event { HEAT_NOTHING, HEAT_TRIPPED, HEAT_TRIPPED_BLIND, HEAT_REARMED, HEAT_LATCHED };

void heat_reset(struct heat *heat);
void heat_new_day(struct heat *heat);     /* clears trips_today and max_c, keeps trip and latch */
void heat_acknowledge(struct heat *heat); /* releases the latch; still hot stays tripped */

/* hottest: the hottest valid sensor of the fixture (max over good readings), or a reading of the
 * best quality there is. After the step: cap and is_tripped rule. Returns what changed. */
enum heat_event heat_step(const struct heat_rules *rules, struct heat *heat,
                          const struct reading *hottest, double dt_s);

#endif
