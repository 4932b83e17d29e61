/* SPDX-License-Identifier: Apache-2.0 */
#include "tick_private.h"

#include "err.h"
#include "log.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

void tick_free_spaces(struct tick *tick)
{
    free(tick->states);
    free(tick->spaces);
    free(tick->trials);
    tick_told_finish(&tick->told);
    powerplan_destroy(tick->power);
    inputs_destroy(tick->inputs);
    outputs_destroy(tick->outputs);
}

int tick_make_spaces(struct tick *tick, const struct tick *before, struct err *err)
{
    const struct config *config = tick->config;
    tick->states = calloc((size_t)config->space_count + 1, sizeof *tick->states);
    tick->spaces = calloc((size_t)config->space_count + 1, sizeof *tick->spaces);
    tick->trials = calloc((size_t)config->output_count + 1, sizeof *tick->trials);
    if (!tick->states || !tick->spaces || !tick->trials ||
        tick_told_init(&tick->told, config) < 0) {
        return err_fail(err, ENOMEM, "no memory for the spaces");
    }
    for (int i = 0; i < config->space_count; i++) {
        space_init(&tick->states[i], &config->spaces[i].rules);
        recorder_init(&tick->spaces[i].recorder, config, i, tick->sure_s);
    }
    int code = powerplan_create(config, &tick->power, err);
    if (code == 0) {
        code = inputs_create(config, before ? before->inputs : NULL, &tick->inputs, err);
    }
    return code < 0 ? code
                    : outputs_create(config, before ? before->outputs : NULL, &tick->outputs, err);
}

int tick_create(const struct tick_setup *setup, struct tick **ret, struct err *err)
{
    struct tick *tick = calloc(1, sizeof *tick);
    if (!tick) {
        return err_fail(err, ENOMEM, "no memory for the tick");
    }
    tick->config = setup->config;
    tick->first_config = setup->config;
    tick->journal = setup->journal;
    tick->alarms = setup->alarms;
    tick->in_crash_loop = setup->in_crash_loop;
    tick->pace = setup->pace;
    (void)snprintf(tick->resume_path, sizeof tick->resume_path, "%s", setup->resume_path);
    resume_boot_id(tick->boot_id);
    tick->clock_rules = (struct clocktrust_rules){
        .build_s = setup->build_s,
        .latest_s = setup->latest_s,
        .trusts_held_over = setup->config->trust_held_over_clock,
    };
    tick->sure_s = setup->latest_s;
    int code = tick_make_spaces(tick, NULL, err);
    if (code == 0) {
        code = snapshot_create(tick->config, &tick->snapshot, err);
    }
    if (code == 0) {
        code = channels_open(tick->config, &tick->channels, err);
    }
    if (code < 0) {
        tick->config = tick->first_config = NULL; /* stays the caller's */
        tick_destroy(tick);
        return code;
    }
    tick_restore(tick, setup);
    *ret = tick;
    return 0;
}

void tick_destroy(struct tick *tick)
{
    if (!tick) {
        return;
    }
    bool has_ended = channels_close(tick->channels, 2.5);
    if (!has_ended) {
        log_error("a bus driver hangs; the stop step has to make its outputs safe");
    }
    resume_close(tick->resume);
    tick_free_spaces(tick);
    snapshot_destroy(tick->snapshot);
    if (tick->config != tick->first_config) {
        config_free(tick->config);
    }
    if (has_ended) {
        config_free(tick->first_config); /* a driver that hangs may still look at its options */
    }
    free(tick);
}

static void fill_now(struct tick *tick, int space, const struct powerplan_moment *moment,
                     bool may_close)
{
    struct tick_space *its = &tick->spaces[space];
    struct now *now = &its->now;
    now->boot_ns = moment->boot_ns;
    now->wall_s = moment->wall_s;
    now->clock = tick->clock.trust;
    now->may_close = may_close;
    now->price_per_kwh = moment->price_per_kwh;
    now->acknowledged = its->acknowledged;
    its->acknowledged = false;
    its->hand.is_active = its->hand.is_active && moment->boot_ns < its->hand.until_ns;
    now->hand = its->hand;
    inputs_fill(tick->inputs, space, now, &its->air);
    now->ppfd = correction_reading(&tick->states[space].correction, now->ppfd);
    outputs_fill(tick->outputs, space, now);
    tick_fill_trials(tick, space, now);
    powerplan_fill(tick->power, space, &now->power);
}

static int closings(const struct space_state *state, const bool was_closed[SPACE_FIXTURES_MAX],
                    int count)
{
    int closed = 0;
    for (int i = 0; i < count; i++) {
        enum switching_phase phase = state->fixtures[i].switching.phase;
        closed += phase != SWITCHING_OPEN && !was_closed[i];
    }
    return closed;
}

void tick_see_power(struct tick *tick, int space)
{
    const struct tick_space *its = &tick->spaces[space];
    powerplan_see(tick->power, space,
                  &(struct powerplan_sight){&its->now, &tick->states[space], &its->verdict});
}

/* At most one contact closes in a tick, over all spaces: inrush adds up on a shared breaker. */
static void decide_all(struct tick *tick, const struct tick_time *time)
{
    bool may_close = time->boot_ns >= tick->light_from_ns;
    double dt_s = tick->has_run ? units_seconds(time->boot_ns - tick->last_ns) : 0;
    const int64_t wall_s = time->wall_ns / UNITS_NS_PER_S;
    const struct powerplan_moment moment = {time->boot_ns, wall_s,
                                            tick->clock.trust != CLOCK_UNTRUSTED,
                                            tariff_price(&tick->config->site.tariff, wall_s)};
    powerplan_share(tick->power, &moment);
    for (int i = 0; i < tick->config->space_count; i++) {
        const struct space_rules *rules = &tick->config->spaces[i].rules;
        struct tick_space *its = &tick->spaces[i];
        struct space_state *state = &tick->states[i];
        bool was_closed[SPACE_FIXTURES_MAX];
        for (int place = 0; place < rules->fixture_count; place++) {
            was_closed[place] = state->fixtures[place].switching.phase != SWITCHING_OPEN;
        }
        fill_now(tick, i, &moment, may_close);
        const struct tally_before before = tally_look(state);
        decide(rules, state, &its->now, &its->verdict);
        tally_step(&its->tally, &before, state, &its->verdict, dt_s);
        tick_see_power(tick, i);
        tick_end_tripped_trials(tick, i);
        may_close = may_close && closings(state, was_closed, rules->fixture_count) == 0;
        outputs_apply(tick->outputs, i, &its->verdict);
        const struct recorder_tick seen = {&its->now, &its->air, state, &its->verdict, dt_s};
        recorder_tick(&its->recorder, tick->journal, &seen);
        if (its->verdict.day_closed) {
            its->has_last_day = true;
            its->last_day = its->verdict.closed;
            tick_keep_learned(tick, i);
        }
        tick_tell_verdict(tick, i);
    }
}

bool tick_run(struct tick *tick, const struct tick_time *time)
{
    channels_fetch(tick->channels);
    struct clocktrust_change change =
        clocktrust_step(&tick->clock_rules, &tick->clock, time->boot_ns, time->wall_ns, time->sync);
    if (tick->clock.trust != CLOCK_UNTRUSTED) {
        tick->sure_s = time->wall_ns / UNITS_NS_PER_S;
    }
    tick_tell_clock(tick, &change);
    tick_tell_prices(tick);
    outputs_check(tick->outputs, tick->channels, time->boot_ns);
    inputs_step(tick->inputs, channels_samples(tick->channels), tick->states, time->boot_ns);
    tick_tell_devices(tick, time);
    if (!tick->has_run) {
        tick->started_ns = time->boot_ns;
    }
    if (tick->may_light) {
        decide_all(tick, time);
        tick->last_ns = time->boot_ns;
        tick->has_run = true;
        tick_save(tick, time);
    } else {
        outputs_want_safe(tick->outputs, true);
        tick->last_ns = time->boot_ns;
    }
    outputs_pass(tick->outputs, tick->channels);
    channels_send(tick->channels);
    tick->ticks++;
    tick->overruns += time->overruns;
    tick_show(tick, time);
    int late = channels_late_bus(tick->channels, time->boot_ns);
    if (late >= 0) {
        log_alert("bus %s: its driver does not come back; the watchdog is not petted",
                  tick->config->buses[late].name);
    }
    return late < 0;
}

bool tick_outputs_are_decided(const struct tick *tick)
{
    return tick->ticks > 0 && outputs_are_decided(tick->outputs);
}

void tick_let_light(struct tick *tick, int64_t from_boot_ns)
{
    tick->may_light = true;
    tick->light_from_ns = from_boot_ns;
}

bool tick_make_safe(struct tick *tick, int64_t boot_ns)
{
    channels_fetch(tick->channels);
    outputs_want_safe(tick->outputs, false); /* the contacts alone, before they are looked at */
    outputs_check(tick->outputs, tick->channels, boot_ns);
    bool are_open = outputs_obey(tick->outputs, false);
    outputs_want_safe(tick->outputs, are_open);
    outputs_pass(tick->outputs, tick->channels);
    channels_send(tick->channels);
    return are_open && outputs_obey(tick->outputs, true);
}

void tick_finish_record(struct tick *tick, int space)
{
    struct space_state *state = &tick->states[space];
    if (!tick->has_run) {
        return;
    }
    if (space_stop(state, &tick->config->spaces[space].rules)) {
        const struct decide_event off = {.kind = EVENT_LIGHTS_OFF,
                                         .fixture = -1,
                                         .a = state->account.delivered_mol,
                                         .b = UNITS_NONE};
        struct journal_event event;
        recorder_event(tick->config, space, &off, tick->sure_s, state->light_day, &event);
        (void)journal_put_event(tick->journal, &event); /* a loss is counted by the journal */
    }
    recorder_finish(&tick->spaces[space].recorder, tick->journal, state, tick->sure_s);
    tick_keep_day(tick, space);
}

void tick_finish_records(struct tick *tick)
{
    for (int i = 0; i < tick->config->space_count; i++) {
        tick_finish_record(tick, i);
    }
}

struct alarms *tick_alarms(const struct tick *tick)
{
    return tick->alarms;
}

void tick_set_hand(struct tick *tick, int space, const struct hand *hand)
{
    tick->spaces[space].hand = *hand;
}

void tick_acknowledge(struct tick *tick, int space)
{
    tick->spaces[space].acknowledged = true;
}

struct snapshot *tick_snapshot(struct tick *tick)
{
    return tick->snapshot;
}

struct channels *tick_channels(struct tick *tick)
{
    return tick->channels;
}

const struct config *tick_config(const struct tick *tick)
{
    return tick->config;
}

const struct space_state *tick_state(const struct tick *tick, int space)
{
    return &tick->states[space];
}

int64_t tick_sure_s(const struct tick *tick)
{
    return tick->sure_s;
}
