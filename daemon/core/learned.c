/* SPDX-License-Identifier: Apache-2.0 */
#include "learned.h"

#include "units.h"

#include <math.h>

#define CLEARNESS_AT_FIRST 0.6
#define HEAT_SHARE         0.2 /* of the newest day */

void learned_init(struct learned *learned)
{
    *learned = (struct learned){.yesterday = (float)CLEARNESS_AT_FIRST};
    for (int hour = 0; hour < 24; hour++) {
        learned->heat_cap[hour] = 1.0F;
    }
}

/* NaN lies within nothing. */
static bool are_within(const float *values, int count, double low, double high)
{
    for (int i = 0; i < count; i++) {
        if (!((double)values[i] >= low && (double)values[i] <= high)) {
            return false;
        }
    }
    return true;
}

/* A ring that is not full yet was filled from its beginning. */
static bool is_ring(int count, int next, int size)
{
    return next >= 0 && next < size && (count == size || count == next);
}

bool learned_is_sane(const struct learned *learned)
{
    const double most = LEARNED_CLEARNESS_MOST;
    for (int row = 0; row < CLEARNESS_ROWS; row++) {
        if (!is_ring(learned->residual_count[row], learned->residual_next[row], CLEARNESS_RING) ||
            !are_within(learned->residual[row], CLEARNESS_RING, -most, most)) {
            return false;
        }
    }
    return is_ring(learned->day_count, learned->day_next, CLEARNESS_DAYS) &&
           are_within(learned->day, CLEARNESS_DAYS, 0.0, most) &&
           are_within(&learned->yesterday, 1, 0.0, most) &&
           are_within(learned->heat_cap, 24, 0.0, 1.0);
}

double learned_mean(const struct learned *learned)
{
    if (learned->day_count == 0) {
        return CLEARNESS_AT_FIRST;
    }
    double sum = 0.0;
    for (int i = 0; i < learned->day_count; i++) {
        sum += (double)learned->day[i];
    }
    return sum / learned->day_count;
}

/* The oldest makes room. */
static void push(float *ring, int size, int *count, int *next, double value)
{
    ring[*next] = (float)value;
    *next = (*next + 1) % size;
    if (*count < size) {
        *count += 1;
    }
}

void learned_push_day(struct learned *learned, double clearness)
{
    if (isnan(clearness)) {
        return;
    }
    double kept = units_clamp(clearness, 0.0, LEARNED_CLEARNESS_MOST);
    push(learned->day, CLEARNESS_DAYS, &learned->day_count, &learned->day_next, kept);
    learned->yesterday = (float)kept;
}

void learned_push_residual(struct learned *learned, int row, double residual)
{
    if (isnan(residual)) {
        return;
    }
    double kept = units_clamp(residual, -LEARNED_CLEARNESS_MOST, LEARNED_CLEARNESS_MOST);
    push(learned->residual[row], CLEARNESS_RING, &learned->residual_count[row],
         &learned->residual_next[row], kept);
}

static void copy_sorted(const float *values, int count, double *ret_sorted)
{
    for (int i = 0; i < count; i++) {
        int place = i;
        while (place > 0 && ret_sorted[place - 1] > (double)values[i]) {
            ret_sorted[place] = ret_sorted[place - 1];
            place--;
        }
        ret_sorted[place] = (double)values[i];
    }
}

bool learned_residuals(const struct learned *learned, int row, double ret[CLEARNESS_SCENARIOS])
{
    int count = learned->residual_count[row];
    if (count < LEARNED_RESIDUALS_LEAST) {
        return false;
    }
    double sorted[CLEARNESS_RING];
    copy_sorted(learned->residual[row], count, sorted);
    for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
        double position =
            units_clamp(count * (j + 0.5) / CLEARNESS_SCENARIOS - 0.5, 0.0, count - 1.0);
        int below = (int)position;
        int above = below + 1 < count ? below + 1 : below;
        ret[j] = sorted[below] + (position - below) * (sorted[above] - sorted[below]);
    }
    return true;
}

void learned_heat(struct learned *learned, const double lowest_cap[24])
{
    for (int hour = 0; hour < 24; hour++) {
        if (isnan(lowest_cap[hour])) {
            continue;
        }
        double usual = (double)learned->heat_cap[hour];
        usual += HEAT_SHARE * (units_clamp(lowest_cap[hour], 0.0, 1.0) - usual);
        learned->heat_cap[hour] = (float)units_clamp(usual, 0.0, 1.0);
    }
}
