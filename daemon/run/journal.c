/* SPDX-License-Identifier: Apache-2.0 */
/* The callers' side of the journal: start, put, flush, stop. journal_writer.c is its thread. */
#include "journal.h"

#include "clock.h"
#include "err.h"
#include "journal_writer.h"
#include "log.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>

#define QUEUE_DEFAULT    8192
#define RETRY_DEFAULT_S  60.0
#define FLUSH_AT_CLOSE_S 3.0
#define END_WAIT_S       2.0 /* for the thread, after the flush */
#define LOCK_WAIT_S      1.0 /* a stopping predecessor may still hold the file */

static void destroy(struct journal *journal)
{
    journal_store_finish(&journal->store);
    journal_queue_finish(&journal->queue);
    journal_states_finish(&journal->states);
    free(journal->copy.buffer);
    (void)pthread_cond_destroy(&journal->work);
    (void)pthread_cond_destroy(&journal->done);
    (void)pthread_mutex_destroy(&journal->mutex);
    free(journal);
}

static int take_lock(struct journal *journal, struct err *err)
{
    int64_t give_up_ns = clock_boot_ns() + (int64_t)(LOCK_WAIT_S * (double)CLOCK_NS_PER_S);
    while (journal_store_lock(&journal->store) == STORE_LOCKED) {
        if (clock_boot_ns() >= give_up_ns) {
            return err_fail(err, EBUSY, "journal %s: another process writes it",
                            journal->store.path);
        }
        (void)clock_sleep_until(clock_boot_ns() + 20 * CLOCK_NS_PER_MS, NULL);
    }
    return 0; /* other failures are the thread's to report and to try again */
}

static int start_thread(struct journal *journal, struct err *err)
{
    sigset_t all;
    sigset_t before;
    (void)sigfillset(&all); /* signals are for the main thread */
    (void)pthread_sigmask(SIG_SETMASK, &all, &before);
    int code = pthread_create(&journal->thread, NULL, journal_writer_run, journal);
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return code == 0 ? 0
                     : err_fail(err, code, "journal %s: no thread (%s)", journal->store.path,
                                err_name(code));
}

int journal_open(const struct journal_options *options, struct journal **ret, struct err *err)
{
    struct journal *journal = calloc(1, sizeof *journal);
    if (!journal) {
        return err_fail(err, ENOMEM, "journal: no memory");
    }
    (void)pthread_mutex_init(&journal->mutex, NULL); /* cannot fail on Linux */
    (void)pthread_cond_init(&journal->work, NULL);
    (void)pthread_cond_init(&journal->done, NULL);
    journal->keep_days = options->keep_days;
    journal->is_rehearsal = options->is_rehearsal;
    journal->commit_ns = (int64_t)(options->commit_s * (double)CLOCK_NS_PER_S);
    double retry_s = options->retry_s > 0 ? options->retry_s : RETRY_DEFAULT_S;
    journal->retry_ns = (int64_t)(retry_s * (double)CLOCK_NS_PER_S);
    journal->urgent_left = JOURNAL_URGENT_MAX;
    journal->upkeep_steps_left = JOURNAL_UPKEEP_STEPS;
    size_t slots = options->queue_max > 0 ? options->queue_max : QUEUE_DEFAULT;
    int code = journal_store_init(&journal->store, options->path, options->is_rehearsal);
    if (code != 0) {
        (void)err_fail(err, ENAMETOOLONG, "journal %s: the path is too long", options->path);
    } else if ((code = journal_queue_init(&journal->queue, slots)) != 0) {
        (void)err_fail(err, ENOMEM, "journal %s: no memory for its queue", options->path);
    } else if ((code = take_lock(journal, err)) == 0) {
        code = start_thread(journal, err);
    }
    if (code != 0) {
        destroy(journal);
        return code;
    }
    *ret = journal;
    return 0;
}

/* Locks for a put. In a rehearsal a full queue waits: simulated time can. */
static bool enter(struct journal *journal)
{
    if (!journal) {
        return false;
    }
    (void)pthread_mutex_lock(&journal->mutex);
    while (journal->is_rehearsal && journal_queue_is_full(&journal->queue) &&
           journal->health == JOURNAL_HEALTHY) {
        (void)pthread_cond_signal(&journal->work);
        (void)pthread_cond_wait(&journal->done, &journal->mutex);
    }
    return true;
}

static bool leave(struct journal *journal, bool is_urgent, bool is_taken)
{
    journal->is_urgent = journal->is_urgent || (is_urgent && !journal->is_rehearsal);
    if (journal_writer_is_pressed(journal)) {
        (void)pthread_cond_signal(&journal->work);
    }
    (void)pthread_mutex_unlock(&journal->mutex);
    return is_taken;
}

bool journal_put_minute(struct journal *journal, const struct journal_minute *minute)
{
    return enter(journal) &&
           leave(journal, false, journal_queue_put_minute(&journal->queue, minute));
}

bool journal_put_event(struct journal *journal, const struct journal_event *event)
{
    if (!enter(journal)) {
        return false;
    }
    journal->vouched_s = event->wall_s;
    return leave(journal, event->class == JOURNAL_ALARM,
                 journal_queue_put_event(&journal->queue, event));
}

bool journal_put_day(struct journal *journal, const struct journal_day *day)
{
    return enter(journal) && leave(journal, false, journal_queue_put_day(&journal->queue, day));
}

bool journal_put_state(struct journal *journal, const struct journal_state *state)
{
    return enter(journal) && leave(journal, false, journal_states_put(&journal->states, state));
}

struct journal_status journal_get_status(struct journal *journal)
{
    if (!journal) {
        return (struct journal_status){.health = JOURNAL_OFF};
    }
    (void)pthread_mutex_lock(&journal->mutex);
    struct journal_status status = {
        .health = journal->health,
        .written = journal->written,
        .dropped = journal->queue.dropped,
        .queued = journal_queue_count(&journal->queue),
        .last_commit_ns = journal->last_commit_ns,
        .stored_s = journal->stored_s,
        .stored_event = journal->stored_event,
        .file_bytes = journal->file_bytes,
    };
    memcpy(status.reason, journal->reason, sizeof status.reason);
    (void)pthread_mutex_unlock(&journal->mutex);
    return status;
}

static int64_t deadline_ns(double timeout_s)
{
    return clock_boot_ns() + (int64_t)(timeout_s * (double)CLOCK_NS_PER_S);
}

bool journal_flush(struct journal *journal, double timeout_s)
{
    if (!journal) {
        return true;
    }
    int64_t until_ns = deadline_ns(timeout_s);
    (void)pthread_mutex_lock(&journal->mutex);
    uint64_t mine = ++journal->flush_asked;
    (void)pthread_cond_signal(&journal->work);
    while (journal->flush_done < mine &&
           clock_wait_until(&journal->done, &journal->mutex, until_ns) == 0) {
    }
    bool is_written = journal->flush_done >= mine && journal->health == JOURNAL_HEALTHY &&
                      journal_queue_count(&journal->queue) == 0;
    (void)pthread_mutex_unlock(&journal->mutex);
    return is_written;
}

void journal_close(struct journal *journal)
{
    if (!journal) {
        return;
    }
    atomic_store(&journal->store.no_check, true);
    if (!journal_flush(journal, FLUSH_AT_CLOSE_S)) {
        struct journal_status status = journal_get_status(journal);
        if (status.queued > 0) {
            log_warning("journal %s: %llu records could not be written before the stop",
                        journal->store.path, (unsigned long long)status.queued);
        }
    }
    int64_t until_ns = deadline_ns(END_WAIT_S);
    (void)pthread_mutex_lock(&journal->mutex);
    journal->is_closing = true;
    (void)pthread_cond_signal(&journal->work);
    while (!journal->has_ended &&
           clock_wait_until(&journal->done, &journal->mutex, until_ns) == 0) {
    }
    bool has_ended = journal->has_ended;
    (void)pthread_mutex_unlock(&journal->mutex);
    if (!has_ended) {
        (void)pthread_detach(journal->thread); /* its memory stays: it still uses it */
        return;
    }
    (void)pthread_join(journal->thread, NULL);
    destroy(journal);
}
