/* SPDX-License-Identifier: Apache-2.0 */
/*
 * When the light day of a space starts if its configuration does not say so, and why.
 *
 * Under daylight the hours before a fresh day's sun is known are the risk, and the cheap hours of
 * the night the prize: a light day that starts behind them has them last, and buys in them what the
 * sun left open. Rehearsed on three years of daylight (36 to 55 N, window 04:00 to 22:00, cheap
 * until 06:00), cost over the cheapest possible in hindsight:
 *
 *     start           00      05      06      07      08      09
 *     cheap night   1.067   1.048   1.030   1.021   1.016   1.015  to
 *                   1.115   1.071   1.034   1.024   1.027   1.048  (1 day missed)
 *     market year   1.135   1.088   1.061   1.047   1.055   1.099  at most (2 days missed)
 *     one price     1.020   1.013   1.010   1.009   1.013   1.033  at most
 *
 * Hence an hour behind the end of the cheap block, 08:00 at the latest, and 07:00 where no block is
 * known. It hangs on the rules of the tariff as a whole, never on the date: a light day is 24 h
 * long. The block ends by the clock on the wall; read as fixed (winter) time that is an hour late
 * in summer, which the table forgives.
 */
#ifndef LAMPWARDEN_DAYSTART_H
#define LAMPWARDEN_DAYSTART_H

#include "space.h"

#include <stddef.h>

#define DAYSTART_WORDS_MAX 448

enum daystart_reason {
    DAYSTART_GIVEN,       /* in the configuration */
    DAYSTART_INDOORS,     /* no sun to wait for: midnight, or a moment at which no stage is lit */
    DAYSTART_LATE,        /* no stage is lit before the night's end: nothing to put last */
    DAYSTART_CHEAP_BLOCK, /* behind the tariff's cheap block */
    DAYSTART_USUAL_NIGHT, /* behind 06:00, as no such block is known */
};

struct daystart {
    enum daystart_reason reason;
    int32_t start_s;     /* second of the day at the fixed offset, 0 … 86399 */
    int32_t night_end_s; /* what it was reckoned from; −1: nothing */
};

/* When the cheapest block of the rules that ends between midnight and 09:00 ends: second of the
 * civil day, in the mean of weekdays and months; −1: there is none. */
int32_t daystart_cheap_end(const struct tariff *tariff);

/* By stages, daylight and that end (−1: none). rules->day.start_s is not looked at. */
struct daystart daystart_of(const struct space_rules *rules, int32_t cheap_end_s);

/* "light day from 07:00: …", with the two pieces into which it cuts a stage's lit hours. */
void daystart_words(const struct daystart *start, const struct space_rules *rules, char *buffer,
                    size_t size);

#endif
