/* SPDX-License-Identifier: Apache-2.0 */
#include "lampstep.h"

#include "units.h"

#define RATIO_LOW  0.5
#define RATIO_HIGH 2.0 /* beyond: a fault of another kind, and others tell of it */

static void put(struct lampstep_side *side, const struct lampstep_sample *sample)
{
    if (side->count == 0) {
        side->lamp = sample->lamp;
        side->first_ns = sample->taken_ns;
    }
    side->seen_umol[side->next] = sample->seen_umol;
    side->lamp_umol[side->next] = sample->lamp_umol;
    side->next = (side->next + 1) % LAMPSTEP_SAMPLES;
    side->count += side->count < LAMPSTEP_SAMPLES;
    side->last_ns = sample->taken_ns;
}

static double mean(const double *values, int count)
{
    double sum = 0;
    for (int i = 0; i < count; i++) {
        sum += values[i];
    }
    return sum / count;
}

/* Square of the standard error of the mean of what is not the lamp's. */
static double unrest(const struct lampstep_side *side)
{
    double rest[LAMPSTEP_SAMPLES];
    for (int i = 0; i < side->count; i++) {
        rest[i] = side->seen_umol[i] - side->lamp_umol[i];
    }
    const double middle = mean(rest, side->count);
    double squares = 0;
    for (int i = 0; i < side->count; i++) {
        squares += (rest[i] - middle) * (rest[i] - middle);
    }
    return squares / (side->count - 1) / side->count;
}

/* Seen over promised; NaN: nothing that could be relied on. */
static double judge(const struct lampstep_side *before, const struct lampstep_side *after)
{
    const double lamp =
        mean(after->lamp_umol, after->count) - mean(before->lamp_umol, before->count);
    const double seen =
        mean(after->seen_umol, after->count) - mean(before->seen_umol, before->count);
    if (!(fabs(lamp) >= LAMPSTEP_UMOL) ||
        !(sqrt(unrest(before) + unrest(after)) <= LAMPSTEP_UNREST * fabs(lamp))) {
        return UNITS_NONE;
    }
    const double ratio = seen / lamp;
    return ratio >= RATIO_LOW && ratio <= RATIO_HIGH ? ratio : UNITS_NONE;
}

double lampstep_ratio(const struct lampstep *watch)
{
    if (watch->count < LAMPSTEP_KEPT) {
        return UNITS_NONE;
    }
    float sorted[LAMPSTEP_KEPT] = {0};
    for (int i = 0; i < LAMPSTEP_KEPT; i++) {
        int place = i;
        for (; place > 0 && sorted[place - 1] > watch->ratio[i]; place--) {
            sorted[place] = sorted[place - 1];
        }
        sorted[place] = watch->ratio[i];
    }
    return (double)sorted[LAMPSTEP_KEPT / 2];
}

static bool learn(struct lampstep *watch, double ratio, int64_t light_day)
{
    watch->day[watch->next] = (int32_t)light_day;
    watch->ratio[watch->next] = (float)ratio;
    watch->next = (watch->next + 1) % LAMPSTEP_KEPT;
    watch->count += watch->count < LAMPSTEP_KEPT;
    const double told = watch->told > 0 ? watch->told : 1;
    const double now = lampstep_ratio(watch);
    if (!(fabs(now - told) >= LAMPSTEP_DRIFT)) {
        return false; /* also while it is not known */
    }
    watch->told = now;
    return true;
}

bool lampstep_days(const struct lampstep *watch, int64_t *ret_first, int64_t *ret_last)
{
    if (watch->count == 0) {
        return false;
    }
    const int newest = (watch->next + LAMPSTEP_KEPT - 1) % LAMPSTEP_KEPT;
    *ret_first = watch->day[watch->count < LAMPSTEP_KEPT ? 0 : watch->next];
    *ret_last = watch->day[newest];
    return true;
}

static void begin(struct lampstep_side *side, const struct lampstep_sample *sample)
{
    *side = (struct lampstep_side){.lamp = LAMPSTEP_MOVING};
    put(side, sample);
}

bool lampstep_step(struct lampstep *watch, struct lampstep_sight *sight,
                   const struct lampstep_sample *sample)
{
    struct lampstep_side *before = &sight->before;
    struct lampstep_side *after = &sight->after;
    const struct lampstep_side *newest = after->count > 0 ? after : before;
    if (sample->lamp == LAMPSTEP_MOVING ||
        (newest->count > 0 && sample->taken_ns <= newest->last_ns)) {
        return false;
    }
    const double away_s = units_seconds(sample->taken_ns - newest->last_ns);
    if (newest->count == 0 || away_s > LAMPSTEP_WITHIN_S) {
        after->count = after->next = 0;
        begin(before, sample);
        return false;
    }
    if (after->count == 0 && sample->lamp == before->lamp) {
        put(before, sample);
        return false;
    }
    if (after->count > 0 && sample->lamp != after->lamp) {
        /* It changed again before it was judged. */
        *before = *after;
        after->count = after->next = 0;
    }
    put(after, sample);
    if (after->count < LAMPSTEP_SAMPLES) {
        return false;
    }
    const double ratio = before->count >= LAMPSTEP_LEAST ? judge(before, after) : UNITS_NONE;
    *before = *after;
    after->count = after->next = 0;
    return units_known(ratio) && learn(watch, ratio, sample->light_day);
}
