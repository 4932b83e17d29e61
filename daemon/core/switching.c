/* SPDX-License-Identifier: Apache-2.0 */
#include "switching.h"

static void enter(struct switching *switching, enum switching_phase phase)
{
    switching->phase = phase;
    switching->phase_s = 0;
}

/* The contact moves: the only place that counts operations and restarts the minimum times. */
static void move(struct switching *switching, enum switching_phase phase)
{
    enter(switching, phase);
    switching->since_change_s = 0;
    switching->operations_today++;
    switching->operations_total++;
}

static void pass_time(struct switching *switching, double dt_s)
{
    if (dt_s > 0) {
        switching->phase_s += dt_s;
        switching->since_change_s += dt_s;
    }
    /* Loaded from a damaged record: unknown is as if it had moved just now. */
    if (!(switching->since_change_s >= 0)) {
        switching->since_change_s = 0;
    }
}

static void step_phase(const struct switching_rules *rules, struct switching *switching,
                       const struct switching_ask *ask)
{
    bool is_settled = switching->phase_s >= rules->settle_s;

    switch (switching->phase) {
    case SWITCHING_OPEN:
        if (ask->want && ask->may_close && switching->since_change_s >= rules->min_off_s) {
            move(switching, SWITCHING_CLOSING);
        }
        break;
    case SWITCHING_CLOSING:
        if (is_settled) {
            enter(switching, SWITCHING_CLOSED);
        }
        break;
    case SWITCHING_CLOSED:
        if (!ask->want && switching->since_change_s >= rules->min_on_s) {
            enter(switching, SWITCHING_OPENING);
        }
        break;
    case SWITCHING_OPENING:
        if (ask->want) {
            enter(switching, SWITCHING_CLOSED);
        } else if (is_settled) {
            move(switching, SWITCHING_OPEN);
        }
        break;
    }
}

void switching_reset(struct switching *switching)
{
    *switching = (struct switching){.phase = SWITCHING_OPEN};
}

void switching_new_day(struct switching *switching)
{
    switching->operations_today = 0;
}

struct switching_answer switching_step(const struct switching_rules *rules,
                                       struct switching *switching, const struct switching_ask *ask,
                                       double dt_s)
{
    uint64_t before = switching->operations_total;

    pass_time(switching, dt_s);
    if (ask->is_unknown) {
        switching->since_change_s = 0;
    }
    if (!ask->urgent) {
        step_phase(rules, switching, ask);
    } else if (switching->phase != SWITCHING_OPEN) {
        move(switching, SWITCHING_OPEN);
    }

    bool closed = switching->phase != SWITCHING_OPEN;
    bool wants_light = ask->want && !ask->urgent;
    double since_s = switching->since_change_s;
    return (struct switching_answer){
        .closed = closed,
        .at_minimum = switching->phase != SWITCHING_CLOSED || !ask->want,
        .is_resting = !closed && wants_light && since_s < rules->min_off_s,
        .is_held_on = closed && !ask->want && since_s < rules->min_on_s,
        .moved = switching->operations_total != before,
    };
}
