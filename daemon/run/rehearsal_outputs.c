/* SPDX-License-Identifier: Apache-2.0 */
/* Whether the bench's outputs do what they are told, as the daemon's would find out. */
#include "rehearsal_parts.h"

#include "units.h"

#include <math.h>
#include <stdio.h>

#define OBEY_S 3.0 /* a read-back that disagrees for longer is a fault of the output */

/* Whether the outputs show what they were told at the last tick. */
static bool disobeys(struct rehearsal *rehearsal, int space, int place)
{
    const struct config_space *its = &rehearsal->config->spaces[space];
    const struct config_fixture *fixture = &rehearsal->config->fixtures[its->fixtures[place]];
    const struct fixture_state *state = &rehearsal->states[space].fixtures[place];
    const bool told_closed = state->switching.phase != SWITCHING_OPEN;
    double drive = 0;
    bool closed = false;
    if (bench_model_drive(rehearsal->model, its->fixtures[place], &drive) < 0 ||
        bench_model_switch(rehearsal->model, its->fixtures[place], &closed) < 0) {
        return true;
    }
    const bool dim_differs =
        fixture->dim_output >= 0 &&
        fabs(drive - state->drive) > rehearsal->config->outputs[fixture->dim_output].tolerance;
    return dim_differs || closed != told_closed;
}

static bool is_unconfirmed(const struct rehearsal *rehearsal, int space, int place)
{
    const int unit = rehearsal->config->spaces[space].fixtures[place];
    const struct switching *switching = &rehearsal->states[space].fixtures[place].switching;
    bool closed = false;
    return switching->phase == SWITCHING_OPEN &&
           (bench_model_switch(rehearsal->model, unit, &closed) < 0 || closed);
}

/* What the daemon's own outputs would tell. */
static void tell_fault(struct rehearsal *rehearsal, int space, int place, bool is_fault)
{
    const struct config_space *its = &rehearsal->config->spaces[space];
    const char *fixture = rehearsal->config->fixtures[its->fixtures[place]].name;
    struct journal_event event = {
        .wall_s = rehearsal_wall_s(rehearsal),
        .light_day = rehearsal->states[space].light_day,
        .class = is_fault ? JOURNAL_ALARM : JOURNAL_INFO,
        .a = UNITS_NONE,
        .b = UNITS_NONE,
    };
    (void)snprintf(event.space, sizeof event.space, "%s", its->name);
    (void)snprintf(event.fixture, sizeof event.fixture, "%s", fixture);
    (void)snprintf(event.kind, sizeof event.kind, "%s", is_fault ? "output-fault" : "output-back");
    (void)snprintf(event.text, sizeof event.text,
                   is_fault ? "an output of %s does not obey" : "the outputs of %s obey again",
                   fixture);
    (void)journal_put_event(rehearsal->options.journal, &event); /* none: nothing is stored */
}

void rehearsal_look_at_outputs(struct rehearsal *rehearsal, int space)
{
    const int count = rehearsal->config->spaces[space].rules.fixture_count;
    for (int i = 0; i < count; i++) {
        struct obedience *obedience = &rehearsal->obedience[space][i];
        const bool disobedient = disobeys(rehearsal, space, i);
        obedience->disagrees_s =
            disobedient ? obedience->disagrees_s + rehearsal->options.step_s : 0;
        const bool was_fault = obedience->is_fault;
        obedience->is_fault = was_fault ? disobedient : obedience->disagrees_s > OBEY_S;
        if (obedience->is_fault != was_fault) {
            tell_fault(rehearsal, space, i, obedience->is_fault);
        }
        rehearsal->nows[space].fixtures[i].output_fault = obedience->is_fault;
        rehearsal->nows[space].fixtures[i].opening_unconfirmed =
            is_unconfirmed(rehearsal, space, i);
    }
}
