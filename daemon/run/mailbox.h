/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a bus's worker and the tick know of each other: the newest sample of each sensor and, per
 * output, what was wanted, written and seen. A mutex is held only for copies; nobody waits for a
 * device here.
 *
 * Connections are counted (`epoch`). Connecting brings every output to its safe value, so whatever
 * was wanted on an earlier connection is forgotten: only a wish that names the present epoch is
 * carried out. A contact that a lost line opened is therefore never closed again behind the back of
 * the switching rules.
 */
#ifndef LAMPWARDEN_MAILBOX_H
#define LAMPWARDEN_MAILBOX_H

#include "driver.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

struct mailbox_output {
    double wanted;    /* on this connection; NaN: nothing yet */
    double written;   /* what the device took last on this connection; NaN: nothing yet */
    double seen;      /* read back after that write; NaN: the device cannot be asked */
    int error;        /* of the last attempt; 0 or negative errno */
    int64_t taken_ns; /* boot time of the last write that the device took; 0: none */
    char reason[160]; /* the driver's sentence about the last error; "" after a success */
};

struct mailbox_health {
    bool is_connected;
    uint32_t epoch;    /* counts connections; 0: never connected */
    uint32_t failures; /* connections lost and attempts to connect that failed */
    int64_t since_ns;  /* boot time of the last change of is_connected */
    char reason[160];  /* the last error's sentence; "": none so far */
};

struct mailbox {
    pthread_mutex_t mutex;
    int sensor_count, output_count;
    enum output_kind *kinds;
    struct sample *samples;
    struct mailbox_output *outputs;
    int64_t *retry_ns; /* the same value is not tried again before */
    struct mailbox_health health;
};

/* kinds: of the outputs; copied. -ENOMEM. */
int mailbox_init(struct mailbox *mailbox, int sensor_count, const enum output_kind *kinds,
                 int output_count);
void mailbox_finish(struct mailbox *mailbox); /* a zeroed one is fine */

/* --- the tick's side ------------------------------------------------------------------------- */

/* What the outputs shall be, one value per output (NaN: no wish). Ignored when the connection is no
 * longer the one of `epoch`. Returns true when there is something new to do. */
bool mailbox_want(struct mailbox *mailbox, uint32_t epoch, const double *values);

/* Copies; each pointer may be NULL. */
void mailbox_look(struct mailbox *mailbox, struct sample *ret_samples,
                  struct mailbox_output *ret_outputs, struct mailbox_health *ret_health);

/* --- the worker's side ----------------------------------------------------------------------- */

/* The write to make now, openings of contacts first, then dimming values, then closings, then the
 * oldest standing value that is due to be written again; −1: none. With only_openings the rest
 * waits. */
int mailbox_pick(struct mailbox *mailbox, int64_t now_ns, bool only_openings, double *ret_value);

/* The outcome of a write: code 0, or a negative errno with its sentence. */
void mailbox_wrote(struct mailbox *mailbox, int output, double value, double seen, int64_t now_ns);
void mailbox_write_failed(struct mailbox *mailbox, int output, int code, const char *reason,
                          int64_t now_ns);

/* The outcome of a read; code 0: samples are copied, else every sensor carries the code. */
void mailbox_read(struct mailbox *mailbox, const struct sample *samples, int code,
                  const char *reason);

void mailbox_up(struct mailbox *mailbox, int64_t now_ns);
/* Returns for how long the connection had stood, 0 when there was none. */
int64_t mailbox_down(struct mailbox *mailbox, int code, const char *reason, int64_t now_ns);

#endif
