/* SPDX-License-Identifier: Apache-2.0 */
#include "mailbox.h"

#include "clock.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Between attempts to write the same value. */
static const int64_t retry_after_ns = CLOCK_NS_PER_S;
/* A standing value is written again this often: it shows that the device still obeys, and keeps
 * alive a device that falls back to its own value when it hears nothing. */
static const int64_t refresh_after_ns = 10 * CLOCK_NS_PER_S;

/* Call with the mutex held. */
static void forget_outputs(struct mailbox *mailbox, int error)
{
    for (int i = 0; i < mailbox->output_count; i++) {
        mailbox->outputs[i] = (struct mailbox_output){
            .wanted = (double)NAN, .written = (double)NAN, .seen = (double)NAN, .error = error};
        mailbox->retry_ns[i] = 0;
    }
}

int mailbox_init(struct mailbox *mailbox, int sensor_count, const enum output_kind *kinds,
                 int output_count)
{
    size_t outputs = (size_t)output_count + 1; /* + 1: calloc(0) may be NULL */
    *mailbox = (struct mailbox){.sensor_count = sensor_count, .output_count = output_count};
    pthread_mutex_init(&mailbox->mutex, NULL);
    mailbox->kinds = calloc(outputs, sizeof *mailbox->kinds);
    mailbox->samples = calloc((size_t)sensor_count + 1, sizeof *mailbox->samples);
    mailbox->outputs = calloc(outputs, sizeof *mailbox->outputs);
    mailbox->retry_ns = calloc(outputs, sizeof *mailbox->retry_ns);
    if (!mailbox->kinds || !mailbox->samples || !mailbox->outputs || !mailbox->retry_ns) {
        mailbox_finish(mailbox);
        return -ENOMEM;
    }
    for (int i = 0; i < output_count; i++) {
        mailbox->kinds[i] = kinds[i];
    }
    for (int i = 0; i < sensor_count; i++) {
        mailbox->samples[i] = (struct sample){.value = (double)NAN, .error = -EAGAIN};
    }
    forget_outputs(mailbox, -EAGAIN);
    return 0;
}

void mailbox_finish(struct mailbox *mailbox)
{
    if (mailbox->samples || mailbox->outputs || mailbox->kinds || mailbox->retry_ns) {
        pthread_mutex_destroy(&mailbox->mutex);
    }
    free(mailbox->kinds);
    free(mailbox->samples);
    free(mailbox->outputs);
    free(mailbox->retry_ns);
    *mailbox = (struct mailbox){0};
}

bool mailbox_want(struct mailbox *mailbox, uint32_t epoch, const double *values)
{
    bool is_news = false;
    pthread_mutex_lock(&mailbox->mutex);
    if (mailbox->health.is_connected && mailbox->health.epoch == epoch) {
        for (int i = 0; i < mailbox->output_count; i++) {
            struct mailbox_output *out = &mailbox->outputs[i];
            bool is_new = !isnan(values[i]) && !(out->wanted == values[i]);
            if (is_new) {
                mailbox->retry_ns[i] = 0; /* another value need not wait for the old one's retry */
            }
            is_news = is_news || is_new;
            out->wanted = values[i];
        }
    }
    pthread_mutex_unlock(&mailbox->mutex);
    return is_news;
}

void mailbox_look(struct mailbox *mailbox, struct sample *ret_samples,
                  struct mailbox_output *ret_outputs, struct mailbox_health *ret_health)
{
    pthread_mutex_lock(&mailbox->mutex);
    if (ret_samples) {
        memcpy(ret_samples, mailbox->samples, (size_t)mailbox->sensor_count * sizeof *ret_samples);
    }
    if (ret_outputs) {
        memcpy(ret_outputs, mailbox->outputs, (size_t)mailbox->output_count * sizeof *ret_outputs);
    }
    if (ret_health) {
        *ret_health = mailbox->health;
    }
    pthread_mutex_unlock(&mailbox->mutex);
}

enum { RANK_OPENING, RANK_DIM, RANK_CLOSING, RANK_REFRESH, RANK_NOTHING };

static int rank(const struct mailbox *mailbox, int output, int64_t now_ns)
{
    const struct mailbox_output *out = &mailbox->outputs[output];
    if (!(out->wanted >= 0 && out->wanted <= 1)) {
        return RANK_NOTHING;
    }
    if (out->written == out->wanted && out->error == 0) {
        /* A device that reset behind a living line has opened its contact: writing "closed" again
         * would close it at once and at full drive, past every rule of switching. */
        const bool is_closed = mailbox->kinds[output] == OUTPUT_SWITCH && out->wanted >= 0.5;
        const bool is_due = now_ns - out->taken_ns > refresh_after_ns;
        return is_due && !is_closed ? RANK_REFRESH : RANK_NOTHING;
    }
    if (mailbox->retry_ns[output] > now_ns) {
        return RANK_NOTHING;
    }
    if (mailbox->kinds[output] == OUTPUT_DIM) {
        return RANK_DIM;
    }
    return out->wanted < 0.5 ? RANK_OPENING : RANK_CLOSING;
}

int mailbox_pick(struct mailbox *mailbox, int64_t now_ns, bool only_openings, double *ret_value)
{
    int best = -1;
    int best_rank = only_openings ? RANK_DIM : RANK_NOTHING;
    int64_t best_ns = INT64_MIN;
    pthread_mutex_lock(&mailbox->mutex);
    for (int i = 0; i < mailbox->output_count; i++) {
        int its_rank = rank(mailbox, i, now_ns);
        int64_t its_ns = mailbox->outputs[i].taken_ns;
        if (its_rank < best_rank || (its_rank == best_rank && its_ns < best_ns)) {
            best = i;
            best_rank = its_rank;
            best_ns = its_ns;
        }
    }
    if (best >= 0) {
        *ret_value = mailbox->outputs[best].wanted;
    }
    pthread_mutex_unlock(&mailbox->mutex);
    return best;
}

void mailbox_wrote(struct mailbox *mailbox, int output, double value, double seen, int64_t now_ns)
{
    pthread_mutex_lock(&mailbox->mutex);
    struct mailbox_output *out = &mailbox->outputs[output];
    out->error = 0;
    out->reason[0] = '\0';
    out->written = value;
    out->seen = seen;
    out->taken_ns = now_ns;
    pthread_mutex_unlock(&mailbox->mutex);
}

/* Call with the mutex held. */
static void set_reason(struct mailbox *mailbox, const char *reason)
{
    (void)snprintf(mailbox->health.reason, sizeof mailbox->health.reason, "%s", reason);
}

void mailbox_write_failed(struct mailbox *mailbox, int output, int code, const char *reason,
                          int64_t now_ns)
{
    pthread_mutex_lock(&mailbox->mutex);
    struct mailbox_output *out = &mailbox->outputs[output];
    out->error = code;
    (void)snprintf(out->reason, sizeof out->reason, "%s", reason);
    mailbox->retry_ns[output] = now_ns + retry_after_ns;
    set_reason(mailbox, reason);
    pthread_mutex_unlock(&mailbox->mutex);
}

void mailbox_read(struct mailbox *mailbox, const struct sample *samples, int code,
                  const char *reason)
{
    pthread_mutex_lock(&mailbox->mutex);
    for (int i = 0; i < mailbox->sensor_count; i++) {
        if (code < 0) {
            mailbox->samples[i].error = code;
        } else {
            mailbox->samples[i] = samples[i];
        }
    }
    if (code < 0) {
        set_reason(mailbox, reason);
    }
    pthread_mutex_unlock(&mailbox->mutex);
}

void mailbox_up(struct mailbox *mailbox, int64_t now_ns)
{
    pthread_mutex_lock(&mailbox->mutex);
    forget_outputs(mailbox, 0);
    mailbox->health.is_connected = true;
    mailbox->health.epoch++;
    mailbox->health.since_ns = now_ns;
    pthread_mutex_unlock(&mailbox->mutex);
}

int64_t mailbox_down(struct mailbox *mailbox, int code, const char *reason, int64_t now_ns)
{
    int64_t stood_ns = 0;
    pthread_mutex_lock(&mailbox->mutex);
    struct mailbox_health *health = &mailbox->health;
    if (health->is_connected) {
        stood_ns = now_ns - health->since_ns;
    }
    if (health->is_connected || health->failures == 0) {
        health->since_ns = now_ns;
    }
    health->is_connected = false;
    health->failures++;
    set_reason(mailbox, reason);
    forget_outputs(mailbox, code);
    for (int i = 0; i < mailbox->sensor_count; i++) {
        mailbox->samples[i].error = code;
    }
    pthread_mutex_unlock(&mailbox->mutex);
    return stood_ns;
}
