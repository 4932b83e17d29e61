/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One thread per bus: it alone calls the driver, so that nothing else ever waits for a device.
 *
 * The loop: connect (back-off 1 … 60 s with jitter), pending writes before anything else and
 * openings of contacts first among them, then the poll read every `every_s`. What it learns lies in
 * its mailbox. While a scan runs, one address is asked behind each round of reads.
 *
 * The worker stays silent; its health says what there is to log. Errors of a driver never end it.
 */
#ifndef LAMPWARDEN_WORKER_H
#define LAMPWARDEN_WORKER_H

#include "mailbox.h"
#include "scan.h"

struct worker;

struct worker_setup {
    const char *name; /* of the bus, for messages */
    const struct driver *driver;
    struct bus *bus; /* created, with its points added; the worker owns it once it has started */
    int sensor_count, output_count;
    const enum output_kind *kinds; /* of the outputs; copied */
    double every_s;                /* poll period */
};

/* Starts the thread. On failure the bus still belongs to the caller. */
int worker_start(const struct worker_setup *setup, struct worker **ret, struct err *err);

/* As mailbox_want and mailbox_look; the first wakes the thread when there is something to do. */
void worker_want(struct worker *worker, uint32_t epoch, const double *values);
void worker_look(struct worker *worker, struct sample *ret_samples,
                 struct mailbox_output *ret_outputs, struct mailbox_health *ret_health);

/* The scan of this bus; NULL: its driver knows no addresses. After starting one, wake the thread.
 */
struct scan *worker_scan(struct worker *worker);
void worker_wake(struct worker *worker);

/* True when a call of the driver takes longer than its contract allows: the watchdog's question. */
bool worker_is_late(const struct worker *worker, int64_t boot_ns);

/* True while there is something left to do that was due by then: a read, a write, a connection. */
bool worker_is_behind(const struct worker *worker, int64_t boot_ns);

/* Ending in two steps, so that several workers end side by side. The thread makes its outputs safe,
 * closes the bus and ends. worker_end waits at most timeout_s; false: the driver hangs, and the
 * worker is left behind with its memory. Both accept NULL. */
void worker_ask_end(struct worker *worker);
bool worker_end(struct worker *worker, double timeout_s);

#endif
