/* SPDX-License-Identifier: Apache-2.0 */
/* The journal's thread: when to write, what a failure means, and the way back. */
#include "journal_writer.h"

#include "clock.h"
#include "log.h"
#include "units.h"

#include <stdio.h>

#define UPKEEP_NS       (86400 * CLOCK_NS_PER_S)
#define UPKEEP_STEP_NS  (CLOCK_NS_PER_S / 5)
#define WAL_ALARM_BYTES (UINT64_C(8) << 20)

static bool has_work(const struct journal *journal)
{
    return journal_queue_waiting(&journal->queue) > 0 ||
           journal_states_waiting(&journal->states) > 0;
}

bool journal_writer_is_pressed(const struct journal *journal)
{
    if (journal->is_closing || journal->flush_asked != journal->flush_done) {
        return true;
    }
    bool is_crowded = journal_queue_waiting(&journal->queue) > journal->queue.slot_count / 2;
    bool is_urgent = journal->is_urgent && journal->urgent_left > 0;
    return journal->health != JOURNAL_WAITING && (is_crowded || is_urgent);
}

/* The moment at which the thread has to look again; 0: at once. */
static int64_t next_look_ns(const struct journal *journal)
{
    if (journal_writer_is_pressed(journal)) {
        return 0;
    }
    if (journal->health == JOURNAL_WAITING) {
        return journal->retry_at_ns;
    }
    bool has_upkeep = journal->health == JOURNAL_HEALTHY && !journal->is_rehearsal;
    return has_upkeep && journal->upkeep_at_ns < journal->next_commit_ns ? journal->upkeep_at_ns
                                                                         : journal->next_commit_ns;
}

static void put_own_event(struct journal *journal, enum journal_class class, const char *kind,
                          const char *text)
{
    struct journal_event event = {.class = class, .a = UNITS_NONE, .b = UNITS_NONE};
    (void)snprintf(event.kind, sizeof event.kind, "%s", kind);
    (void)snprintf(event.text, sizeof event.text, "%s", text);
    (void)pthread_mutex_lock(&journal->mutex);
    /* A clock that ran ahead would leave an entry that no later clock can pass. */
    event.wall_s = journal->vouched_s ? journal->vouched_s : clock_wall_ns() / CLOCK_NS_PER_S;
    event.light_day = event.wall_s / UNITS_S_PER_DAY;
    (void)journal_queue_put_event(&journal->queue, &event);
    journal->is_urgent = journal->is_urgent || class == JOURNAL_ALARM;
    (void)pthread_mutex_unlock(&journal->mutex);
}

/* What one transaction holds, told when it is committed. */
struct batch {
    uint64_t written, refused;
    int64_t latest_s; /* wall time; 0: nothing with one */
    uint64_t marks[JOURNAL_STATES_MAX];
};

static void note_time(struct batch *batch, int64_t wall_s)
{
    batch->latest_s = wall_s > batch->latest_s ? wall_s : batch->latest_s;
}

/* A day's summary has no moment of its own: 0. */
static int64_t time_of(const struct journal_record *record)
{
    switch (record->kind) {
    case JOURNAL_MINUTE:
        return record->minute.wall_s;
    case JOURNAL_EVENT:
        return record->event.wall_s;
    case JOURNAL_DAY:
    case JOURNAL_KIND_COUNT:
        break;
    }
    return 0;
}

/* A record that cannot be stored is left out; anything worse ends the batch. */
static enum store_result put_in_flight(struct journal *journal, struct batch *batch)
{
    for (int kind = 0; kind < JOURNAL_KIND_COUNT; kind++) {
        const struct journal_record *record = journal->queue.in_flight[kind].first;
        for (; record; record = record->next) {
            enum store_result result = journal_store_put(&journal->store, record);
            if (result != STORE_OK && result != STORE_REFUSED) {
                return result;
            }
            if (result == STORE_OK) {
                batch->written++;
                note_time(batch, time_of(record));
            } else {
                batch->refused++;
            }
        }
    }
    return STORE_OK;
}

static enum store_result put_states(struct journal *journal, struct batch *batch)
{
    for (int i = 0; i < JOURNAL_STATES_MAX; i++) {
        (void)pthread_mutex_lock(&journal->mutex);
        bool is_there = i < journal->states.count;
        bool is_copied = is_there && journal_states_copy(&journal->states, i, &journal->copy) == 0;
        (void)pthread_mutex_unlock(&journal->mutex);
        if (!is_there) {
            break;
        }
        if (!is_copied || journal->copy.state.size == 0) {
            continue; /* no memory: the next commit may have some */
        }
        enum store_result result = journal_store_put_state(&journal->store, &journal->copy.state);
        if (result != STORE_OK && result != STORE_REFUSED) {
            return result;
        }
        batch->marks[i] = journal->copy.mark;
        note_time(batch, result == STORE_OK ? journal->copy.state.wall_s : 0);
    }
    return STORE_OK;
}

/* The mutex is held. */
static void settle(struct journal *journal, const struct batch *batch)
{
    journal->written += batch->written;
    journal->queue.dropped += batch->refused;
    journal->last_commit_ns = clock_boot_ns();
    journal->stored_s = batch->latest_s != 0 ? batch->latest_s : journal->stored_s;
    journal->stored_event = journal->store.event_id;
    for (int i = 0; i < JOURNAL_STATES_MAX; i++) {
        if (batch->marks[i] != 0) {
            journal_states_settle(&journal->states, i, batch->marks[i]);
        }
    }
}

static enum store_result write_batch(struct journal *journal)
{
    struct batch batch = {0};
    (void)pthread_mutex_lock(&journal->mutex);
    bool is_needed = has_work(journal);
    journal_queue_take(&journal->queue);
    (void)pthread_mutex_unlock(&journal->mutex);
    if (!is_needed) {
        return STORE_OK;
    }
    enum store_result result = journal_store_begin(&journal->store);
    result = result == STORE_OK ? put_in_flight(journal, &batch) : result;
    result = result == STORE_OK ? put_states(journal, &batch) : result;
    result = result == STORE_OK ? journal_store_commit(&journal->store) : result;
    uint64_t file_bytes = journal_store_bytes(&journal->store);

    (void)pthread_mutex_lock(&journal->mutex);
    journal_queue_settle(&journal->queue, result == STORE_OK);
    journal->file_bytes = file_bytes;
    if (result == STORE_OK) {
        settle(journal, &batch);
    }
    (void)pthread_cond_broadcast(&journal->done);
    (void)pthread_mutex_unlock(&journal->mutex);
    return result;
}

static enum store_result attempt(struct journal *journal)
{
    if (!journal->store.db) {
        enum store_result result = journal_store_open(&journal->store, journal->damage_seen > 0);
        if (result != STORE_OK) {
            return result;
        }
    }
    return write_batch(journal);
}

/* Damage counts only when a fresh connection finds it again. */
static enum store_result attempt_twice(struct journal *journal)
{
    enum store_result result = attempt(journal);
    for (int turn = 0; result == STORE_DAMAGED && turn < 3; turn++) {
        journal_store_close(&journal->store);
        if (++journal->damage_seen >= 2) {
            char text[192];
            int64_t wall_s = clock_wall_ns() / CLOCK_NS_PER_S;
            (void)snprintf(text, sizeof text,
                           "the journal was damaged and set aside with the ending .corrupt-%lld, "
                           "a new one begun (%.80s)",
                           (long long)wall_s, journal->store.reason);
            if (journal_store_set_aside(&journal->store, wall_s) != STORE_OK) {
                return STORE_RETRY;
            }
            journal->damage_seen = 0;
            log_error("journal %s: %s", journal->store.path, text);
            put_own_event(journal, JOURNAL_ALARM, "journal-damaged", text);
        }
        result = attempt(journal);
    }
    return result == STORE_DAMAGED ? STORE_RETRY : result;
}

static void become(struct journal *journal, enum journal_health health, const char *reason)
{
    (void)pthread_mutex_lock(&journal->mutex);
    journal->health = health;
    (void)snprintf(journal->reason, sizeof journal->reason, "%s", reason);
    (void)pthread_mutex_unlock(&journal->mutex);
}

static void begin_waiting(struct journal *journal)
{
    int64_t now_ns = clock_boot_ns();
    journal_store_close(&journal->store); /* a fresh connection finds a disk that came back */
    journal->retry_at_ns = now_ns + journal->retry_ns;
    if (journal->health == JOURNAL_HEALTHY) {
        journal->waiting_since_ns = now_ns;
        (void)pthread_mutex_lock(&journal->mutex);
        journal->dropped_before = journal->queue.dropped;
        (void)pthread_mutex_unlock(&journal->mutex);
        log_warning("journal %s cannot be written: %s; records wait in memory, trying again every "
                    "%.3g s",
                    journal->store.path, journal->store.reason,
                    (double)journal->retry_ns / (double)CLOCK_NS_PER_S);
    }
    become(journal, JOURNAL_WAITING, journal->store.reason);
}

static void become_healthy(struct journal *journal)
{
    if (journal->health != JOURNAL_WAITING) {
        return;
    }
    (void)pthread_mutex_lock(&journal->mutex);
    uint64_t lost = journal->queue.dropped - journal->dropped_before;
    (void)pthread_mutex_unlock(&journal->mutex);
    double waited_s =
        (double)(clock_boot_ns() - journal->waiting_since_ns) / (double)CLOCK_NS_PER_S;
    char text[192];
    (void)snprintf(text, sizeof text,
                   "the journal could not be written for %.0f s (%s); %llu records were lost",
                   waited_s, journal->reason, (unsigned long long)lost);
    become(journal, JOURNAL_HEALTHY, "");
    log_info("journal %s is written again: %s", journal->store.path, text);
    put_own_event(journal, JOURNAL_NOTICE, "journal-back", text);
}

static void turn_off(struct journal *journal)
{
    if (journal->health != JOURNAL_OFF) {
        log_error("journal %s is off: %s; nothing is recorded", journal->store.path,
                  journal->store.reason);
    }
    become(journal, JOURNAL_OFF, journal->store.reason);
    (void)pthread_mutex_lock(&journal->mutex);
    journal_queue_drop_all(&journal->queue);
    (void)pthread_cond_broadcast(&journal->done);
    (void)pthread_mutex_unlock(&journal->mutex);
}

static void judge(struct journal *journal, enum store_result result)
{
    switch (result) {
    case STORE_OK:
        journal->damage_seen = 0;
        become_healthy(journal);
        break;
    case STORE_FOREIGN:
        turn_off(journal);
        break;
    case STORE_RETRY:
    case STORE_LOCKED:
    case STORE_DAMAGED:
    case STORE_REFUSED:
        begin_waiting(journal);
        break;
    }
}

static void watch_wal(struct journal *journal)
{
    bool is_large = journal_store_wal_bytes(&journal->store) > WAL_ALARM_BYTES;
    if (is_large && !journal->has_warned_wal) {
        log_warning("journal %s: its write-ahead log has grown over 8 MiB: some reader never "
                    "ends",
                    journal->store.path);
    }
    journal->has_warned_wal = is_large;
}

/* One step of the nightly work; the steps are spread so that records go between them. */
static void upkeep(struct journal *journal)
{
    int64_t now_ns = clock_boot_ns();
    if (journal->is_rehearsal || journal->health != JOURNAL_HEALTHY || !journal->store.db ||
        now_ns < journal->upkeep_at_ns) {
        return;
    }
    bool dropped = false;
    enum store_result result = STORE_OK;
    if (journal->keep_days > 0 && journal->upkeep_steps_left > 0) {
        journal->upkeep_steps_left--;
        result = journal_store_drop_oldest(&journal->store, journal->keep_days, &dropped);
    }
    if (result == STORE_OK && !dropped) {
        watch_wal(journal);
        result = journal_store_checkpoint(&journal->store);
        journal->upkeep_steps_left = JOURNAL_UPKEEP_STEPS;
    }
    journal->upkeep_at_ns = now_ns + (dropped ? UPKEEP_STEP_NS : UPKEEP_NS);
    if (result != STORE_OK) {
        judge(journal, result == STORE_DAMAGED ? attempt_twice(journal) : result);
    }
}

/* One turn of the thread, entered and left with the mutex held. */
static void turn(struct journal *journal)
{
    int64_t now_ns = clock_boot_ns();
    uint64_t flush = journal->flush_asked;
    bool is_usual = now_ns >= journal->next_commit_ns;
    if (is_usual && journal->urgent_left < JOURNAL_URGENT_MAX) {
        journal->urgent_left++;
    } else if (!is_usual && journal->is_urgent && journal->urgent_left > 0) {
        journal->urgent_left--;
    }
    journal->is_urgent = false;
    journal->next_commit_ns = now_ns + journal->commit_ns;
    bool is_off = journal->health == JOURNAL_OFF;
    (void)pthread_mutex_unlock(&journal->mutex);
    if (is_off) {
        turn_off(journal);
    } else {
        judge(journal, attempt_twice(journal));
        upkeep(journal);
    }
    (void)pthread_mutex_lock(&journal->mutex);
    journal->flush_done = flush;
    (void)pthread_cond_broadcast(&journal->done);
}

void *journal_writer_run(void *context)
{
    struct journal *journal = context;
    (void)pthread_mutex_lock(&journal->mutex);
    while (!journal->is_closing) {
        int64_t look_ns = next_look_ns(journal);
        if (look_ns > clock_boot_ns()) {
            (void)clock_wait_until(&journal->work, &journal->mutex, look_ns);
            continue;
        }
        turn(journal);
    }
    (void)pthread_mutex_unlock(&journal->mutex);
    journal_store_finish(&journal->store);
    (void)pthread_mutex_lock(&journal->mutex);
    journal->has_ended = true;
    (void)pthread_cond_broadcast(&journal->done);
    (void)pthread_mutex_unlock(&journal->mutex);
    return NULL;
}
