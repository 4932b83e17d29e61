/* SPDX-License-Identifier: Apache-2.0 */
#include "learned.h"

#include "units.h"

#include <math.h>

#define CLEARNESS_AT_FIRST 0.6
#define HEAT_RISE          0.2 /* share of the newest day where heat took less than usual */
#define HEAT_LEAST_S       600 /* a lamp that burned for less was not warm yet */

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

static double new_cap(double usual, double seen, double highest_level)
{
    if (seen <= usual) {
        return seen;
    }
    const double shown = 0.5 * (seen + fmin(highest_level, seen));
    return shown > usual ? usual + HEAT_RISE * (shown - usual) : usual;
}

void learned_heat(struct learned *learned, const struct learned_hours *day)
{
    for (int hour = 0; hour < 24; hour++) {
        if (day->asked_s[hour] >= HEAT_LEAST_S) {
            const double seen = units_clamp(day->cap_s[hour] / day->asked_s[hour], 0.0, 1.0);
            const double usual = (double)learned->heat_cap[hour];
            learned->heat_cap[hour] = (float)new_cap(usual, seen, day->highest_level[hour]);
        }
    }
}
