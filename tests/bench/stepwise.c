/* SPDX-License-Identifier: Apache-2.0 */
#include "stepwise.h"

#include "clock.h"
#include "err.h"
#include "worker.h"

#include <errno.h>
#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

/* Names that --wrap gives to the linker. */
int64_t __wrap_clock_boot_ns(void);

int64_t __real_clock_boot_ns(void);

/* The journal's thread asks too. It must not be behind real time, or that thread never sleeps. */
static _Atomic int64_t boot_ns;
static int64_t wall_ahead_ns; /* of boot time */

int64_t __wrap_clock_boot_ns(void)
{
    return atomic_load(&boot_ns);
}

struct worker {
    const struct driver *driver;
    struct bus *bus;
    struct mailbox mailbox;
    struct sample *samples;
};

static struct worker *workers[CONFIG_BUSES_MAX];
static int worker_count;

int worker_start(const struct worker_setup *setup, struct worker **ret, struct err *err)
{
    struct worker *worker = calloc(1, sizeof *worker);
    struct sample *samples = calloc((size_t)setup->sensor_count + 1, sizeof *samples);
    if (!worker || !samples ||
        mailbox_init(&worker->mailbox, setup->sensor_count, setup->kinds, setup->output_count) <
            0) {
        free(samples);
        free(worker);
        return err_fail(err, ENOMEM, "no memory");
    }
    worker->driver = setup->driver;
    worker->bus = setup->bus;
    worker->samples = samples;
    int code = worker->driver->connect(worker->bus, err);
    mailbox_up(&worker->mailbox, clock_boot_ns());
    workers[worker_count++] = worker;
    *ret = worker;
    return code;
}

void worker_want(struct worker *worker, uint32_t epoch, const double *values)
{
    (void)mailbox_want(&worker->mailbox, epoch, values);
}

void worker_look(struct worker *worker, struct sample *ret_samples,
                 struct mailbox_output *ret_outputs, struct mailbox_health *ret_health)
{
    mailbox_look(&worker->mailbox, ret_samples, ret_outputs, ret_health);
}

/* Nobody asks who answers. */
struct scan *worker_scan(struct worker *worker)
{
    (void)worker;
    return NULL;
}

void worker_wake(struct worker *worker)
{
    (void)worker;
}

bool worker_is_late(const struct worker *worker, int64_t now_ns)
{
    (void)worker;
    (void)now_ns;
    return false;
}

bool worker_is_behind(const struct worker *worker, int64_t now_ns)
{
    (void)worker;
    (void)now_ns;
    return false;
}

void worker_ask_end(struct worker *worker)
{
    (void)worker;
}

bool worker_end(struct worker *worker, double timeout_s)
{
    (void)timeout_s;
    worker->driver->destroy(worker->bus);
    mailbox_finish(&worker->mailbox);
    free(worker->samples);
    free(worker);
    return true;
}

static void turn(struct worker *worker)
{
    double value = 0;
    int output = 0;
    while ((output = mailbox_pick(&worker->mailbox, clock_boot_ns(), false, &value)) >= 0) {
        double seen = (double)NAN;
        (void)worker->driver->write(worker->bus, output, value, &seen, NULL);
        mailbox_wrote(&worker->mailbox, output, value, seen, clock_boot_ns());
    }
    int code = worker->driver->read(worker->bus, worker->samples, NULL);
    mailbox_read(&worker->mailbox, worker->samples, code, "");
}

void stepwise_devices(void)
{
    for (int i = 0; i < worker_count; i++) {
        turn(workers[i]);
    }
}

int stepwise_open(struct config *config, struct journal *journal, const char *resume_path,
                  int64_t wall_s, struct tick **ret, struct err *err)
{
    atomic_store(&boot_ns, __real_clock_boot_ns() + 3600 * CLOCK_NS_PER_S);
    worker_count = 0;
    wall_ahead_ns = wall_s * CLOCK_NS_PER_S - clock_boot_ns();
    const struct tick_setup setup = {
        .config = config,
        .journal = journal,
        .resume_path = resume_path,
        .build_s = wall_s,
        .now_wall_ns = wall_s * CLOCK_NS_PER_S,
        .now_boot_ns = clock_boot_ns(),
        .sync = CLOCK_SYNC_YES,
    };
    int code = tick_create(&setup, ret, err);
    if (code < 0) {
        config_free(config);
    }
    return code;
}

void stepwise_tick(struct tick *tick)
{
    int64_t now_ns = atomic_fetch_add(&boot_ns, CLOCK_NS_PER_S) + CLOCK_NS_PER_S;
    const struct tick_time time = {
        .boot_ns = now_ns,
        .wall_ns = now_ns + wall_ahead_ns,
        .sync = CLOCK_SYNC_YES,
    };
    (void)tick_run(tick, &time);
}
