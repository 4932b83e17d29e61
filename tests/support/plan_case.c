/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_case.h"

#include <math.h>

void plan_case_quadratic(struct lampcurve *ret, const struct plan_case_lamp *lamp)
{
    double level[LAMPCURVE_POINTS_MAX];
    double watts[LAMPCURVE_POINTS_MAX];
    for (int i = 0; i < LAMPCURVE_POINTS_MAX; i++) {
        const double way = i / (LAMPCURVE_POINTS_MAX - 1.0);
        const double u = lamp->min_level + (1 - lamp->min_level) * way * (0.5 + 0.5 * way);
        level[i] = u;
        watts[i] = lamp->full_w * (lamp->p0 + lamp->p1 * u + lamp->p2 * u * u);
    }
    lampcurve_of(ret, level, watts, LAMPCURVE_POINTS_MAX, 0);
}

void plan_case_curve(struct lampcurve *ret, struct prng *prng, double min_level, double fixed_w)
{
    double level[9] = {min_level};
    const int last = (int)prng_int(prng, 1, 8);
    double slope = prng_real(prng, 100, 900);
    const double off_w = fixed_w > 0 && prng_int(prng, 0, 1) ? prng_real(prng, 0, 10) : 0;
    double watts[9] = {off_w + fixed_w + slope * min_level};
    for (int i = 1; i <= last; i++) {
        level[i] = min_level + (1 - min_level) * i / last;
        watts[i] = watts[i - 1] + slope * (level[i] - level[i - 1]);
        slope += prng_real(prng, 5, 200);
    }
    level[last] = 1;
    lampcurve_of(ret, level, watts, last + 1, off_w);
}

struct plan_lamp plan_case_lamp(const struct lampcurve *curve, struct prng *prng)
{
    const bool has_ceiling = prng_int(prng, 0, 2) == 0;
    return (struct plan_lamp){
        .curve = curve,
        .full_umol = prng_real(prng, 80, 600),
        .full_share = prng_int(prng, 0, 1) ? 1 : prng_real(prng, 0.3, 1),
        .ceiling_umol = has_ceiling ? prng_real(prng, 200, 1000) : (double)INFINITY,
        .stays_lit = prng_int(prng, 0, 7) == 0,
    };
}

void plan_case_slots(struct plan_slots *ret, struct prng *prng, int count, int prices)
{
    ret->count = count;
    const double floor_umol = prng_int(prng, 0, 1) ? 0 : prng_real(prng, 10, 60);
    const double sun_umol = prng_real(prng, 0, 900);
    const int block = count / prices + 1;
    double price = 0;
    for (int i = 0; i < count; i++) {
        if (i % block == 0) {
            price = prng_real(prng, 0.05, 0.4);
        }
        const double sun = sun_umol * sin(3.141592653589793 * (2.0 * i / count - 0.5));
        const double dt_s = prng_int(prng, 0, 3) ? 1800 : prng_real(prng, 900, 1800);
        double cap = 1;
        if (prng_int(prng, 0, 3) == 0) {
            cap = prng_int(prng, 0, 2) ? prng_real(prng, 0, 1) : 0;
        }
        ret->slot[i] = (struct plan_slot){
            .dt_s = dt_s,
            .lit_s = prng_int(prng, 0, 7) ? dt_s : dt_s * prng_real(prng, 0, 1),
            .price_per_kwh = price,
            .cap = cap,
            .floor_umol = floor_umol,
            .clear_umol = sun > 0 ? sun : 0,
        };
    }
}
