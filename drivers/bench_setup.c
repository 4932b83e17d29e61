/* SPDX-License-Identifier: Apache-2.0 */
/* Usual values of the bench: engineering estimates of a bar fixture of 600 W, scaled by its watts.
 */
#include "bench_model.h"

#include "err.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#define USUAL_HEAT_SHARE                                                                           \
    0.4136 /* 0.94 of the watts reach the board, 0.56 of those leave as light */
#define USUAL_600W_HEAT (USUAL_HEAT_SHARE * 600)

const struct bench_curve_point bench_curve[BENCH_CURVE_POINTS] = {
    {0.00, 0.000, 0.0070}, {0.08, 0.100, 0.1045}, {0.15, 0.160, 0.1566}, {0.25, 0.255, 0.2414},
    {0.35, 0.355, 0.3336}, {0.45, 0.460, 0.4335}, {0.55, 0.570, 0.5418}, {0.70, 0.745, 0.7216},
    {0.85, 0.910, 0.8995}, {0.95, 1.000, 1.0000}, {1.00, 1.000, 1.0000},
};

void bench_setup_defaults(struct bench_setup *setup)
{
    *setup = (struct bench_setup){.seed = 1,
                                  .ppfd_noise = 0.005,
                                  .ppfd_quantum = 0.1,
                                  .heat_noise_c = 0.15,
                                  .room_c = 22,
                                  .room_swing_c = 2,
                                  .room_k_per_w = 0.002,
                                  .humidity_percent = 60};
}

void bench_fixture_defaults(struct bench_fixture_setup *fixture, double full_umol,
                            double full_watts)
{
    double heat_w = USUAL_HEAT_SHARE * full_watts;
    *fixture = (struct bench_fixture_setup){.point_count = BENCH_CURVE_POINTS,
                                            .full_umol = full_umol,
                                            .turn_on_margin = 0.02,
                                            .warm_droop = 0.001,
                                            .trip_drive = 2,
                                            .trip_cold_c = (double)INFINITY,
                                            .heat_w = heat_w,
                                            .r35_k_per_w = 0.145 * USUAL_600W_HEAT / heat_w,
                                            .c_j_per_k = 5400 * heat_w / USUAL_600W_HEAT,
                                            .sensor_lag_s = 30};
    for (int i = 0; i < BENCH_CURVE_POINTS; i++) {
        fixture->drive[i] = bench_curve[i].drive;
        fixture->level[i] = bench_curve[i].level;
        fixture->watts[i] = bench_curve[i].watts_share * full_watts;
    }
}

int bench_setup_layout(struct bench_setup *setup, const char *layout, double full_umol,
                       double full_watts, struct err *err)
{
    static const char digits[] = "0123456789";
    int fixtures = 0, canopies = 0, here = 0;
    setup->fixture_count = setup->canopy_count = 0;
    for (const char *at = layout;; at++) {
        const char *digit = *at ? strchr(digits, *at) : NULL;
        if (digit) {
            here = here * 10 + (int)(digit - digits);
        } else if ((*at != ',' && *at != '\0') || here == 0) {
            return err_fail(
                err, EINVAL,
                "layout \"%.64s\" is not of the form \"2,1,1\": fixtures over each canopy", layout);
        }
        if (fixtures + here > BENCH_FIXTURES_MAX) {
            return err_fail(err, ERANGE, "layout \"%.64s\" has more than %d fixtures", layout,
                            BENCH_FIXTURES_MAX);
        }
        if (digit) {
            continue;
        }
        for (int i = 0; i < here; i++) {
            bench_fixture_defaults(&setup->fixtures[fixtures], full_umol, full_watts);
            setup->fixtures[fixtures++].canopy = canopies;
        }
        canopies++;
        here = 0;
        if (*at == '\0') {
            break;
        }
    }
    setup->fixture_count = fixtures;
    setup->canopy_count = canopies;
    return 0;
}

bool bench_setup_is_usable(const struct bench_setup *setup)
{
    bool good = setup->fixture_count >= 0 && setup->fixture_count <= BENCH_FIXTURES_MAX &&
                setup->canopy_count >= 0 && setup->canopy_count <= BENCH_CANOPIES_MAX;
    for (int i = 0; good && i < setup->fixture_count; i++) {
        const struct bench_fixture_setup *fixture = &setup->fixtures[i];
        good = fixture->canopy >= 0 && fixture->canopy < setup->canopy_count &&
               fixture->point_count >= 1 && fixture->point_count <= BENCH_POINTS_MAX &&
               fixture->r35_k_per_w > 0 && fixture->c_j_per_k > 0;
    }
    return good;
}
