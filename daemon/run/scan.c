/* SPDX-License-Identifier: Apache-2.0 */
#include "scan.h"

#include <errno.h>
#include <stdio.h>

static const int64_t unasked_ns = (int64_t)(SCAN_UNASKED_S * 1e9);
static const int64_t patience_ns = (int64_t)(SCAN_PATIENCE_S * 1e9);

void scan_init(struct scan *scan)
{
    pthread_mutex_init(&scan->mutex, NULL);
}

void scan_finish(struct scan *scan)
{
    pthread_mutex_destroy(&scan->mutex);
}

/* All static functions: call with the mutex held. */
static void set_reason(struct scan *scan, const char *reason)
{
    (void)snprintf(scan->view.reason, sizeof scan->view.reason, "%s", reason);
}

static void watch_time(struct scan *scan, int64_t now_ns)
{
    struct scan_view *view = &scan->view;
    if (!view->is_running) {
        return;
    }
    if (now_ns - scan->asked_ns > unasked_ns) {
        view->is_running = false;
        set_reason(scan, "nobody asked for news any more");
    } else if (now_ns - scan->moved_ns > patience_ns) {
        char last[sizeof view->reason];
        (void)snprintf(last, sizeof last, "%s", view->reason);
        view->is_running = false;
        (void)snprintf(view->reason, sizeof view->reason,
                       "address %d could not be asked for %.0f s%s%.100s", view->next,
                       SCAN_PATIENCE_S, last[0] ? ": " : "", last);
    }
}

static void go_on(struct scan *scan, int64_t now_ns)
{
    scan->view.next++;
    scan->view.is_running = scan->view.next <= scan->view.to;
    scan->moved_ns = now_ns;
    set_reason(scan, "");
}

static void note(struct scan *scan, int address, bool is_garbled, const char *words)
{
    struct scan_found *found = &scan->found[scan->view.found_count++];
    found->address = address;
    found->is_garbled = is_garbled;
    (void)snprintf(found->words, sizeof found->words, "%s", words);
}

bool scan_start(struct scan *scan, int from, int to, int64_t now_ns)
{
    pthread_mutex_lock(&scan->mutex);
    watch_time(scan, now_ns);
    bool may_start = !scan->view.is_running;
    if (may_start) {
        scan->view = (struct scan_view){.number = scan->view.number + 1,
                                        .is_running = true,
                                        .from = from,
                                        .to = to,
                                        .next = from};
        scan->asked_ns = scan->moved_ns = now_ns;
    }
    pthread_mutex_unlock(&scan->mutex);
    return may_start;
}

void scan_end(struct scan *scan)
{
    pthread_mutex_lock(&scan->mutex);
    if (scan->view.is_running) {
        scan->view.is_running = false;
        set_reason(scan, "ended by hand");
    }
    pthread_mutex_unlock(&scan->mutex);
}

bool scan_is_running(struct scan *scan, int64_t now_ns)
{
    pthread_mutex_lock(&scan->mutex);
    watch_time(scan, now_ns);
    bool is_running = scan->view.is_running;
    pthread_mutex_unlock(&scan->mutex);
    return is_running;
}

void scan_ask(struct scan *scan, uint32_t number, int64_t now_ns, struct scan_view *ret_view)
{
    pthread_mutex_lock(&scan->mutex);
    watch_time(scan, now_ns);
    if (number == scan->view.number) {
        scan->asked_ns = now_ns;
    }
    *ret_view = scan->view;
    pthread_mutex_unlock(&scan->mutex);
}

bool scan_find(struct scan *scan, int index, struct scan_found *ret)
{
    pthread_mutex_lock(&scan->mutex);
    bool is_there = index >= 0 && index < scan->view.found_count;
    if (is_there) {
        *ret = scan->found[index];
    }
    pthread_mutex_unlock(&scan->mutex);
    return is_there;
}

int scan_next(struct scan *scan, int64_t now_ns)
{
    pthread_mutex_lock(&scan->mutex);
    watch_time(scan, now_ns);
    int address = scan->view.is_running ? scan->view.next : -1;
    pthread_mutex_unlock(&scan->mutex);
    return address;
}

static void judge(struct scan *scan, int address, const struct scan_outcome *outcome,
                  int64_t now_ns)
{
    if (outcome->is_line_lost) {
        scan->view.is_running = false;
        (void)snprintf(scan->view.reason, sizeof scan->view.reason,
                       "the line was lost when address %d was asked: %.100s", address,
                       outcome->words);
    } else if (outcome->code >= 0 || outcome->code == -EBADMSG) {
        note(scan, address, outcome->code < 0, outcome->words);
        go_on(scan, now_ns);
    } else if (outcome->code == -ETIMEDOUT || outcome->code == -EINVAL) {
        go_on(scan, now_ns);
    } else { /* not now: a quarantine, or a line that does not open */
        set_reason(scan, outcome->words);
    }
}

void scan_note(struct scan *scan, int address, const struct scan_outcome *outcome, int64_t now_ns)
{
    pthread_mutex_lock(&scan->mutex);
    if (scan->view.is_running && scan->view.next == address) {
        judge(scan, address, outcome, now_ns);
    }
    pthread_mutex_unlock(&scan->mutex);
}
