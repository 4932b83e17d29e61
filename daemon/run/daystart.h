/* SPDX-License-Identifier: Apache-2.0 */
/*
 * When the light day of a space starts if its configuration does not say so, and why.
 *
 * Under daylight the hours before a fresh day's sun is known are the risk, and the cheap hours of
 * the night the prize: a light day that starts behind them has them last, and buys in them what the
 * sun left open. Rehearsed on three years of daylight (36 to 55 N, lit 04:00 to 22:00): cost over
 * the cheapest possible in hindsight, the worst of the three, and days missed.
 *
 *     start              00      06      07      08      09
 *     cheap until 05   1.082   1.029   1.022   1.025   1.043 (1)
 *     cheap until 06   1.115   1.034   1.024   1.027   1.048 (1)
 *     cheap until 08   1.187   1.082   1.047   1.031   1.058 (2)
 *     cheap until 09   1.212   1.099   1.059   1.046   1.069 (2)
 *     market year      1.135   1.061   1.047   1.055   1.099 (2)
 *     one price        1.020   1.010   1.009   1.013   1.033 (1)
 *
 * Lit from 06:00 on, 07:00 still costs 1.5 to 3 % less than midnight. Where clocks have the sun
 * highest at 13:40 all is best at 09:00. Hence an hour behind the end of the cheap block, but five
 * to four hours before the sun is highest, and five where no block is known. The block ends by the
 * clock on the wall and is read as the site's fixed time, whatever the season. All this hangs on
 * the place and on the rules of the tariff as a whole, never on the date: a light day is 24 h long.
 */
#ifndef LAMPWARDEN_DAYSTART_H
#define LAMPWARDEN_DAYSTART_H

#include "space.h"

#include <stddef.h>

#define DAYSTART_WORDS_MAX 1024 /* more stages than fit are left out */

enum daystart_reason {
    DAYSTART_GIVEN,       /* in the configuration */
    DAYSTART_INDOORS,     /* no sun to wait for: midnight, or a moment at which no stage is lit */
    DAYSTART_LATE,        /* no stage is lit in the hours before: nothing to put last; as indoors */
    DAYSTART_CHEAP_BLOCK, /* behind the tariff's cheap block */
    DAYSTART_SUN,         /* by the sun alone: no such block is known */
};

struct daystart {
    enum daystart_reason reason;
    int32_t start_s;     /* second of the day at the fixed offset, 0 … 86399 */
    int32_t cheap_end_s; /* of the block; −1: none */
    int32_t wanted_s;    /* late: the start for which no stage is lit early enough; else −1 */
};

/* When the cheapest block of the rules that ends between midnight and 09:00 ends: second of the
 * civil day, in the mean of weekdays and months; −1: there is none. */
int32_t daystart_cheap_end(const struct tariff *tariff);

/* By stages, daylight, the site's sun and that end (−1: none). rules->day.start_s is not looked at.
 */
struct daystart daystart_of(const struct space_rules *rules, int32_t cheap_end_s);

/* "light day from 07:00: …", with the two pieces into which it cuts a stage's lit hours. */
void daystart_words(const struct daystart *start, const struct space_rules *rules, char *buffer,
                    size_t size);

#endif
