/* SPDX-License-Identifier: Apache-2.0 */
/* The inside of alarm.h, shared by alarm.c and alarm_thread.c alone. */
#ifndef LAMPWARDEN_ALARM_PARTS_H
#define LAMPWARDEN_ALARM_PARTS_H

#include "alarm.h"
#include "demonstration.h"

#include <pthread.h>

/* One command with its thread. */
struct alarm {
    struct alarm *next; /* of those that were replaced */
    pthread_mutex_t mutex;
    pthread_cond_t work;
    pthread_t thread;
    /* constant */
    char **command, **kinds; /* NULL-ended, owned */
    enum journal_class class;
    int per_hour;
    double limit_s;
    char site[64];
    char demonstration[DEMONSTRATION_WORDS]; /* "": in earnest */
    int32_t utc_offset_s;
    /* under the mutex */
    struct alarm_view view;
    struct journal_event queue[ALARM_QUEUE_MAX];
    int first, count;
    uint64_t held; /* back, and not yet said */
    bool is_closing, has_ended;
    _Atomic int64_t by_ns; /* real time by which a run ends in any case */
    /* the thread's own */
    int64_t *runs_ns; /* real times of the last per_hour runs, a ring; 0: none */
    int next_run;
};

/* alarm_thread.c: its life; context is the alarm. */
void *alarm_serve(void *context);

#endif
