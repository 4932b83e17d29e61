/* SPDX-License-Identifier: Apache-2.0 */
/* Outputs that somebody moves by hand. They are kept by output; a reload ends all of them,
 * a trip those of its fixture. */
#include "tick_private.h"

void tick_set_trial(struct tick *tick, int output, const struct trial *trial)
{
    tick->trials[output] = *trial;
}

static struct trial trial_of(const struct tick *tick, int output)
{
    return output >= 0 ? tick->trials[output] : (struct trial){.is_active = false};
}

void tick_fill_trials(const struct tick *tick, int space, struct now *now)
{
    const struct config_space *its = &tick->config->spaces[space];
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &tick->config->fixtures[its->fixtures[place]];
        now->fixtures[place].try_drive = trial_of(tick, fixture->dim_output);
        now->fixtures[place].try_contact = trial_of(tick, fixture->switch_output);
    }
}

static void end_trials(struct tick *tick, const struct config_fixture *fixture)
{
    const struct trial none = {.is_active = false};
    if (fixture->dim_output >= 0) {
        tick->trials[fixture->dim_output] = none;
    }
    if (fixture->switch_output >= 0) {
        tick->trials[fixture->switch_output] = none;
    }
}

void tick_end_tripped_trials(struct tick *tick, int space)
{
    const struct verdict *verdict = &tick->spaces[space].verdict;
    for (int i = 0; i < verdict->event_count; i++) {
        const struct decide_event *event = &verdict->events[i];
        const bool is_trip = event->kind == EVENT_HEAT_TRIP || event->kind == EVENT_HEAT_BLIND ||
                             event->kind == EVENT_DRIVER_TRIP;
        if (is_trip && event->fixture >= 0) {
            const int fixture = tick->config->spaces[space].fixtures[event->fixture];
            end_trials(tick, &tick->config->fixtures[fixture]);
        }
    }
}
