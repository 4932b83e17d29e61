/* SPDX-License-Identifier: Apache-2.0 */
#include "settle.h"

#include "units.h"

#include <math.h>

void settle_begin(struct settle *settle, double now_s)
{
    *settle = (struct settle){.begun_s = now_s};
}

static const struct settle_sample *nth(const struct settle *settle, int index)
{
    return &settle->at[index % SETTLE_SAMPLES_MAX];
}

void settle_take(struct settle *settle, const struct settle_rules *rules,
                 const struct settle_sample *sample)
{
    const bool is_new =
        settle->count == 0 || sample->taken_s > nth(settle, settle->count - 1)->taken_s;
    if (is_new && isfinite(sample->umol) && sample->taken_s >= settle->begun_s + rules->least_s) {
        settle->at[settle->count++ % SETTLE_SAMPLES_MAX] = *sample;
    }
}

static int first_of(const struct settle *settle, const struct settle_rules *rules)
{
    return settle->count > rules->samples ? settle->count - rules->samples : 0;
}

bool settle_is_steady(const struct settle *settle, const struct settle_rules *rules)
{
    const int first = first_of(settle, rules);
    const int n = settle->count - first;
    if (n < rules->samples) {
        return false;
    }
    double mean_t = 0, mean = 0;
    for (int i = first; i < settle->count; i++) {
        mean_t += nth(settle, i)->taken_s / n;
        mean += nth(settle, i)->umol / n;
    }
    double tt = 0, ty = 0, yy = 0;
    for (int i = first; i < settle->count; i++) {
        const double t = nth(settle, i)->taken_s - mean_t;
        const double y = nth(settle, i)->umol - mean;
        tt += t * t;
        ty += t * y;
        yy += y * y;
    }
    const double slope = ty / tt;
    const double left = n > 2 ? fmax(0, yy - slope * ty) / (n - 2) : 0;
    const double span_s = nth(settle, settle->count - 1)->taken_s - nth(settle, first)->taken_s;
    const double trend = fabs(slope) * span_s;
    return trend <= fmax(2 * sqrt(left / tt) * span_s, SETTLE_CLOSE * fabs(mean));
}

void settle_mean_of(const struct settle *settle, const struct settle_rules *rules,
                    struct settle_mean *ret)
{
    const int first = first_of(settle, rules);
    const int n = settle->count - first;
    struct settle_mean mean = {UNITS_NONE, UNITS_NONE, UNITS_NONE, n};
    if (n > 0) {
        double umol = 0, watts = 0, squares = 0;
        for (int i = first; i < settle->count; i++) {
            umol += nth(settle, i)->umol / n;
            watts += nth(settle, i)->watts / n;
        }
        for (int i = first; i < settle->count; i++) {
            squares += (nth(settle, i)->umol - umol) * (nth(settle, i)->umol - umol);
        }
        mean = (struct settle_mean){umol, n > 1 ? sqrt(squares / (n - 1)) : 0, watts, n};
    }
    *ret = mean;
}
