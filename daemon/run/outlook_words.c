/* SPDX-License-Identifier: Apache-2.0 */
#include "outlook_words.h"

#include "words.h"

#define SOME_MOL   0.005 /* less is printed as 0.00 */
#define SOME_LEVEL 0.02  /* less is the rest of a lamp that went dark */

static const char *const why_words[OUTLOOK_WHY_COUNT] = {
    [OUTLOOK_BY_LIMITER] = "plan",
    [OUTLOOK_EVEN] = "one level: one price in the lamps' hours",
    [OUTLOOK_BLIND] = "one level: nobody sees the sky",
    [OUTLOOK_SUPPLY] = "the power that all spaces share is short",
    [OUTLOOK_FLOOR] = "the stage's least light",
    [OUTLOOK_CHEAP] = "cheap hour",
    [OUTLOOK_USUAL] = "usual price",
    [OUTLOOK_DEAR] = "dear hour, still needed",
    [OUTLOOK_LOWEST] = "lowest level: cheaper hours give the rest",
    [OUTLOOK_WAITS] = "waits for a cheaper hour",
    [OUTLOOK_SUN_DUE] = "waits: the sun is likely to be cheaper",
    [OUTLOOK_SUN_ENOUGH] = "daylight suffices",
    [OUTLOOK_FILLS] = "fills up what daylight leaves",
    [OUTLOOK_NEEDED] = "needed whatever it costs: the sky may stay dark",
};

const char *outlook_words(const struct outlook_row *row)
{
    if (row->why != OUTLOOK_BY_LIMITER) {
        return why_words[row->why];
    }
    if (row->limiter == LIMITER_NIGHT && row->daylight_mol >= SOME_MOL) {
        return "outside the lamps' hours";
    }
    if (row->limiter == LIMITER_TARGET_MET && row->level >= SOME_LEVEL) {
        return "target met: the lowest level keeps the day's length";
    }
    if (row->limiter == LIMITER_FULL_LIGHT) {
        return "all there is";
    }
    if (row->limiter == LIMITER_SENSOR_LOST) {
        return "no light reading: the stage's fixed level";
    }
    if (row->limiter == LIMITER_OUTPUT_FAULT) {
        return "an output does not obey";
    }
    return words_limiter(row->limiter);
}
