/* SPDX-License-Identifier: Apache-2.0 */
#include "lamprig.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

void lamprig_defaults(struct lamprig *rig, uint64_t seed)
{
    memset(rig, 0, sizeof *rig);
    bench_setup_defaults(&rig->setup);
    rig->setup.seed = seed;
    rig->setup.fixture_count = rig->setup.canopy_count = 1;
    bench_fixture_defaults(&rig->setup.fixtures[0], 400, 300);
    rig->rules = (struct ceiling_rules){.drive_max = 1,
                                        .drive_floor = 0.3,
                                        .collapse = 0.3,
                                        .confirm_s = 6,
                                        .settle_s = 5,
                                        .rest_s = 60,
                                        .long_rest_s = 1800,
                                        .step = 0.05,
                                        .tries = 3};
    const struct dimcurve_point line[] = {{0, 0.01, 5}, {1, 1, 300}};
    assert_int_equal(dimcurve_init(&rig->promise, line, 2, NULL), DIMCURVE_OK);
    rig->promise_umol = 400;
    rig->min_off_s = rig->min_on_s = 60;
    rig->has_meter = rig->has_heat = true;
    rig->held_drive = 2;
    rig->sample_s = 1;
    rig->daylight_period_s = 3600;
}

void lamprig_start(struct lamprig *rig)
{
    rig->model = bench_model_create(&rig->setup);
    assert_non_null(rig->model);
    ceiling_reset(&rig->ceiling, &rig->rules);
    rig->contact_s = rig->min_off_s;
    rig->umol = (double)NAN;
}

void lamprig_stop(struct lamprig *rig)
{
    bench_model_destroy(rig->model);
}

static void move(struct lamprig *rig, const struct lampwish *wish)
{
    const bool rests = ceiling_is_resting(&rig->ceiling);
    const bool wants = wish->is_closed && !rests;
    const double least_s = rig->is_closed ? rig->min_on_s : rig->min_off_s;
    rig->contact_s++;
    if (wants != rig->is_closed && (rig->contact_s >= least_s || rests)) {
        rig->is_closed = wants;
        rig->contact_s = rig->steady_s = 0;
    }
    rig->drive = fmin(fmin(wish->drive, rig->ceiling.drive_cap), rig->held_drive);
    if (!rig->is_closed) {
        rig->drive = 0;
    }
    if (fabs(rig->drive - rig->steady_drive) > 0.02) {
        rig->steady_drive = rig->drive;
        rig->steady_s = 0;
    }
    rig->steady_s++;
    bench_model_set_switch(rig->model, 0, rig->is_closed);
    bench_model_set_drive(rig->model, 0, rig->drive);
}

static void watch(struct lamprig *rig, double watts)
{
    const double level = dimcurve_level(&rig->promise, rig->drive);
    const double expected_w = dimcurve_watts(&rig->promise, rig->drive);
    const bool sees = rig->is_closed && rig->taken_s == rig->now_s;
    const struct ceiling_evidence evidence = {
        .drive = rig->drive,
        .is_steady = rig->is_closed && level > 0 && rig->steady_s >= rig->rules.settle_s,
        .light_ratio = sees ? rig->umol / (level * rig->promise_umol) : (double)NAN,
        .power_ratio = rig->has_meter && rig->is_closed ? watts / expected_w : (double)NAN,
    };
    const enum ceiling_event event = ceiling_step(&rig->rules, &rig->ceiling, &evidence, 1);
    rig->trips += event == CEILING_TRIPPED || event == CEILING_GAVE_UP;
}

void lamprig_second(struct lamprig *rig, const struct lampwish *wish, struct lampsight *ret)
{
    double watts = (double)NAN, heat_c = (double)NAN, umol = (double)NAN;
    if (wish->acknowledges) {
        ceiling_acknowledge(&rig->ceiling, &rig->rules);
    }
    move(rig, wish);
    const double wave = sin(rig->now_s * 2 * 3.14159265358979 / rig->daylight_period_s);
    bench_model_set_daylight(rig->model, 0, rig->daylight_umol + rig->daylight_swing * wave);
    bench_model_step(rig->model, 1);
    rig->now_s++;
    if (fmod(rig->now_s, rig->sample_s) < 0.5 && bench_model_ppfd(rig->model, 0, &umol) == 0 &&
        isfinite(umol)) {
        rig->umol = umol;
        rig->taken_s = rig->now_s;
    }
    (void)bench_model_power(rig->model, 0, &watts);
    (void)bench_model_heat(rig->model, 0, &heat_c);
    watch(rig, watts);
    *ret = (struct lampsight){
        .now_s = rig->now_s,
        .umol = rig->umol,
        .taken_s = rig->taken_s,
        .watts = rig->has_meter ? watts : (double)NAN,
        .heat_c = rig->has_heat ? heat_c : (double)NAN,
        .drive = rig->drive,
        .is_closed = rig->is_closed,
        .has_tripped = ceiling_is_resting(&rig->ceiling),
    };
}
