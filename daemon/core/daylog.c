/* SPDX-License-Identifier: Apache-2.0 */
#include "daylog.h"

#include "units.h"

#include <math.h>

#define DAY_S (DAYLOG_SLOTS * DAYLOG_SLOT_S)

#define RATIO_LOW  0.5 /* beyond it is a fault, not age or warmth */
#define RATIO_HIGH 1.5
#define RATIO_MOL  0.05 /* less burning says little of the lamp */
#define RATIO_KWH  0.005

void daylog_open(struct daylog *log)
{
    *log = (struct daylog){.seconds = {0}};
    for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
        log->cap[slot] = 1.0F;
    }
}

/* Whole seconds since the day began; ends that differ by rounding only fall together. */
static int whole_second(double offset_s)
{
    return (int)floor(units_clamp(offset_s + 1e-6, 0.0, DAY_S));
}

static void blend(float *mean, double value, double share)
{
    *mean = (float)((double)*mean + share * (value - (double)*mean));
}

static bool is_number(const struct daylog_step *step)
{
    return step->daylight_umol >= 0.0 && isfinite(step->daylight_umol) && !isnan(step->cap) &&
           isfinite(step->price_per_kwh);
}

void daylog_book(struct daylog *log, double offset_s, double dt_s, const struct daylog_step *step)
{
    if (!(dt_s > 0.0) || !isfinite(offset_s) || !is_number(step)) {
        return;
    }
    int end = whole_second(offset_s);
    for (int second = whole_second(offset_s - dt_s); second < end;) {
        int slot = second / DAYLOG_SLOT_S;
        int slot_end = (slot + 1) * DAYLOG_SLOT_S;
        int count = (end < slot_end ? end : slot_end) - second;
        /* A clock that was set back brings seconds twice: no slot has more than its own. */
        int total = log->seconds[slot] + count;
        total = total < DAYLOG_SLOT_S ? total : DAYLOG_SLOT_S;
        double share = (double)count / total;
        blend(&log->daylight_umol[slot], step->daylight_umol, share);
        blend(&log->cap[slot], units_clamp(step->cap, 0.0, 1.0), share);
        blend(&log->price_per_kwh[slot], step->price_per_kwh, share);
        log->seconds[slot] = (uint16_t)total;
        second += count;
    }
}

int daylog_seen_s(const struct daylog *log)
{
    int sum = 0;
    for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
        sum += log->seconds[slot];
    }
    return sum;
}

static double ratio_of(double booked, double promised, double least)
{
    if (!(promised > least)) {
        return 1.0;
    }
    const double ratio = booked / promised;
    return ratio >= RATIO_LOW && ratio <= RATIO_HIGH ? ratio : UNITS_NONE;
}

double daylog_light_ratio(const struct daylog *log)
{
    return ratio_of(log->lamp_mol, log->promised_mol, RATIO_MOL);
}

double daylog_watts_ratio(const struct daylog *log)
{
    return ratio_of(log->lamp_kwh, log->promised_kwh, RATIO_KWH);
}

static bool is_sum(double value)
{
    return value >= 0.0 && isfinite(value);
}

bool daylog_is_sane(const struct daylog *log)
{
    for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
        if (!(log->daylight_umol[slot] >= 0.0F && isfinite(log->daylight_umol[slot])) ||
            !(log->cap[slot] >= 0.0F && log->cap[slot] <= 1.0F) ||
            !isfinite(log->price_per_kwh[slot]) || log->seconds[slot] > DAYLOG_SLOT_S) {
            return false;
        }
    }
    return is_sum(log->lamp_mol) && is_sum(log->promised_mol) && is_sum(log->lamp_kwh) &&
           is_sum(log->promised_kwh) && isfinite(log->standby_cost);
}
