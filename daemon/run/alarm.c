/* SPDX-License-Identifier: Apache-2.0 */
#include "alarm_parts.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ALARM_STACK = 128 * 1024 };

static const int64_t replaced_ns = 10 * CLOCK_NS_PER_S;

struct alarms {
    int count;
    struct alarm *each[CONFIG_ALARMS_MAX];
    struct alarm *replaced; /* by a reload; they may still run a command */
};

/* NULL is fine. */
static void free_texts(char **texts)
{
    for (int i = 0; texts && texts[i]; i++) {
        free(texts[i]);
    }
    free(texts);
}

static char **copy_texts(const char *const *texts)
{
    int count = 0;
    while (texts[count]) {
        count++;
    }
    char **copy = calloc((size_t)count + 1, sizeof *copy);
    for (int i = 0; copy && i < count; i++) {
        copy[i] = strdup(texts[i]);
        if (!copy[i]) {
            free_texts(copy);
            return NULL;
        }
    }
    return copy;
}

/* No thread runs. */
static void destroy(struct alarm *alarm)
{
    free_texts(alarm->command);
    free_texts(alarm->kinds);
    free(alarm->runs_ns);
    (void)pthread_cond_destroy(&alarm->work);
    (void)pthread_mutex_destroy(&alarm->mutex);
    free(alarm);
}

static int start_thread(struct alarm *alarm)
{
    pthread_attr_t attributes;
    sigset_t all;
    sigset_t before;
    int code = pthread_attr_init(&attributes);
    if (code != 0) {
        return code;
    }
    (void)pthread_attr_setstacksize(&attributes, ALARM_STACK); /* refused: the default also works */
    sigfillset(&all);
    pthread_sigmask(SIG_BLOCK, &all, &before); /* signals belong to the main loop */
    code = pthread_create(&alarm->thread, &attributes, alarm_serve, alarm);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    pthread_attr_destroy(&attributes);
    if (code == 0) {
        (void)pthread_setname_np(alarm->thread, "alarm"); /* only for people who look */
    }
    return code;
}

static struct alarm *create(const struct config_alarm *rules, const struct alarms_setup *setup)
{
    struct alarm *alarm = calloc(1, sizeof *alarm);
    if (!alarm) {
        return NULL;
    }
    (void)pthread_mutex_init(&alarm->mutex, NULL);
    (void)pthread_cond_init(&alarm->work, NULL);
    alarm->command = copy_texts(rules->command);
    alarm->kinds = copy_texts(rules->kinds);
    alarm->runs_ns = calloc((size_t)rules->per_hour, sizeof *alarm->runs_ns);
    alarm->class = rules->class;
    alarm->per_hour = rules->per_hour;
    alarm->limit_s = rules->limit_s;
    alarm->utc_offset_s = setup->config->site.utc_offset_s;
    atomic_store(&alarm->by_ns, INT64_MAX);
    (void)snprintf(alarm->view.name, sizeof alarm->view.name, "%s", rules->name);
    (void)snprintf(alarm->site, sizeof alarm->site, "%s", setup->config->site.name);
    if (setup->pace > 0) {
        demonstration_words(setup->pace, alarm->demonstration, sizeof alarm->demonstration);
    }
    if (!alarm->command || !alarm->kinds || !alarm->runs_ns || start_thread(alarm) != 0) {
        destroy(alarm);
        return NULL;
    }
    return alarm;
}

static bool wants(const struct alarm *alarm, const struct journal_event *event)
{
    for (int i = 0; alarm->kinds[i]; i++) {
        if (strcmp(alarm->kinds[i], event->kind) == 0) {
            return true;
        }
    }
    return !alarm->kinds[0] && event->class >= alarm->class;
}

/* A full queue loses its oldest: that is held back as well. */
static void put(struct alarm *alarm, const struct journal_event *event)
{
    (void)pthread_mutex_lock(&alarm->mutex);
    if (alarm->count == ALARM_QUEUE_MAX) {
        alarm->first = (alarm->first + 1) % ALARM_QUEUE_MAX;
        alarm->count--;
        alarm->held++;
        alarm->view.held_back++;
    }
    alarm->queue[(alarm->first + alarm->count++) % ALARM_QUEUE_MAX] = *event;
    (void)pthread_cond_signal(&alarm->work);
    (void)pthread_mutex_unlock(&alarm->mutex);
}

void alarms_note(struct alarms *alarms, const struct journal_event *event)
{
    for (int i = 0; i < alarms_count(alarms); i++) {
        if (wants(alarms->each[i], event)) {
            put(alarms->each[i], event);
        }
    }
}

int64_t alarms_test(struct alarms *alarms, const char *name)
{
    for (int i = 0; i < alarms_count(alarms); i++) {
        struct alarm *alarm = alarms->each[i];
        if (strcmp(alarm->view.name, name) == 0) {
            (void)pthread_mutex_lock(&alarm->mutex);
            const uint32_t number = ++alarm->view.test_asked;
            (void)pthread_cond_signal(&alarm->work);
            (void)pthread_mutex_unlock(&alarm->mutex);
            return number;
        }
    }
    return -1;
}

int alarms_count(const struct alarms *alarms)
{
    return alarms ? alarms->count : 0;
}

void alarms_look(struct alarms *alarms, int index, struct alarm_view *ret)
{
    struct alarm *alarm = alarms->each[index];
    (void)pthread_mutex_lock(&alarm->mutex);
    *ret = alarm->view;
    (void)pthread_mutex_unlock(&alarm->mutex);
}

static bool same_texts(char *const *a, const char *const *b)
{
    int i = 0;
    while (a[i] && b[i] && strcmp(a[i], b[i]) == 0) {
        i++;
    }
    return !a[i] && !b[i];
}

static bool are_of(const struct alarms *alarms, const struct config *config)
{
    bool is_same = alarms_count(alarms) == config->alarm_count;
    for (int i = 0; is_same && i < config->alarm_count; i++) {
        const struct config_alarm *rules = &config->alarms[i];
        const struct alarm *alarm = alarms->each[i];
        is_same = strcmp(alarm->view.name, rules->name) == 0 && alarm->class == rules->class &&
                  alarm->per_hour == rules->per_hour && alarm->limit_s == rules->limit_s &&
                  same_texts(alarm->command, rules->command) &&
                  same_texts(alarm->kinds, rules->kinds) &&
                  strcmp(alarm->site, config->site.name) == 0 &&
                  alarm->utc_offset_s == config->site.utc_offset_s;
    }
    return is_same;
}

static void ask_end(struct alarm *alarm, int64_t by_ns)
{
    (void)pthread_mutex_lock(&alarm->mutex);
    if (by_ns < atomic_load(&alarm->by_ns)) {
        atomic_store(&alarm->by_ns, by_ns);
    }
    alarm->is_closing = true;
    (void)pthread_cond_signal(&alarm->work);
    (void)pthread_mutex_unlock(&alarm->mutex);
}

/* Returns at once where the thread has ended, else when it has killed what runs. */
static void join(struct alarm *alarm)
{
    (void)pthread_join(alarm->thread, NULL);
    destroy(alarm);
}

static void sweep_replaced(struct alarms *alarms)
{
    struct alarm **link = &alarms->replaced;
    while (*link) {
        struct alarm *alarm = *link;
        (void)pthread_mutex_lock(&alarm->mutex);
        const bool has_ended = alarm->has_ended;
        (void)pthread_mutex_unlock(&alarm->mutex);
        if (has_ended) {
            *link = alarm->next;
            join(alarm);
        } else {
            link = &alarm->next;
        }
    }
}

/* All of a configuration, or none. */
static int create_all(const struct alarms_setup *setup, struct alarm *ret[CONFIG_ALARMS_MAX],
                      struct err *err)
{
    for (int i = 0; i < setup->config->alarm_count; i++) {
        ret[i] = create(&setup->config->alarms[i], setup);
        if (ret[i]) {
            continue;
        }
        while (--i >= 0) {
            ask_end(ret[i], 0);
            join(ret[i]);
        }
        return err_fail(err, ENOMEM, "no memory, or no thread, for the alarm commands");
    }
    return 0;
}

int alarms_change(struct alarms *alarms, const struct alarms_setup *setup, struct err *err)
{
    struct alarm *fresh[CONFIG_ALARMS_MAX] = {NULL};
    sweep_replaced(alarms);
    if (are_of(alarms, setup->config)) {
        return 0;
    }
    const int code = create_all(setup, fresh, err);
    if (code < 0) {
        return code;
    }
    for (int i = 0; i < alarms->count; i++) {
        ask_end(alarms->each[i], clock_real_ns() + replaced_ns);
        alarms->each[i]->next = alarms->replaced;
        alarms->replaced = alarms->each[i];
    }
    alarms->count = setup->config->alarm_count;
    for (int i = 0; i < alarms->count; i++) {
        alarms->each[i] = fresh[i];
    }
    return 0;
}

int alarms_open(const struct alarms_setup *setup, struct alarms **ret, struct err *err)
{
    struct alarms *alarms = calloc(1, sizeof *alarms);
    const int code = alarms ? alarms_change(alarms, setup, err)
                            : err_fail(err, ENOMEM, "no memory for the alarm commands");
    if (code < 0) {
        free(alarms);
        return code;
    }
    *ret = alarms;
    return 0;
}

void alarms_close(struct alarms *alarms, double timeout_s)
{
    if (!alarms) {
        return;
    }
    const int64_t by_ns = clock_real_ns() + (int64_t)(timeout_s * 1e9);
    for (int i = 0; i < alarms->count; i++) {
        ask_end(alarms->each[i], by_ns);
    }
    for (struct alarm *alarm = alarms->replaced; alarm; alarm = alarm->next) {
        ask_end(alarm, by_ns);
    }
    for (int i = 0; i < alarms->count; i++) {
        join(alarms->each[i]);
    }
    while (alarms->replaced) {
        struct alarm *alarm = alarms->replaced;
        alarms->replaced = alarm->next;
        join(alarm);
    }
    free(alarms);
}
