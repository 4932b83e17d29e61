/* SPDX-License-Identifier: Apache-2.0 */
/* Taking up and saving the states of the spaces. */
#include "tick_private.h"

#include "ageings.h"
#include "daylogs.h"
#include "err.h"
#include "journal_read.h"
#include "log.h"
#include "skies.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

static const int64_t journal_every_ns = 60 * UNITS_NS_PER_S;
static const int64_t days_every_ns = 900 * UNITS_NS_PER_S;

static bool from_file(const struct tick *tick, const char *space,
                      const struct resume_moment *moment, struct resume_record *ret)
{
    struct err err = {""};
    int code = resume_read(tick->resume_path, space, ret, &err);
    if (code == 0) {
        code = resume_rebase(ret, moment, &err);
    }
    if (code < 0 && code != -ENOENT) {
        log_warning("%s: %s, ignoring it", space, err.text);
    }
    return code == 0;
}

static bool from_journal(struct journal_reader *reader, const char *space,
                         const struct resume_moment *moment, struct resume_record *ret)
{
    unsigned char data[RESUME_PACKED_MAX];
    struct err err = {""};
    int64_t wall_s = 0;
    int64_t size = journal_read_state(reader, space, data, sizeof data, &wall_s, &err);
    if (size < 0) {
        return false; /* none, or said when the journal was opened */
    }
    int code = size <= (int64_t)sizeof data
                   ? resume_unpack(data, (size_t)size, ret, NULL, &err)
                   : err_fail(&err, EPROTO, "a saved state of another version of this program");
    if (code == 0) {
        code = resume_rebase(ret, moment, &err);
    }
    if (code < 0) {
        log_warning("%s: the journal holds %s, ignoring it", space, err.text);
    }
    return code == 0;
}

static void adopt(struct tick *tick, int space, const struct resume_record *record, int64_t boot_ns)
{
    const struct config_space *its = &tick->config->spaces[space];
    resume_adopt(record, tick->config, space, &tick->states[space]);
    space_resume(&tick->states[space], &its->rules);
    tick->spaces[space].hand = record->hand;
    tick_rebase_correction(tick, space);
    log_info("%s: going on from a state saved %.0f s ago", its->name,
             units_seconds(boot_ns - record->boot_ns));
}

static void restore_learned(struct tick *tick, struct journal_reader *reader, int space)
{
    const struct config_space *its = &tick->config->spaces[space];
    struct err err = {""};
    if (!reader) {
        return;
    }
    const int code = skies_restore(reader, its->name, &tick->states[space].learned, &err);
    if (code < 0 && code != -ENOENT) {
        log_warning("%s: %s, it is learned afresh", its->name, err.text);
    }
}

static void restore_ageing(struct tick *tick, struct journal_reader *reader, int space)
{
    const char *name = tick->config->spaces[space].name;
    struct err err = {""};
    if (!reader) {
        return;
    }
    const int code = ageings_restore(reader, name, &tick->states[space].ageing, &err);
    if (code < 0 && code != -ENOENT) {
        log_warning("%s: %s, it is followed afresh", name, err.text);
    }
}

/* Of a space that goes on with a light day. */
static void restore_daylog(struct tick *tick, struct journal_reader *reader, int space)
{
    const char *name = tick->config->spaces[space].name;
    struct space_state *state = &tick->states[space];
    struct err err = {""};
    if (!reader || !state->is_begun) {
        return;
    }
    const int code = daylogs_restore(reader, name, state->light_day, &state->daylog, &err);
    if (code < 0 && code != -ENOENT) {
        log_warning("%s: %s, what the day could have cost stays unknown", name, err.text);
    }
}

static int take_closed(const struct journal_day *day, void *context)
{
    struct tick_space *its = context;
    if (day->is_closed) {
        its->has_last_day = true;
        its->last_day = day->summary;
    }
    return 0;
}

/* The last finished light day: of the last two that are stored one is finished. */
static void restore_last_day(struct tick *tick, struct journal_reader *reader, int space)
{
    const char *name = tick->config->spaces[space].name;
    int64_t first = 0;
    int64_t last = 0;
    if (reader && journal_read_day_range(reader, name, &first, &last, NULL) == 0) {
        const struct journal_range range = {name, last - 1, last + 1};
        (void)journal_read_days(reader, &range, take_closed, &tick->spaces[space], NULL);
    }
}

void tick_restore(struct tick *tick, const struct tick_setup *setup)
{
    struct journal_reader *reader = NULL;
    const char *journal_path = tick->config->journal.path;
    if (journal_path[0] && journal_reader_open(journal_path, &reader, NULL) < 0) {
        reader = NULL; /* the writer will say what is wrong with it */
    }
    /* Whether the clock may be believed decides how records are taken up, and the records know
     * whether it was synchronised in this boot: a first look without them, then one with them. */
    struct clocktrust look;
    clocktrust_init(&look, false, 0);
    (void)clocktrust_step(&tick->clock_rules, &look, setup->now_boot_ns, setup->now_wall_ns,
                          setup->sync);
    bool has_sync = false;
    int64_t synced_offset_ns = 0;
    for (int i = 0; i < tick->config->space_count; i++) {
        struct resume_record file_record;
        struct resume_record journal_record;
        const char *name = tick->config->spaces[i].name;
        struct resume_moment moment = {tick->boot_id, setup->now_boot_ns,
                                       setup->now_wall_ns / UNITS_NS_PER_S,
                                       look.trust != CLOCK_UNTRUSTED};
        bool has_file = from_file(tick, name, &moment, &file_record);
        if (has_file && file_record.has_sync) {
            has_sync = true;
            synced_offset_ns = file_record.synced_offset_ns;
        }
        bool has_journal = reader && from_journal(reader, name, &moment, &journal_record);
        const struct resume_record *newest =
            resume_newer(has_file ? &file_record : NULL, has_journal ? &journal_record : NULL);
        if (newest) {
            adopt(tick, i, newest, setup->now_boot_ns);
        }
        restore_learned(tick, reader, i);
        restore_ageing(tick, reader, i);
        restore_daylog(tick, reader, i);
        restore_last_day(tick, reader, i);
    }
    journal_reader_close(reader);
    clocktrust_init(&tick->clock, has_sync, synced_offset_ns);
    tick_open_resume(tick);
}

void tick_open_resume(struct tick *tick)
{
    struct err err = {""};
    /* First: one that was never committed takes its .new file with it. */
    resume_close(tick->resume);
    tick->resume = NULL;
    if (resume_create(tick->resume_path, tick->config->space_count, &tick->resume, &err) < 0) {
        log_warning("%s; a restart will go on from the journal", err.text);
    }
    tick->saved_ns = 0;
}

static void fill_record(struct tick *tick, int space, const struct tick_time *time)
{
    const struct config_space *its = &tick->config->spaces[space];
    struct resume_record *record = &tick->scratch;
    (void)snprintf(record->space, sizeof record->space, "%s", its->name);
    (void)snprintf(record->boot_id, sizeof record->boot_id, "%s", tick->boot_id);
    record->boot_ns = time->boot_ns;
    record->wall_s = time->wall_ns / UNITS_NS_PER_S;
    record->clock_trusted = tick->clock.trust != CLOCK_UNTRUSTED;
    record->has_sync = tick->clock.was_synchronised;
    record->synced_offset_ns = tick->clock.synced_offset_ns;
    record->hand = tick->spaces[space].hand;
    record->fixture_count = its->rules.fixture_count;
    for (int place = 0; place < record->fixture_count; place++) {
        (void)snprintf(record->fixtures[place], sizeof record->fixtures[place], "%s",
                       tick->config->fixtures[its->fixtures[place]].name);
    }
    resume_note(record, &tick->states[space]);
}

static void put_into_journal(struct tick *tick)
{
    const struct resume_record *record = &tick->scratch;
    struct journal_state state = {.wall_s = tick->sure_s, .data = tick->packed};
    (void)snprintf(state.space, sizeof state.space, "%s", record->space);
    state.size = resume_pack(record, 0, tick->packed);
    (void)journal_put_state(tick->journal, &state); /* the next one comes in a minute */
}

void tick_keep_day(const struct tick *tick, int space)
{
    const struct space_state *state = &tick->states[space];
    if (state->is_begun) {
        daylogs_keep(tick->journal, tick->config->spaces[space].name, tick->sure_s,
                     state->light_day, &state->daylog);
    }
}

void tick_keep_learned(const struct tick *tick, int space)
{
    const struct space_state *state = &tick->states[space];
    const char *name = tick->config->spaces[space].name;
    skies_keep(tick->journal, name, tick->sure_s, &state->learned);
    ageings_keep(tick->journal, name, tick->sure_s, &state->ageing);
}

/* Not with the first tick: what was kept before is still true then, and nothing is newer. */
static void keep_days(struct tick *tick, int64_t boot_ns)
{
    if (tick->days_kept_ns == 0) {
        tick->days_kept_ns = boot_ns;
    }
    if (boot_ns - tick->days_kept_ns < days_every_ns) {
        return;
    }
    tick->days_kept_ns = boot_ns;
    for (int i = 0; i < tick->config->space_count; i++) {
        tick_keep_day(tick, i);
    }
}

void tick_save(struct tick *tick, const struct tick_time *time)
{
    keep_days(tick, time->boot_ns);
    bool is_due = tick->journal && time->boot_ns - tick->saved_ns >= journal_every_ns;
    if (!tick->resume && !is_due) {
        return;
    }
    for (int i = 0; i < tick->config->space_count; i++) {
        fill_record(tick, i, time);
        if (tick->resume) {
            resume_store(tick->resume, i, &tick->scratch);
        }
        if (is_due) {
            put_into_journal(tick);
        }
    }
    if (is_due) {
        tick->saved_ns = time->boot_ns;
    }
    if (tick->resume && !resume_is_committed(tick->resume)) {
        struct err err = {""};
        if (resume_commit(tick->resume, &err) < 0) {
            log_warning("%s; a restart will go on from the journal", err.text);
            resume_close(tick->resume);
            tick->resume = NULL;
        }
    }
}
