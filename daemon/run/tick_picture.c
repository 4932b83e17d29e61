/* SPDX-License-Identifier: Apache-2.0 */
/* The picture of a tick, for everyone who only looks. */
#include "tick_private.h"

static void fill_picture(const struct tick *tick, const struct tick_time *time,
                         struct picture *picture)
{
    const struct config *config = tick->config;
    picture->boot_ns = time->boot_ns;
    picture->wall_ns = time->wall_ns;
    picture->clock = tick->clock;
    picture->is_ready = tick->may_light;
    picture->in_crash_loop = tick->in_crash_loop;
    picture->started_ns = tick->started_ns;
    picture->ticks = tick->ticks;
    picture->overruns = tick->overruns;
    picture->pace = tick->pace;
    powerplan_look(tick->power, &picture->power);
    picture->alarm_count = alarms_count(tick->alarms);
    for (int i = 0; i < picture->alarm_count; i++) {
        alarms_look(tick->alarms, i, &picture->alarms[i]);
    }
    picture->has_journal = tick->journal != NULL;
    if (tick->journal) {
        picture->journal = journal_get_status(tick->journal);
    }
    for (int i = 0; i < config->space_count; i++) {
        const struct tick_space *its = &tick->spaces[i];
        picture->spaces[i] =
            (struct picture_space){its->now,   tick->states[i],   its->verdict, its->air,
                                   its->tally, its->has_last_day, its->last_day};
    }
    for (int i = 0; i < config->sensor_count; i++) {
        picture->sensors[i].reading = inputs_reading(tick->inputs, i);
        picture->sensors[i].fault = inputs_fault(tick->inputs, i);
        picture->sensors[i].sample = channels_samples(tick->channels)[i];
    }
    for (int i = 0; i < config->output_count; i++) {
        outputs_look(tick->outputs, i, &picture->outputs[i]);
    }
    for (int i = 0; i < config->bus_count; i++) {
        picture->buses[i] = *channels_bus(tick->channels, i);
    }
}

void tick_show(struct tick *tick, const struct tick_time *time)
{
    struct picture *picture = snapshot_begin(tick->snapshot);
    if (picture) {
        fill_picture(tick, time, picture);
        snapshot_show(tick->snapshot, picture);
    }
}
