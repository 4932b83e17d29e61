/* SPDX-License-Identifier: Apache-2.0 */
/* CPU time of one plan: 48 half hours, ten skies and the guard, under 3, 24 and 48 prices, while
 * the target goes from next to nothing to nearly out of reach. */
#include "cpu.h"
#include "plan_sky.h"

#include <math.h>
#include <stdio.h>

enum { SLOTS = 48, CORNERS = 20, TARGETS = 16, TURNS = 500 };

static void make_lamp(struct lampcurve *ret)
{
    double level[CORNERS];
    double watts[CORNERS];
    for (int i = 0; i < CORNERS; i++) {
        const double u = 0.1 + 0.9 * i / (CORNERS - 1);
        level[i] = u;
        watts[i] = 120 * (0.02 + 0.83 * u + 0.15 * u * u);
    }
    lampcurve_of(ret, level, watts, CORNERS, 0);
}

static void make_day(struct plan_slots *ret, int prices)
{
    ret->count = SLOTS;
    for (int i = 0; i < SLOTS; i++) {
        const double sun = cos((i + 0.5 - SLOTS / 2.0) * 3.14159 / 30);
        ret->slot[i] = (struct plan_slot){.dt_s = 1800,
                                          .lit_s = 1800,
                                          .price_per_kwh = 0.10 + 0.01 * (i * 7 % prices),
                                          .cap = 1,
                                          .clear_umol = 400 * fmax(0, sun)};
    }
}

/* Microseconds a plan; the sum of prices keeps the work from being optimised away. */
static double measure(int prices, double *sum)
{
    struct lampcurve curve;
    make_lamp(&curve);
    const struct plan_lamp lamp = {&curve, 300, 1, 1000, false};
    struct plan_slots slots;
    make_day(&slots, prices);
    double clear_mol = 0;
    for (int i = 0; i < SLOTS; i++) {
        clear_mol += slots.slot[i].clear_umol * slots.slot[i].dt_s * 1e-6;
    }
    struct scenarios skies = {.count = CLEARNESS_SCENARIOS, .mean = 0.5, .pessimistic = 0.08};
    for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
        skies.clearness[j] = 0.14 + 0.08 * j;
    }
    const double most_mol = 0.08 * clear_mol + plan_reach_mol(&lamp, &slots, 0.08);
    const double before_s = cpu_s();
    for (int turn = 0; turn < TURNS; turn++) {
        for (int i = 1; i <= TARGETS; i++) {
            const double mol = most_mol * i / TARGETS;
            const struct plan_sky sky = {&lamp, &slots, &skies, clear_mol, (double)INFINITY,
                                         mol,   mol,    false};
            *sum += plan_sky_price(&sky).price;
        }
    }
    return (cpu_s() - before_s) * 1e6 / (TURNS * TARGETS);
}

int main(void)
{
    static const int prices[] = {3, 24, 48};
    double sum = 0;
    for (size_t i = 0; i < sizeof prices / sizeof prices[0]; i++) {
        printf("plan.us.prices_%d %.1f us\n", prices[i], measure(prices[i], &sum));
    }
    return sum > 0 ? 0 : 1;
}
