/* SPDX-License-Identifier: Apache-2.0 */
/* A new configuration takes over: what goes on, what starts afresh. */
#include "tick_private.h"

#include "err.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int find_space(const struct config *config, const char *name)
{
    for (int i = 0; i < config->space_count; i++) {
        if (strcmp(config->spaces[i].name, name) == 0) {
            return i;
        }
    }
    return -1;
}

/* The hardware is the same before and after a reload, so outputs have the same indices. */
static bool is_rewired(const struct config *before, const struct config_fixture *fixture)
{
    for (int i = 0; i < before->fixture_count; i++) {
        const struct config_fixture *old = &before->fixtures[i];
        if (strcmp(old->name, fixture->name) == 0) {
            return old->dim_output != fixture->dim_output ||
                   old->switch_output != fixture->switch_output;
        }
    }
    return false; /* a new one starts afresh */
}

static void rewire(struct tick *fresh, const struct config *before, int space)
{
    const struct config_space *its = &fresh->config->spaces[space];
    for (int place = 0; place < its->rules.fixture_count; place++) {
        if (is_rewired(before, &fresh->config->fixtures[its->fixtures[place]])) {
            space_rewire(&fresh->states[space], &its->rules, place);
        }
    }
}

/* A space of the same name goes on: its fixtures are found by their names. */
static void carry_over(struct tick *fresh, const struct tick *before)
{
    for (int i = 0; i < fresh->config->space_count; i++) {
        int old = find_space(before->config, fresh->config->spaces[i].name);
        if (old < 0) {
            continue;
        }
        const struct config_space *its = &before->config->spaces[old];
        struct resume_record *record = &fresh->scratch;
        record->state = before->states[old];
        record->fixture_count = its->rules.fixture_count;
        for (int place = 0; place < record->fixture_count; place++) {
            (void)snprintf(record->fixtures[place], sizeof record->fixtures[place], "%s",
                           before->config->fixtures[its->fixtures[place]].name);
        }
        resume_adopt(record, fresh->config, i, &fresh->states[i]);
        space_rerule(&fresh->states[i], &fresh->config->spaces[i].rules);
        rewire(fresh, before->config, i);
        fresh->spaces[i] = before->spaces[old];
        fresh->spaces[i].recorder.config = fresh->config;
        fresh->spaces[i].recorder.space = i;
        tally_carry(&fresh->spaces[i].tally, before->config, old, fresh->config, i);
        tick_rebase_correction(fresh, i);
        tick_see_power(fresh, i);
    }
}

/* Spaces that the new configuration does not know any more end here. */
static void finish_dropped(struct tick *tick, const struct config *config)
{
    for (int i = 0; i < tick->config->space_count; i++) {
        if (find_space(config, tick->config->spaces[i].name) < 0) {
            tick_finish_record(tick, i);
        }
    }
}

int tick_reload(struct tick *tick, struct config *config, struct err *err)
{
    struct tick *fresh = malloc(sizeof *fresh);
    if (!fresh) {
        return err_fail(err, ENOMEM, "no memory for the new configuration");
    }
    *fresh = *tick;
    fresh->config = config;
    fresh->inputs = NULL;
    fresh->outputs = NULL;
    fresh->power = NULL;
    fresh->told = (struct tick_told){0};
    int code = tick_make_spaces(fresh, tick, err);
    if (code == 0) {
        code = snapshot_replace(tick->snapshot, config, err);
    }
    if (code < 0) {
        tick_free_spaces(fresh);
        free(fresh);
        return code;
    }
    fresh->told.prices_missing = tick->told.prices_missing;
    fresh->told.journal_waits = tick->told.journal_waits;
    finish_dropped(tick, config);
    carry_over(fresh, tick);
    tick_free_spaces(tick); /* the old configuration went to the snapshot */
    fresh->clock_rules.trusts_held_over = config->trust_held_over_clock;
    *tick = *fresh;
    free(fresh);
    tick_open_resume(tick);
    return 0;
}
