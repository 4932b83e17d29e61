/* SPDX-License-Identifier: Apache-2.0 */
#include "daylog.h"

#include "units.h"

#include <math.h>

#define DAY_S (DAYLOG_SLOTS * DAYLOG_SLOT_S)

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

void daylog_step(struct daylog *log, double offset_s, double dt_s, double daylight_umol, double cap)
{
    if (!(dt_s > 0.0) || !isfinite(offset_s) || !(daylight_umol >= 0.0) ||
        !isfinite(daylight_umol) || isnan(cap)) {
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
        blend(&log->daylight_umol[slot], daylight_umol, share);
        blend(&log->cap[slot], units_clamp(cap, 0.0, 1.0), share);
        log->seconds[slot] = (uint16_t)total;
        second += count;
    }
}

bool daylog_is_sane(const struct daylog *log)
{
    for (int slot = 0; slot < DAYLOG_SLOTS; slot++) {
        if (!(log->daylight_umol[slot] >= 0.0F && isfinite(log->daylight_umol[slot])) ||
            !(log->cap[slot] >= 0.0F && log->cap[slot] <= 1.0F) ||
            log->seconds[slot] > DAYLOG_SLOT_S) {
            return false;
        }
    }
    return true;
}
