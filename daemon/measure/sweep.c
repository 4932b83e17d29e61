/* SPDX-License-Identifier: Apache-2.0 */
#include "sweep.h"

#include "dimfit.h"
#include "sweep_parts.h"
#include "units.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define AT_DRIVE      0.004 /* it is where it was asked to be */
#define HELD_S        4.0   /* it stays below that for this long: held back */
#define ARRIVE_MOST_S 300.0
#define COLLAPSE_S    90.0 /* a lamp that went dark by itself, and nobody calls it a trip */
#define REST_MOST_S   4000.0
#define SKIPS_MAX     10
#define DIM_SHARE     0.3  /* of what the drive's share would give */
#define CLEAR_SHARE   0.05 /* of full light: more than daylight moves between two looks */
#define NEAR_DRIVE    0.025
#define FIRST_UMOL    1.0  /* the least that counts as light of a lamp … */
#define FIRST_SHARE   0.02 /* … or of the daylight, whichever is more */

void sweep_give_up(struct sweep *sweep, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(sweep->why, sizeof sweep->why, format, args);
    va_end(args);
    sweep->is_done = true;
}

void sweep_begin(struct sweep *sweep, const struct sweep_rules *rules, double now_s)
{
    memset(sweep, 0, sizeof *sweep);
    sweep->rules = *rules;
    sweep->top_drive = rules->top_drive;
    sweep->trip_drive = sweep->trip_heat_c = UNITS_NONE;
    sweep->new_s = now_s;
    sweep->taken_s = UNITS_NONE;
}

/* By the dark of that time, and by the noise of the reading. */
static bool is_lit(const struct sweep *sweep, const struct sweep_step *step)
{
    const double noise = 4 * step->spread_umol / sqrt(fmax(step->samples, 1));
    const double least = sweep->full_umol > 0 ? DIMFIT_DARK_SHARE * sweep->full_umol
                                              : fmax(FIRST_UMOL, FIRST_SHARE * sweep->dark_umol);
    return step->lamp_umol > fmax(least, noise);
}

static void begin_visit(struct sweep *sweep, const struct sweep_visit *visit, double now_s)
{
    sweep->visit = *visit;
    sweep->has_arrived = false;
    sweep->begun_s = sweep->stood_s = now_s;
    sweep->stood_drive = UNITS_NONE;
}

/* Two dark visits at nearly one drive would be one long one for the lamp's guard. */
static bool has_to_part(const struct sweep *sweep, const struct sweep_visit *next)
{
    const struct sweep_step *last = sweep->count > 0 ? &sweep->steps[sweep->count - 1] : NULL;
    return last && last->kind != SWEEP_DARK && next->kind != SWEEP_DARK &&
           fabs(last->drive - next->drive) <= NEAR_DRIVE && !last->is_lit;
}

static void next_visit(struct sweep *sweep, double now_s)
{
    if (sweep->queued == 0) {
        sweep_course(sweep, now_s);
    }
    if (sweep->is_done) {
        return;
    }
    const struct sweep_visit apart = {SWEEP_REFERENCE, sweep->rules.reference_drive};
    if (has_to_part(sweep, &sweep->queue[0])) {
        begin_visit(sweep, &apart, now_s);
        return;
    }
    const struct sweep_visit visit = sweep->queue[0];
    sweep->queued--;
    memmove(sweep->queue, sweep->queue + 1, (size_t)sweep->queued * sizeof sweep->queue[0]);
    begin_visit(sweep, &visit, now_s);
}

static void arrive(struct sweep *sweep, const struct lampsight *sight)
{
    const bool is_dark = sweep->visit.kind == SWEEP_DARK;
    if (!(fabs(sight->drive - sweep->stood_drive) <= AT_DRIVE / 2)) {
        sweep->stood_drive = sight->drive;
        sweep->stood_s = sight->now_s;
    }
    const bool is_there = fabs(sight->drive - sweep->visit.drive) <= AT_DRIVE;
    const bool is_held =
        sight->drive < sweep->visit.drive && sight->now_s - sweep->stood_s >= HELD_S;
    if (sight->is_closed != is_dark && (is_dark || is_there || is_held)) {
        sweep->has_arrived = true;
        sweep->arrived_s = sight->now_s;
        sweep->stood_drive = is_dark ? 0 : sight->drive;
        settle_begin(&sweep->settle, sight->now_s);
    } else if (sight->now_s - sweep->begun_s > ARRIVE_MOST_S) {
        sweep_give_up(sweep, "the lamp did not get to drive %.3f%s in %.0f s", sweep->visit.drive,
                      is_dark ? " (switch open)" : "", ARRIVE_MOST_S);
    }
}

static bool has_moved(const struct sweep *sweep, const struct lampsight *sight)
{
    const bool is_dark = sweep->visit.kind == SWEEP_DARK;
    return sight->is_closed == is_dark ||
           (!is_dark && !(fabs(sight->drive - sweep->stood_drive) <= AT_DRIVE));
}

static struct sweep_step step_of(const struct sweep *sweep, const struct lampsight *sight)
{
    struct settle_mean mean;
    settle_mean_of(&sweep->settle, &sweep->rules.settle, &mean);
    struct sweep_step step = {
        .kind = sweep->visit.kind,
        .time_s = sight->now_s,
        .asked = sweep->visit.drive,
        .drive = sweep->stood_drive,
        .umol = mean.umol,
        .spread_umol = mean.spread_umol,
        .watts = mean.watts,
        .heat_c = sight->heat_c,
        .lamp_umol = mean.umol - sweep->dark_umol,
        .samples = mean.samples,
        .is_steady = settle_is_steady(&sweep->settle, &sweep->rules.settle),
    };
    step.is_lit = step.kind != SWEEP_DARK && is_lit(sweep, &step);
    return step;
}

/* Much less light than such a drive's share: perhaps dark, and the guard counts the seconds. */
static bool is_dim(const struct sweep *sweep, const struct sweep_step *step)
{
    if (step->kind == SWEEP_DARK) {
        return false;
    }
    if (step->kind == SWEEP_LOW || !(sweep->full_umol > 0)) {
        return step->kind == SWEEP_LOW || !step->is_lit;
    }
    const double share = step->drive / sweep->full_drive;
    return step->lamp_umol < DIM_SHARE * share * sweep->full_umol;
}

/* Neither dark on purpose nor long after the last look at the dark. */
static bool is_plain(enum sweep_kind kind)
{
    return kind == SWEEP_UP || kind == SWEEP_DOWN || kind == SWEEP_BEND || kind == SWEEP_REFERENCE;
}

/* It gave clearly more at a lower drive: no lamp goes dark above that by itself. */
static bool has_collapsed(const struct sweep *sweep, const struct sweep_step *step)
{
    double lower_umol = 0;
    for (int i = 0; i < sweep->count && is_plain(step->kind); i++) {
        const struct sweep_step *other = &sweep->steps[i];
        if (is_plain(other->kind) && other->is_lit && other->drive <= step->drive) {
            lower_umol = fmax(lower_umol, other->lamp_umol);
        }
    }
    return lower_umol > CLEAR_SHARE * sweep->full_umol && step->lamp_umol < DIM_SHARE * lower_umol;
}

static void store(struct sweep *sweep, const struct sweep_step *step)
{
    if (sweep->count == SWEEP_STEPS_MAX) {
        sweep_give_up(sweep, "more than %d steps", SWEEP_STEPS_MAX);
        return;
    }
    sweep->steps[sweep->count++] = *step;
    sweep_learn(sweep, step);
}

/* A visit that has arrived: samples, until they agree. */
static void dwell(struct sweep *sweep, const struct lampsight *sight)
{
    const struct settle_rules *rules = &sweep->rules.settle;
    const struct settle_sample sample = {sight->taken_s, sight->umol, sight->watts};
    settle_take(&sweep->settle, rules, &sample);
    const double dwell_s = sight->now_s - sweep->arrived_s;
    const struct sweep_step step = step_of(sweep, sight);
    const bool is_short = dwell_s >= SWEEP_DIM_S && is_dim(sweep, &step);
    const bool is_long = dwell_s >= rules->most_s;
    const int least = is_short || is_long ? 1 : 2; /* a slow sensor has to do with one */
    if (step.samples < least || !(step.is_steady || is_short || is_long)) {
        return;
    }
    if (has_collapsed(sweep, &step)) {
        if (dwell_s > COLLAPSE_S) {
            sweep_give_up(sweep, "the lamp went dark at drive %.3f, and nobody called it a trip",
                          step.drive);
        }
        return;
    }
    store(sweep, &step);
    if (!sweep->is_done) {
        next_visit(sweep, sight->now_s);
    }
}

/* The highest step below a drive at which the lamp was seen lit. */
static double highest_below(const struct sweep *sweep, double drive)
{
    double highest = 0;
    for (int i = 0; i < sweep->count; i++) {
        if (sweep->steps[i].drive < drive - AT_DRIVE) {
            highest = fmax(highest, sweep->steps[i].drive);
        }
    }
    return highest;
}

static void watch_trip(struct sweep *sweep, const struct lampsight *sight)
{
    if (sight->has_tripped && !sweep->is_tripped) {
        sweep->trips++;
        sweep->trip_drive = sweep->has_arrived ? sweep->stood_drive : sweep->visit.drive;
        sweep->trip_heat_c = sight->heat_c;
        sweep->top_drive = fmin(sweep->top_drive, highest_below(sweep, sweep->trip_drive));
        sweep->queued = 0;
        sweep->since_pair = SWEEP_COARSE_MAX;
        const struct sweep_visit rest = {SWEEP_REFERENCE, sweep->rules.reference_drive};
        begin_visit(sweep, &rest, sight->now_s);
    }
    sweep->is_tripped = sight->has_tripped;
    if (sweep->trips > sweep->rules.trips_most) {
        sweep_give_up(sweep, "the LED driver tripped at drive %.3f: more often than agreed (%d)",
                      sweep->trip_drive, sweep->rules.trips_most);
    } else if (sweep->is_tripped && sight->now_s - sweep->begun_s > REST_MOST_S) {
        sweep_give_up(sweep, "no light since the trip at drive %.3f", sweep->trip_drive);
    }
}

static void watch_sensor(struct sweep *sweep, const struct lampsight *sight)
{
    const bool is_new = isfinite(sight->umol) && !(sight->taken_s <= sweep->taken_s);
    if (is_new) {
        sweep->taken_s = sight->taken_s;
        sweep->new_s = sight->now_s;
    } else if (sight->now_s - sweep->new_s > sweep->rules.lost_s) {
        sweep_give_up(sweep, "no good light reading for %.0f s", sweep->rules.lost_s);
    }
}

static void go_on(struct sweep *sweep, const struct lampsight *sight)
{
    if (sweep->stage == SWEEP_BEGIN) {
        next_visit(sweep, sight->now_s);
    }
    if (sweep->is_tripped) {
        return;
    }
    if (sweep->has_arrived && has_moved(sweep, sight)) {
        sweep->has_arrived = false;
        sweep->stood_drive = UNITS_NONE;
    }
    if (!sweep->has_arrived) {
        arrive(sweep, sight);
    } else {
        dwell(sweep, sight);
    }
    const double patience_s = 2 * sweep->rules.settle.most_s + ARRIVE_MOST_S;
    if (!sweep->is_done && sight->now_s - sweep->begun_s > patience_s) {
        if (++sweep->skipped > SKIPS_MAX) {
            sweep_give_up(sweep, "the lamp is held back by changing amounts");
            return;
        }
        next_visit(sweep, sight->now_s);
    }
}

void sweep_look(struct sweep *sweep, const struct lampsight *sight, struct lampwish *ret)
{
    if (!sweep->is_done) {
        watch_sensor(sweep, sight);
    }
    if (!sweep->is_done) {
        watch_trip(sweep, sight);
    }
    if (!sweep->is_done) {
        go_on(sweep, sight);
    }
    *ret = (struct lampwish){
        .is_closed = sweep->visit.kind != SWEEP_DARK,
        .drive = sweep->visit.drive,
    };
}

void sweep_lengths(const struct sweep_rules *rules, double *ret_least_s, double *ret_most_s)
{
    const double step_s = rules->settle.least_s + rules->settle.samples + 1;
    const double pairs = 2.0 * rules->steps / rules->reference_every + 4;
    const double steps = 2.0 * rules->steps + 2 * pairs + 25;
    *ret_least_s = steps * step_s + rules->warm_least_s;
    *ret_most_s = steps * 1.5 * step_s + rules->warm_most_s;
}

double sweep_share(const struct sweep *sweep, double now_s)
{
    const struct sweep_rules *rules = &sweep->rules;
    const double step_s = rules->settle.least_s + rules->settle.samples + 1;
    const double warm_s = (rules->warm_least_s + rules->warm_most_s) / 2;
    const double each = 1 + 2.0 / rules->reference_every; /* with its looks back */
    const double way = rules->steps * each;
    const double visits[] = {
        [SWEEP_CLIMB] = (sweep->index - 1) * each,
        [SWEEP_DESCEND] = way + (rules->steps - sweep->index) * each,
        [SWEEP_EDGES] = 2 * way,
        [SWEEP_BENDS] = 2 * way + 20,
        [SWEEP_LAST] = 2 * way + 25,
        [SWEEP_END] = 2 * way + 29,
    };
    double done_s = 0;
    if (sweep->stage == SWEEP_WARM) {
        done_s = fmin(now_s - sweep->warm_from_s, warm_s);
    } else if (sweep->stage > SWEEP_WARM) {
        done_s = warm_s + visits[sweep->stage] * step_s;
    }
    return done_s / (warm_s + visits[SWEEP_END] * step_s);
}

const char *sweep_kind_name(enum sweep_kind kind)
{
    static const char *const names[] = {
        [SWEEP_DARK] = "dark",       [SWEEP_LOW] = "low",   [SWEEP_REFERENCE] = "reference",
        [SWEEP_WARMING] = "warm-up", [SWEEP_UP] = "up",     [SWEEP_DOWN] = "down",
        [SWEEP_EDGE] = "edge",       [SWEEP_BEND] = "bend",
    };
    return names[kind];
}
