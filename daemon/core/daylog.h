/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a light day brought, quarter hour by quarter hour, as far as the cheapest possible in
 * hindsight needs it: the daylight that came, the lamp that the passing faults left, what energy
 * cost; and how far the lamp that burned was the one of the configuration. Plain data, kept over
 * restarts.
 */
#ifndef LAMPWARDEN_DAYLOG_H
#define LAMPWARDEN_DAYLOG_H

#include <stdbool.h>
#include <stdint.h>

#define DAYLOG_SLOTS  96
#define DAYLOG_SLOT_S 900

struct daylog {
    float daylight_umol[DAYLOG_SLOTS]; /* mean */
    float cap[DAYLOG_SLOTS];           /* mean level that heat, trips and faults left, 0 … 1 */
    float price_per_kwh[DAYLOG_SLOTS]; /* mean */
    uint16_t seconds[DAYLOG_SLOTS];    /* that were seen; 0: none, then no daylight and cap 1 */
    double lamp_mol, promised_mol;     /* of the burning lamp: as booked, by the dimming curves */
    double lamp_kwh, promised_kwh;     /* the same: as booked, by the curves */
    double standby_cost;               /* of what is drawn whether the lamp burns or not */
};

/* What held through a step. */
struct daylog_step {
    double daylight_umol, cap, price_per_kwh;
};

void daylog_open(struct daylog *log);

/* offset_s: of the step's end within the light day; what lies outside it is left out, and so is a
 * step that is not a number. Whole seconds are counted: a step holds for those that begin in it, so
 * that shorter steps are samples. */
void daylog_book(struct daylog *log, double offset_s, double dt_s, const struct daylog_step *step);

int daylog_seen_s(const struct daylog *log);

/* Light, and watts, of the burning lamp over what its curves promise; 1 when it hardly burned, NaN
 * when it is too far off to be the same lamp. */
double daylog_light_ratio(const struct daylog *log);
double daylog_watts_ratio(const struct daylog *log);

/* False when a value cannot be true (a damaged record). */
bool daylog_is_sane(const struct daylog *log);

#endif
