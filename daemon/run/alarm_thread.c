/* SPDX-License-Identifier: Apache-2.0 */
/* The thread of one command: what waits, what is held back, what runs. */
#include "alarm_parts.h"

#include "clock.h"
#include "log.h"
#include "units.h"

#include <stdio.h>

static const int64_t hour_ns = 3600 * CLOCK_NS_PER_S;

/* The mutex is held around everything here. When the hour allows another run: the oldest of the
 * last per_hour ones must be an hour old. */
static int64_t allowed_ns(const struct alarm *alarm)
{
    const int64_t oldest_ns = alarm->runs_ns[alarm->next_run];
    return oldest_ns == 0 ? 0 : oldest_ns + hour_ns;
}

/* Only the newest waits for the next hour. */
static void hold_back(struct alarm *alarm)
{
    if (alarm->count > 1) {
        alarm->held += (uint64_t)alarm->count - 1;
        alarm->view.held_back += (uint64_t)alarm->count - 1;
        alarm->first = (alarm->first + alarm->count - 1) % ALARM_QUEUE_MAX;
        alarm->count = 1;
    }
}

static void tell_change(const struct alarm *alarm, const struct alarm_result *result)
{
    const bool was_failing = alarm->view.is_failing; /* only this thread changes it */
    if (result->outcome != ALARM_DONE && !was_failing) {
        log_warning("alarm %s: its command did not work: %s; from now on that is only counted",
                    alarm->view.name, result->reason);
    } else if (result->outcome == ALARM_DONE && was_failing) {
        log_info("alarm %s: its command works again", alarm->view.name);
    }
}

/* Lets go of the mutex while the command runs. */
static struct alarm_result run(struct alarm *alarm, const struct journal_event *event,
                               uint64_t held)
{
    struct alarm_result result;
    const struct alarm_message message = {
        .alarm = alarm->view.name,
        .site = alarm->site,
        .demonstration = alarm->demonstration[0] ? alarm->demonstration : NULL,
        .utc_offset_s = alarm->utc_offset_s,
        .held_back = held,
        .event = event,
    };
    (void)pthread_mutex_unlock(&alarm->mutex);
    alarm_run((const char *const *)alarm->command, &message, alarm->limit_s, &alarm->by_ns,
              &result);
    tell_change(alarm, &result); /* not with the mutex: a log can be slow */
    (void)pthread_mutex_lock(&alarm->mutex);
    alarm->view.runs[result.outcome]++;
    alarm->view.is_failing = result.outcome != ALARM_DONE;
    alarm->view.last = result;
    return result;
}

static void run_test(struct alarm *alarm)
{
    const uint32_t number = alarm->view.test_asked;
    struct journal_event event = {.wall_s = clock_wall_ns() / CLOCK_NS_PER_S,
                                  .class = JOURNAL_ALARM,
                                  .a = UNITS_NONE,
                                  .b = UNITS_NONE};
    (void)snprintf(event.kind, sizeof event.kind, "test");
    (void)snprintf(event.text, sizeof event.text, "a test of the alarm %s: nothing has happened",
                   alarm->view.name);
    alarm->view.test = run(alarm, &event, 0);
    alarm->view.test_done = number;
}

static void run_next(struct alarm *alarm)
{
    const struct journal_event event = alarm->queue[alarm->first];
    const uint64_t held = alarm->held;
    alarm->held = 0;
    alarm->first = (alarm->first + 1) % ALARM_QUEUE_MAX;
    alarm->count--;
    alarm->runs_ns[alarm->next_run] = clock_real_ns();
    alarm->next_run = (alarm->next_run + 1) % alarm->per_hour;
    (void)run(alarm, &event, held);
}

/* One step; false: there is nothing left to do for one that closes. */
static bool turn(struct alarm *alarm)
{
    const int64_t now_ns = clock_real_ns();
    const bool is_over = alarm->is_closing && now_ns >= atomic_load(&alarm->by_ns);
    const int64_t from_ns = allowed_ns(alarm);
    if (is_over) {
        return false;
    }
    if (alarm->view.test_done != alarm->view.test_asked) {
        run_test(alarm);
    } else if (alarm->count > 0 && now_ns >= from_ns) {
        run_next(alarm);
    } else if (alarm->is_closing) {
        return false;
    } else if (alarm->count > 0) {
        hold_back(alarm);
        (void)clock_wait_until_real(&alarm->work, &alarm->mutex, from_ns);
    } else {
        (void)pthread_cond_wait(&alarm->work, &alarm->mutex);
    }
    return true;
}

void *alarm_serve(void *context)
{
    struct alarm *alarm = context;
    (void)pthread_mutex_lock(&alarm->mutex);
    while (turn(alarm)) {
    }
    alarm->has_ended = true;
    (void)pthread_mutex_unlock(&alarm->mutex);
    return NULL;
}
