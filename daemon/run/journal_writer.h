/* SPDX-License-Identifier: Apache-2.0 */
/* The journal's insides, shared by its callers' side (journal.c) and its thread (journal_writer.c).
 */
#ifndef LAMPWARDEN_JOURNAL_WRITER_H
#define LAMPWARDEN_JOURNAL_WRITER_H

#include "journal_queue.h"
#include "journal_states.h"
#include "journal_store.h"

#include <pthread.h>

/* Alarms committed at once; one more is granted with every usual commit: a storm cannot wear the
 * card. */
#define JOURNAL_URGENT_MAX 30

/* Steps of retention in one night: at most a week goes, whatever the clock did. */
#define JOURNAL_UPKEEP_STEPS 28

struct journal {
    pthread_t thread;
    pthread_mutex_t mutex;
    pthread_cond_t work; /* for the thread: something to do */
    pthread_cond_t done; /* for callers: flushed, room again, ended */
    /* under the mutex */
    struct journal_queue queue;
    struct journal_states states;
    enum journal_health health;
    char reason[128];
    uint64_t written;
    int64_t last_commit_ns, stored_s, stored_event;
    uint64_t file_bytes;
    int64_t vouched_s; /* wall time of the latest event from outside: the caller knows its clock */
    bool is_urgent;
    int urgent_left; /* commits at once that alarms may still ask for */
    uint64_t flush_asked, flush_done;
    bool is_closing, has_ended;
    /* the thread's own */
    struct journal_store store;
    struct journal_states_copy copy;
    int64_t commit_ns, retry_ns;
    int64_t next_commit_ns, retry_at_ns, upkeep_at_ns;
    int64_t waiting_since_ns;
    uint64_t dropped_before; /* when the waiting began */
    int upkeep_steps_left;
    int damage_seen;
    bool has_warned_wal;
    int keep_days;
    bool is_rehearsal;
};

/* Whether the thread should not wait for its usual time. The mutex is held. */
bool journal_writer_is_pressed(const struct journal *journal);

/* The thread: writes until is_closing, then closes the store. */
void *journal_writer_run(void *journal);

#endif
