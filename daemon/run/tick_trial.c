/* SPDX-License-Identifier: Apache-2.0 */
/* Outputs that somebody moves by hand. They are kept by output; a reload ends all of them. */
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
