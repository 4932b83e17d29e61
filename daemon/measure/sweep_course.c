/* SPDX-License-Identifier: Apache-2.0 */
/* Where the sweep goes next. */
#include "sweep_parts.h"

#include "units.h"

#include <math.h>

#define BEND_SHARE  0.985 /* of the most light: below it, the lamp was not saturated yet */
#define BEND_STEPS  5
#define WARM_LOOKS  10 /* at the lamp, for each at the dark */
#define WARM_LOOK_S 180.0
#define WARM_K      1.0   /* heatsink in that time: warm enough */
#define WARM_SHARE  0.002 /* light, where no heatsink is known */
#define SAME_TOP    0.002
#define HELD_BELOW  0.004 /* what was asked: somebody holds it back */
#define EDGE_FARTHEST                                                                              \
    0.4 /* above the drive where light goes, a lamp that did not come back yet                     \
         */

static void push(struct sweep *sweep, enum sweep_kind kind, double drive)
{
    sweep->queue[sweep->queued++] = (struct sweep_visit){kind, drive};
}

static void push_pair(struct sweep *sweep)
{
    push(sweep, SWEEP_LOW, 0);
    push(sweep, SWEEP_REFERENCE, sweep->rules.reference_drive);
    sweep->since_pair = 0;
}

double sweep_drive_of(const struct sweep *sweep, int index)
{
    return sweep->rules.top_drive * index / sweep->rules.steps;
}

static bool is_warm(const struct sweep *sweep, double now_s)
{
    const double passed_s = now_s - sweep->warm_from_s;
    const struct sweep_step *last = &sweep->steps[sweep->count - 1];
    if (passed_s >= sweep->rules.warm_most_s) {
        return true;
    }
    int i = sweep->count - 1;
    while (i > 0 && last->time_s - sweep->steps[i].time_s < WARM_LOOK_S) {
        i--;
    }
    const struct sweep_step *then = &sweep->steps[i];
    if (passed_s < sweep->rules.warm_least_s || last->time_s - then->time_s < WARM_LOOK_S ||
        (then->kind != SWEEP_WARMING && then->kind != SWEEP_REFERENCE)) {
        return false;
    }
    if (units_known(last->heat_c) && units_known(then->heat_c)) {
        const double share_s = WARM_LOOK_S / (last->time_s - then->time_s);
        return fabs(last->heat_c - then->heat_c) * share_s <= WARM_K;
    }
    const double noise = 2 * last->spread_umol / sqrt(last->samples);
    return fabs(last->umol - then->umol) <= fmax(WARM_SHARE * last->umol, noise);
}

static void warm_up(struct sweep *sweep, double now_s)
{
    if (is_warm(sweep, now_s)) {
        if (sweep->since_pair > 0) {
            push_pair(sweep);
        }
        sweep->stage = SWEEP_CLIMB;
        sweep->index = 1;
    } else if (sweep->since_pair++ >= WARM_LOOKS) {
        push_pair(sweep); /* the dark may have moved */
    } else {
        push(sweep, SWEEP_WARMING, sweep->rules.reference_drive);
    }
}

static void climb(struct sweep *sweep)
{
    const double drive = sweep_drive_of(sweep, sweep->index);
    if (sweep->index > sweep->rules.steps || drive > sweep->top_drive + SAME_TOP) {
        sweep->stage = SWEEP_DESCEND;
        sweep->index = sweep->rules.steps;
        return;
    }
    if (sweep->since_pair >= sweep->rules.reference_every) {
        push_pair(sweep);
    }
    push(sweep, SWEEP_UP, drive);
    sweep->index++;
    sweep->since_pair++;
}

static void descend(struct sweep *sweep)
{
    while (sweep->index > 0 && sweep_drive_of(sweep, sweep->index) > sweep->top_drive + SAME_TOP) {
        sweep->index--;
    }
    if (sweep->index < 1) {
        sweep->stage = SWEEP_EDGES;
        return;
    }
    if (sweep->since_pair >= sweep->rules.reference_every) {
        push_pair(sweep);
    }
    push(sweep, SWEEP_DOWN, sweep_drive_of(sweep, sweep->index));
    sweep->index--;
    sweep->since_pair++;
}

/* Lowest lit drive of the descent, and the highest dark one below it. False: no dark zone. */
static bool begin_edges(struct sweep *sweep)
{
    double high = 2, low = 0;
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (step->kind == SWEEP_DOWN && step->is_lit) {
            high = fmin(high, step->drive);
        }
    }
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (step->kind == SWEEP_DOWN && step->drive < high) {
            low = fmax(low, step->drive);
        }
    }
    sweep->has_edges = true;
    sweep->off = (struct sweep_edge){low, high, high - low <= sweep->rules.fine};
    return sweep->low_umol <= 0 && high <= 1;
}

static bool is_found(const struct sweep *sweep, const struct sweep_edge *edge)
{
    const double farthest = fmin(sweep->off.low + EDGE_FARTHEST, sweep->top_drive);
    return (edge->has_high && edge->high - edge->low <= sweep->rules.fine) || edge->high > farthest;
}

static void find_edges(struct sweep *sweep)
{
    if (!sweep->has_edges && !begin_edges(sweep)) {
        sweep->stage = SWEEP_BENDS;
        return;
    }
    if (!sweep->is_on && is_found(sweep, &sweep->off)) {
        sweep->is_on = true;
        sweep->on = sweep->off;
        sweep->on.has_high = sweep->rules.fine > sweep_drive_of(sweep, 1); /* near enough */
    } else if (sweep->is_on && is_found(sweep, &sweep->on)) {
        sweep->stage = SWEEP_BENDS;
        return;
    }
    const struct sweep_edge *edge = sweep->is_on ? &sweep->on : &sweep->off;
    push(sweep, SWEEP_LOW, 0);
    if (!sweep->is_on) {
        push(sweep, SWEEP_REFERENCE, sweep->rules.reference_drive);
    }
    push(sweep, SWEEP_EDGE, edge->has_high ? (edge->low + edge->high) / 2 : edge->high);
}

/* Between the highest drive that is clearly below the most light and the next that is not. */
static void begin_bends(struct sweep *sweep)
{
    double low = -1, high = sweep->top_drive;
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        const bool is_full = step->lamp_umol > BEND_SHARE * sweep->full_umol;
        if (step->kind == SWEEP_DOWN && !is_full) {
            low = fmax(low, step->drive);
        }
    }
    for (int i = 0; i < sweep->count; i++) {
        const struct sweep_step *step = &sweep->steps[i];
        if (step->kind == SWEEP_DOWN && step->drive > low + SAME_TOP) {
            high = fmin(high, step->drive);
        }
    }
    sweep->bend_low = low;
    sweep->bend_high = high;
    sweep->index = low > 0 && high - low > BEND_STEPS * sweep->rules.fine ? 1 : BEND_STEPS;
}

static void find_bends(struct sweep *sweep)
{
    if (!(sweep->bend_high > 0)) {
        begin_bends(sweep);
        if (sweep->index < BEND_STEPS) {
            push_pair(sweep);
        }
        return;
    }
    if (sweep->index >= BEND_STEPS) {
        sweep->stage = SWEEP_LAST;
        return;
    }
    const double share = (double)sweep->index++ / BEND_STEPS;
    push(sweep, SWEEP_BEND, sweep->bend_low + (sweep->bend_high - sweep->bend_low) * share);
}

void sweep_course(struct sweep *sweep, double now_s)
{
    while (sweep->queued == 0 && !sweep->is_done) {
        switch (sweep->stage) {
        case SWEEP_BEGIN:
            sweep->stage = SWEEP_FIRST;
            if (sweep->rules.has_switch) {
                push(sweep, SWEEP_DARK, 0);
            }
            break;
        case SWEEP_FIRST:
            push_pair(sweep);
            sweep->stage = SWEEP_WARM;
            sweep->warm_from_s = now_s;
            break;
        case SWEEP_WARM:
            warm_up(sweep, now_s);
            break;
        case SWEEP_CLIMB:
            climb(sweep);
            break;
        case SWEEP_DESCEND:
            descend(sweep);
            break;
        case SWEEP_EDGES:
            find_edges(sweep);
            break;
        case SWEEP_BENDS:
            find_bends(sweep);
            break;
        case SWEEP_LAST:
            push_pair(sweep);
            sweep->stage = SWEEP_END;
            break;
        case SWEEP_END:
            sweep->is_done = true;
            break;
        }
    }
}

static void learn_edge(struct sweep *sweep, const struct sweep_step *step)
{
    struct sweep_edge *edge = sweep->is_on ? &sweep->on : &sweep->off;
    if (step->is_lit) {
        edge->high = step->drive;
        edge->has_high = true;
        return;
    }
    edge->low = step->drive;
    if (!edge->has_high) { /* it has to be looked for higher up */
        edge->high += sweep->rules.top_drive / sweep->rules.steps;
    }
}

/* Drive 0: dark, or the lamp's lowest light, by the reading with the switch open before. */
static void learn_low(struct sweep *sweep, const struct sweep_step *step)
{
    const bool is_first =
        sweep->stage == SWEEP_WARM && sweep->warm_from_s > 0 && !(sweep->full_umol > 0);
    if (is_first && sweep->rules.has_switch && step->is_lit) {
        sweep->low_umol = step->umol - sweep->dark_umol;
    }
    sweep->dark_umol = step->umol - sweep->low_umol;
}

static void learn_reference(struct sweep *sweep, const struct sweep_step *step)
{
    if (!(sweep->full_umol > 0) && !step->is_lit) {
        sweep_give_up(sweep, "no light from the lamp at drive %.2f: %.1f µmol m⁻² s⁻¹, dark %.1f",
                      step->drive, step->umol, sweep->dark_umol);
    } else if (!(sweep->full_umol > 0)) {
        sweep->rules.reference_drive = step->drive; /* which it may be held at */
    } else if (fabs(step->drive - sweep->rules.reference_drive) > HELD_BELOW) {
        sweep_give_up(sweep, "the lamp is held back at drive %.3f, below the %.3f to compare with",
                      step->drive, sweep->rules.reference_drive);
    }
}

void sweep_learn(struct sweep *sweep, const struct sweep_step *step)
{
    if (step->kind == SWEEP_DARK) {
        sweep->dark_umol = step->umol;
        return;
    }
    if (step->kind == SWEEP_LOW) {
        learn_low(sweep, step);
        return;
    }
    if (step->kind == SWEEP_REFERENCE) {
        learn_reference(sweep, step);
    }
    if (step->kind != SWEEP_WARMING && step->lamp_umol > sweep->full_umol) {
        sweep->full_umol = step->lamp_umol;
        sweep->full_drive = step->drive;
    }
    if (step->kind == SWEEP_EDGE) {
        learn_edge(sweep, step);
    } else if (step->drive < step->asked - HELD_BELOW &&
               (step->kind == SWEEP_UP || step->kind == SWEEP_DOWN)) {
        sweep->top_drive = fmin(sweep->top_drive, step->drive);
    }
}
