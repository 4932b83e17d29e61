/* SPDX-License-Identifier: Apache-2.0 */
#include "sweep_result.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROUNDS     3 /* daylight and droop ask for each other */
#define LAST_LOOKS 4
#define WARMER_K   3.0 /* less tells no droop per kelvin */

/* A value over time, straight between its points, flat beyond them. */
struct track {
    int count;
    double time_s[SWEEP_STEPS_MAX], value[SWEEP_STEPS_MAX];
};

struct tracks {
    struct track dark, gain;
};

static double at(const struct track *track, double time_s)
{
    if (time_s <= track->time_s[0]) {
        return track->value[0];
    }
    for (int i = 1; i < track->count; i++) {
        if (time_s <= track->time_s[i]) {
            const double width = track->time_s[i] - track->time_s[i - 1];
            const double share = width > 0 ? (time_s - track->time_s[i - 1]) / width : 1;
            return track->value[i - 1] + (track->value[i] - track->value[i - 1]) * share;
        }
    }
    return track->value[track->count - 1];
}

static void add(struct track *track, double time_s, double value)
{
    track->time_s[track->count] = time_s;
    track->value[track->count++] = value;
}

static bool is_look_back(const struct sweep_step *step)
{
    return step->kind == SWEEP_REFERENCE || step->kind == SWEEP_WARMING;
}

/* The look back at the end of the warm-up; −1: it never came to that. */
static int warm_step(const struct sweep *sweep)
{
    int warm = -1;
    for (int i = 0; i < sweep->count && sweep->steps[i].kind != SWEEP_UP; i++) {
        if (sweep->steps[i].kind == SWEEP_REFERENCE) {
            warm = i;
        }
    }
    return warm;
}

static void follow(const struct sweep *sweep, int warm, struct tracks *tracks)
{
    struct tracks next = {0};
    double cold = 1; /* what it gave when its light at drive 0 was measured: at the first look */
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (step->kind == SWEEP_DARK) {
            add(&next.dark, step->time_s, step->umol);
        } else if (step->kind == SWEEP_LOW) {
            const double gain = tracks->gain.count > 0 ? at(&tracks->gain, step->time_s) : 1;
            cold = next.dark.count <= 1 ? gain : cold;
            add(&next.dark, step->time_s, step->umol - gain / cold * sweep->low_umol);
        }
    }
    const struct sweep_step *then = &sweep->steps[warm];
    const double warm_umol = then->umol - at(&next.dark, then->time_s);
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (is_look_back(step)) {
            add(&next.gain, step->time_s, (step->umol - at(&next.dark, step->time_s)) / warm_umol);
        }
    }
    *tracks = next;
}

/* Light of a step as the warm lamp would have given it; dark is 0. */
static double lamp_umol(const struct sweep *sweep, const struct sweep_step *step,
                        const struct tracks *tracks)
{
    const double seen = step->umol - at(&tracks->dark, step->time_s);
    const double noise = 4 * step->spread_umol / sqrt(fmax(step->samples, 1));
    return seen > fmax(DIMFIT_DARK_SHARE * sweep->full_umol, noise)
               ? seen / at(&tracks->gain, step->time_s)
               : 0;
}

static void take_readings(const struct sweep *sweep, const struct tracks *tracks,
                          struct sweep_result *ret)
{
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (step->kind == SWEEP_DARK || step->kind == SWEEP_WARMING) {
            continue;
        }
        ret->step_of[ret->count] = i;
        ret->readings[ret->count++] = (struct dimfit_reading){
            .drive = step->drive,
            .umol = lamp_umol(sweep, step, tracks),
            .watts = step->watts,
            .weight = step->samples,
        };
        ret->unsteady += !step->is_steady && step->is_lit && step->kind != SWEEP_LOW;
    }
}

/* Sums of a straight line of light over temperature. */
struct line {
    double n, x, y, xx, xy;
};

static void add_to_line(struct line *line, double x, double y)
{
    line->n += 1;
    line->x += x;
    line->y += y;
    line->xx += x * x;
    line->xy += x * y;
}

/* One look is noisy, so all of them speak: by their line over the heatsink where it is known, by
 * the mean of the last few where it is not. */
static void find_droop(const struct sweep *sweep, const struct track *gain,
                       struct sweep_result *ret)
{
    struct line line = {0};
    int looks = 0;
    double last = 0;
    ret->cold_c = ret->hot_c = ret->droop_per_k = UNITS_NONE;
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (!is_look_back(step)) {
            continue;
        }
        ret->cold_c = looks == 0 ? step->heat_c : fmin(ret->cold_c, step->heat_c);
        ret->hot_c = looks == 0 ? step->heat_c : fmax(ret->hot_c, step->heat_c);
        if (units_known(step->heat_c) && units_known(ret->cold_c)) {
            add_to_line(&line, step->heat_c - ret->cold_c, gain->value[looks]);
        }
        last += looks >= gain->count - LAST_LOOKS ? gain->value[looks] / LAST_LOOKS : 0;
        looks++;
    }
    ret->droop = looks > LAST_LOOKS ? 1 - last / gain->value[0] : 0;
    if (line.n == looks && looks > LAST_LOOKS && ret->hot_c - ret->cold_c >= WARMER_K) {
        const double slope =
            (line.n * line.xy - line.x * line.y) / (line.n * line.xx - line.x * line.x);
        const double cold = (line.y - slope * line.x) / line.n;
        ret->droop_per_k = -slope / cold;
        ret->droop = ret->droop_per_k * (ret->hot_c - ret->cold_c);
    }
}

static void find_rest(const struct sweep *sweep, const struct tracks *tracks,
                      struct sweep_result *ret)
{
    const bool has_zone = sweep->off.has_high && sweep->on.has_high;
    ret->off_drive = has_zone ? (sweep->off.low + sweep->off.high) / 2 : UNITS_NONE;
    ret->on_drive = has_zone ? (sweep->on.low + sweep->on.high) / 2 : UNITS_NONE;
    ret->dark_least = ret->dark_most = tracks->dark.value[0];
    for (int i = 1; i < tracks->dark.count; i++) {
        ret->dark_least = fmin(ret->dark_least, tracks->dark.value[i]);
        ret->dark_most = fmax(ret->dark_most, tracks->dark.value[i]);
    }
}

static int find_all(const struct sweep *sweep, struct tracks *tracks, struct sweep_result *ret,
                    struct err *err)
{
    const int warm = warm_step(sweep);
    if (warm < 0 || sweep->why[0]) {
        return err_fail(err, ENODATA, "%s", sweep->why[0] ? sweep->why : "ended before any step");
    }
    for (int i = 0; i < ROUNDS; i++) {
        follow(sweep, warm, tracks);
    }
    take_readings(sweep, tracks, ret);
    ret->warm_c = sweep->steps[warm].heat_c;
    find_droop(sweep, &tracks->gain, ret);
    find_rest(sweep, tracks, ret);
    return dimfit_of(ret->readings, ret->count, SWEEP_WORST, &ret->fit, err);
}

int sweep_result_of(const struct sweep *sweep, struct sweep_result *ret, struct err *err)
{
    struct tracks *tracks = calloc(1, sizeof *tracks);
    struct sweep_result *result = calloc(1, sizeof *result);
    int rc = -ENOMEM;
    if (tracks && result) {
        rc = find_all(sweep, tracks, result, err);
    } else {
        (void)err_fail(err, ENOMEM, "no memory for %d steps", sweep->count);
    }
    if (rc == 0) {
        *ret = *result;
    }
    free(tracks);
    free(result);
    return rc;
}
