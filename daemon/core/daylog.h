/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a light day brought, quarter hour by quarter hour, as far as the cheapest possible in
 * hindsight needs it: the daylight that came and the lamp that the passing faults left. Kept over
 * restarts with the state of the space.
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
    uint16_t seconds[DAYLOG_SLOTS];    /* that were seen; 0: none, then no daylight and cap 1 */
};

void daylog_open(struct daylog *log);

/* offset_s: of the step's end within the light day; what lies outside it is left out, and so is a
 * step that is not a number. Whole seconds are counted: a step holds for those that begin in it, so
 * that shorter steps are samples. */
void daylog_step(struct daylog *log, double offset_s, double dt_s, double daylight_umol,
                 double cap);

/* False when a value cannot be true (a damaged record). */
bool daylog_is_sane(const struct daylog *log);

#endif
