/* SPDX-License-Identifier: Apache-2.0 */
/* Log lines and events about what changed since the last tick; each change is told once. */
#include "tick_private.h"

#include "alarm.h"
#include "announce.h"
#include "parse.h"
#include "tariff_words.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

static const int64_t bus_patience_ns = 5 * UNITS_NS_PER_S; /* for the first connection */
static const int64_t repeat_ns = 600 * UNITS_NS_PER_S;

int tick_told_init(struct tick_told *told, const struct config *config)
{
    told->buses = calloc((size_t)config->bus_count + 1, sizeof *told->buses);
    told->sensor_is_lost = calloc((size_t)config->sensor_count + 1, sizeof *told->sensor_is_lost);
    if (!told->buses || !told->sensor_is_lost) {
        tick_told_finish(told);
        return -ENOMEM;
    }
    for (int i = 0; i < config->bus_count; i++) {
        told->buses[i].is_up = true; /* only what is not as it should be is news */
    }
    return 0;
}

void tick_told_finish(struct tick_told *told)
{
    free(told->buses);
    free(told->sensor_is_lost);
    *told = (struct tick_told){0};
}

static void tell(const struct tick *tick, enum journal_class class, const char *kind,
                 const char *text)
{
    const struct announcement what = {.wall_s = tick->sure_s, .class = class, .kind = kind};
    announce(tick->journal, tick->alarms, &what, text);
}

static void tell_step(const struct tick *tick, const struct clocktrust_change *change)
{
    char text[192];
    char from[32];
    char to[32];
    int32_t offset_s = tick->config->site.utc_offset_s;
    parse_format_datetime(change->from_s, offset_s, from, sizeof from);
    parse_format_datetime(change->to_s, offset_s, to, sizeof to);
    (void)snprintf(text, sizeof text, "the clock was set from %s to %s", from, to);
    const struct announcement what = {.wall_s = tick->sure_s,
                                      .class = JOURNAL_NOTICE,
                                      .kind = "clock-step",
                                      .has_values = true,
                                      .a = (double)change->from_s,
                                      .b = (double)change->to_s};
    announce(tick->journal, tick->alarms, &what, text);
}

void tick_tell_clock(struct tick *tick, const struct clocktrust_change *change)
{
    char text[192];
    if (change->stepped) {
        tell_step(tick, change);
    }
    if (change->trust_changed) {
        enum journal_class class =
            tick->clock.trust == CLOCK_UNTRUSTED ? JOURNAL_ALARM : JOURNAL_INFO;
        const char *word = tick->clock.trust == CLOCK_UNTRUSTED ? "not believed" : "believed";
        (void)snprintf(text, sizeof text, "the clock is %s: %s", word, tick->clock.reason);
        tell(tick, class, "clock-state", text);
    } else if (!tick->has_run && tick->ticks == 0 && tick->clock.trust == CLOCK_UNTRUSTED) {
        (void)snprintf(text, sizeof text, "the clock is not believed: %s", tick->clock.reason);
        tell(tick, JOURNAL_ALARM, "clock-state", text);
    }
    if (tick->clock.is_behind_journal && !tick->told.behind_journal) {
        tell(tick, JOURNAL_NOTICE, "clock-behind-journal",
             "the clock is synchronised, yet earlier than the journal's latest entry: "
             "some entries carry times of a clock that ran ahead");
    }
    tick->told.behind_journal = tick->clock.is_behind_journal;
}

/* A clock that is not believed says nothing of what a file of prices should cover. */
void tick_tell_prices(struct tick *tick)
{
    const struct config_site *site = &tick->config->site;
    char text[TARIFF_WORDS_MAX];
    bool is_missing = tariff_misses_series(&site->tariff, tick->sure_s);
    if (tick->clock.trust == CLOCK_UNTRUSTED || is_missing == tick->told.prices_missing) {
        return;
    }
    tick->told.prices_missing = is_missing;
    if (is_missing) {
        tariff_words_gap(site, tick->sure_s, text, sizeof text);
        tell(tick, JOURNAL_NOTICE, "prices-missing", text);
    } else {
        tell(tick, JOURNAL_INFO, "prices-back", "the prices of this hour are known again");
    }
}

/* The journal logs and stores its own troubles; those who are to be told outside are told here. */
static void tell_journal(struct tick *tick)
{
    if (!tick->journal) {
        return;
    }
    const struct journal_status status = journal_get_status(tick->journal);
    const bool is_well = status.health == JOURNAL_HEALTHY;
    if (is_well == !tick->told.journal_waits) {
        return;
    }
    tick->told.journal_waits = !is_well;
    struct journal_event event = {.wall_s = tick->sure_s,
                                  .class = is_well ? JOURNAL_NOTICE : JOURNAL_ALARM,
                                  .a = UNITS_NONE,
                                  .b = UNITS_NONE};
    (void)snprintf(event.kind, sizeof event.kind, is_well ? "journal-back" : "journal-waiting");
    (void)snprintf(event.text, sizeof event.text, "%s%s",
                   is_well ? "the journal is written again" : "the journal cannot be written: ",
                   status.reason);
    alarms_note(tick->alarms, &event);
}

static void tell_lost(struct tick *tick, int bus, const char *reason, int64_t boot_ns)
{
    struct tick_told_bus *told = &tick->told.buses[bus];
    const char *name = tick->config->buses[bus].name;
    char text[192];
    told->is_up = false;
    told->was_lost_told = !told->has_lost || boot_ns - told->lost_told_ns >= repeat_ns;
    if (!told->was_lost_told) {
        told->untold++;
        return;
    }
    if (told->untold > 0) {
        (void)snprintf(text, sizeof text,
                       "bus %.31s is lost: %.90s; trying again (and %d times before)", name, reason,
                       told->untold);
    } else {
        (void)snprintf(text, sizeof text, "bus %.31s is lost: %.120s; trying again", name, reason);
    }
    told->has_lost = true;
    told->lost_told_ns = boot_ns;
    told->untold = 0;
    tell(tick, JOURNAL_ALARM, "bus-lost", text);
}

static void tell_back(struct tick *tick, int bus)
{
    struct tick_told_bus *told = &tick->told.buses[bus];
    char text[192];
    told->is_up = true;
    if (told->was_lost_told) {
        (void)snprintf(text, sizeof text, "bus %.31s is back", tick->config->buses[bus].name);
        tell(tick, JOURNAL_INFO, "bus-back", text);
    }
}

static void tell_buses(struct tick *tick, const struct tick_time *time)
{
    for (int i = 0; i < tick->config->bus_count; i++) {
        const struct mailbox_health *health = channels_bus(tick->channels, i);
        struct tick_told_bus *told = &tick->told.buses[i];
        bool is_first = health->epoch == 0;
        bool is_patient = is_first && time->boot_ns - tick->started_ns < bus_patience_ns;
        bool came_between = told->epoch != 0 && health->epoch != told->epoch;
        if (told->is_up && !is_patient && (!health->is_connected || came_between)) {
            const char *reason = health->reason[0] ? health->reason : "not connected so far";
            tell_lost(tick, i, reason, time->boot_ns);
        }
        if (health->is_connected && !told->is_up) {
            tell_back(tick, i);
        }
        told->epoch = health->epoch;
    }
}

static void tell_outputs(struct tick *tick)
{
    struct outputs_news news;
    char text[192];
    while (outputs_news(tick->outputs, &news)) {
        const char *name = tick->config->outputs[news.output].name;
        if (news.is_fault) {
            (void)snprintf(text, sizeof text, "output %.31s does not obey: %.130s", name,
                           news.reason);
            tell(tick, JOURNAL_ALARM, "output-fault", text);
        } else {
            (void)snprintf(text, sizeof text, "output %.31s obeys again", name);
            tell(tick, JOURNAL_INFO, "output-back", text);
        }
    }
}

static void tell_sensors(struct tick *tick)
{
    char text[192];
    for (int i = 0; i < tick->config->sensor_count; i++) {
        struct reading reading = inputs_reading(tick->inputs, i);
        bool *was_lost = &tick->told.sensor_is_lost[i];
        bool is_old = tick->ticks > 10; /* at the start every sensor is still silent */
        if (reading.quality == READING_LOST && !*was_lost && is_old) {
            (void)snprintf(text, sizeof text, "sensor %s gives nothing usable: %s",
                           tick->config->sensors[i].name,
                           quality_fault_name(inputs_fault(tick->inputs, i)));
            tell(tick, JOURNAL_NOTICE, "reading-lost", text);
            *was_lost = true;
        } else if (reading.quality == READING_GOOD && *was_lost) {
            (void)snprintf(text, sizeof text, "sensor %s is good again",
                           tick->config->sensors[i].name);
            tell(tick, JOURNAL_INFO, "reading-back", text);
            *was_lost = false;
        }
    }
}

void tick_tell_devices(struct tick *tick, const struct tick_time *time)
{
    tell_buses(tick, time);
    tell_outputs(tick);
    tell_sensors(tick);
    tell_journal(tick);
}

void tick_tell_verdict(struct tick *tick, int space)
{
    const struct verdict *verdict = &tick->spaces[space].verdict;
    struct journal_event event; /* the recorder stored it already */
    for (int i = 0; i < verdict->event_count; i++) {
        recorder_event(tick->config, space, &verdict->events[i], tick->sure_s,
                       tick->states[space].light_day, &event);
        tally_event(&tick->spaces[space].tally, &verdict->events[i], event.class);
        announce_log(&event);
        alarms_note(tick->alarms, &event);
    }
}
