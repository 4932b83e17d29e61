/* SPDX-License-Identifier: Apache-2.0 */
#include "worker.h"

#include "clock.h"
#include "err.h"
#include "wakeup.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <unistd.h>

enum { WORKER_STACK = 128 * 1024 };

/* What driver.h allows each call, and the grace before the worker counts as late. */
static const double connect_budget_s = 2, read_budget_s = 2, write_budget_s = 1, safe_budget_s = 2;
static const double grace_s = 3;
static const double backoff_first_s = 1, backoff_last_s = 60;
static const int64_t scan_again_ns = 200 * CLOCK_NS_PER_MS; /* a line in quarantine */
static const int64_t scan_round_ns = CLOCK_NS_PER_S; /* sensors are read so often for a scan */
/* A connection that stood this long starts the back-off afresh. */
static const double steady_s = 30;

struct worker {
    const struct driver *driver;
    struct bus *bus;
    struct mailbox mailbox;
    struct scan scan;
    pthread_t thread;
    int wake_fd, ended_fd;
    atomic_bool stop;
    _Atomic int64_t due_ns;   /* the thread shows itself again before this moment */
    _Atomic int64_t rests_ns; /* it has nothing to do until then; 0: it is at work */
    /* the thread's own */
    struct sample *samples;
    bool is_connected;
    bool may_probe; /* the sensors were read since the last probe of the scan */
    int64_t every_ns, read_ns, connect_ns; /* period, next read, next attempt to connect */
    double backoff_s;
    uint64_t random;
};

static int64_t earlier(int64_t a_ns, int64_t b_ns)
{
    return a_ns < b_ns ? a_ns : b_ns;
}

static int64_t ns_of(double seconds)
{
    return (int64_t)(seconds * 1e9);
}

static void expect_by(struct worker *worker, int64_t boot_ns)
{
    atomic_store(&worker->due_ns, boot_ns + clock_from_real_ns(ns_of(grace_s)));
}

/* Before a call of the driver. */
static void beat(struct worker *worker, double budget_s)
{
    atomic_store(&worker->rests_ns, 0);
    expect_by(worker, clock_boot_ns() + clock_from_real_ns(ns_of(budget_s)));
}

static void rest_until(struct worker *worker, int64_t until_ns)
{
    int64_t wait_ns = until_ns - clock_boot_ns();
    if (wait_ns > 0) {
        expect_by(worker, until_ns);
        atomic_store(&worker->rests_ns, until_ns);
        (void)wakeup_wait(worker->wake_fd, clock_to_real_ns(wait_ns));
    }
}

/* Marsaglia's xorshift64: jitter needs no better. 0.75 … 1.25 */
static double jitter(struct worker *worker)
{
    worker->random ^= worker->random << 13;
    worker->random ^= worker->random >> 7;
    worker->random ^= worker->random << 17;
    return 0.75 + 0.5 * (double)(worker->random >> 11) * 0x1p-53;
}

static const char *sentence(const struct err *err, int code)
{
    return err->text[0] ? err->text : err_name(code);
}

static void lose(struct worker *worker, int code, const struct err *err)
{
    beat(worker, safe_budget_s);
    if (code != -ENODEV) {
        /* Answers may be lost and requests still arrive: a contact must not stay closed for want of
         * an answer. Not where another device answered than the one that was wired. */
        (void)worker->driver->make_safe(worker->bus, NULL); /* nothing else can be done here */
    }
    worker->driver->disconnect(worker->bus);
    worker->is_connected = false;
    int64_t now_ns = clock_boot_ns();
    int64_t stood_ns = mailbox_down(&worker->mailbox, code, sentence(err, code), now_ns);
    if (stood_ns > ns_of(steady_s)) {
        worker->backoff_s = backoff_first_s;
    }
    worker->connect_ns = now_ns + ns_of(worker->backoff_s * jitter(worker));
    worker->backoff_s = fmin(worker->backoff_s * 2, backoff_last_s);
}

static void try_connect(struct worker *worker)
{
    struct err err = {""};
    beat(worker, connect_budget_s);
    int code = worker->driver->connect(worker->bus, &err);
    if (code < 0) {
        lose(worker, code, &err);
        return;
    }
    worker->is_connected = true;
    worker->read_ns = clock_boot_ns();
    mailbox_up(&worker->mailbox, worker->read_ns);
}

/* A long queue of writes must not starve the sensors: a late read passes all but the openings. */
static bool write_one(struct worker *worker)
{
    int64_t now_ns = clock_boot_ns();
    double value = 0;
    bool is_read_late = now_ns - worker->read_ns > worker->every_ns;
    int output = mailbox_pick(&worker->mailbox, now_ns, is_read_late, &value);
    if (output < 0) {
        return false;
    }
    struct err err = {""};
    double seen = (double)NAN;
    beat(worker, write_budget_s);
    int code = worker->driver->write(worker->bus, output, value, &seen, &err);
    now_ns = clock_boot_ns();
    if (code >= 0) {
        mailbox_wrote(&worker->mailbox, output, value, seen, now_ns);
    } else {
        mailbox_write_failed(&worker->mailbox, output, code, sentence(&err, code), now_ns);
    }
    if (driver_is_gone(code)) {
        lose(worker, code, &err);
    }
    return true;
}

static void read_all(struct worker *worker)
{
    struct err err = {""};
    beat(worker, read_budget_s);
    int code = worker->driver->read(worker->bus, worker->samples, &err);
    mailbox_read(&worker->mailbox, worker->samples, code, sentence(&err, code));
    worker->may_probe = code != -EAGAIN; /* a line in quarantine is left alone */
    worker->read_ns += worker->every_ns;
    int64_t now_ns = clock_boot_ns();
    if (worker->read_ns <= now_ns) {
        worker->read_ns = now_ns; /* slower than asked: as fast as it goes; writes pass before */
    }
    if (driver_is_gone(code)) {
        lose(worker, code, &err);
    }
}

static int next_address(struct worker *worker)
{
    return worker->driver->probe ? scan_next(&worker->scan, clock_boot_ns()) : -1;
}

static int probe(struct worker *worker, int address, struct err *err)
{
    char words[SCAN_WORDS_MAX] = "";
    beat(worker, read_budget_s);
    int code = worker->driver->probe(worker->bus, address, words, sizeof words, err);
    worker->may_probe = false;
    const struct scan_outcome outcome = {code, worker->is_connected && driver_is_gone(code),
                                         code < 0 ? sentence(err, code) : words};
    scan_note(&worker->scan, address, &outcome, clock_boot_ns());
    return code;
}

/* One address of a scan: only behind a round of reads, and when no write waits. */
static bool probe_one(struct worker *worker)
{
    int address = next_address(worker);
    if (address < 0) {
        return false;
    }
    if (!worker->may_probe) {
        worker->read_ns = earlier(worker->read_ns, clock_boot_ns() + scan_round_ns);
        return false;
    }
    struct err err = {""};
    int code = probe(worker, address, &err);
    if (driver_is_gone(code)) {
        lose(worker, code, &err);
    }
    return true;
}

/* One address between two attempts to connect: perhaps nobody answers where the configuration says,
 * and that is what the installer looks for. */
static bool probe_unconnected(struct worker *worker)
{
    int address = next_address(worker);
    if (address < 0) {
        return false;
    }
    struct err err = {""};
    int code = probe(worker, address, &err);
    if (code < 0 && code != -ETIMEDOUT) { /* in quarantine, or the line does not open */
        rest_until(worker, clock_boot_ns() + scan_again_ns);
    }
    return true;
}

/* A write that failed is due again after a second, however seldom the sensors are read. */
static int64_t next_look_ns(const struct worker *worker)
{
    int64_t retry_ns = clock_boot_ns() + CLOCK_NS_PER_S;
    bool may_write = worker->mailbox.output_count > 0;
    return may_write ? earlier(retry_ns, worker->read_ns) : worker->read_ns;
}

static void turn(struct worker *worker)
{
    if (!worker->is_connected) {
        if (clock_boot_ns() >= worker->connect_ns) {
            try_connect(worker);
        } else if (!probe_unconnected(worker)) {
            rest_until(worker, worker->connect_ns);
        }
    } else if (!write_one(worker)) {
        if (clock_boot_ns() >= worker->read_ns) {
            read_all(worker);
        } else if (!probe_one(worker)) {
            rest_until(worker, next_look_ns(worker));
        }
    }
}

static void *run(void *context)
{
    struct worker *worker = context;
    while (!atomic_load(&worker->stop)) {
        turn(worker);
    }
    beat(worker, 2 * safe_budget_s);
    (void)worker->driver->make_safe(worker->bus, NULL); /* the tick verified it before: once more */
    worker->driver->destroy(worker->bus);
    wakeup_poke(worker->ended_fd);
    return NULL;
}

static void release(struct worker *worker)
{
    if (worker->wake_fd >= 0) {
        (void)close(worker->wake_fd);
    }
    if (worker->ended_fd >= 0) {
        (void)close(worker->ended_fd);
    }
    mailbox_finish(&worker->mailbox);
    scan_finish(&worker->scan);
    free(worker->samples);
    free(worker);
}

static int start_thread(struct worker *worker)
{
    pthread_attr_t attributes;
    sigset_t all;
    sigset_t before;
    int code = pthread_attr_init(&attributes);
    if (code != 0) {
        return -code;
    }
    (void)pthread_attr_setstacksize(&attributes,
                                    WORKER_STACK); /* refused: the default also works */
    sigfillset(&all);
    pthread_sigmask(SIG_BLOCK, &all, &before); /* signals belong to the main loop */
    code = pthread_create(&worker->thread, &attributes, run, worker);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    pthread_attr_destroy(&attributes);
    if (code == 0) {
        (void)pthread_setname_np(worker->thread, "bus"); /* only for people who look */
    }
    return -code;
}

static int prepare(struct worker *worker, const struct worker_setup *setup)
{
    worker->driver = setup->driver;
    worker->bus = setup->bus;
    worker->every_ns = ns_of(setup->every_s);
    worker->backoff_s = backoff_first_s;
    scan_init(&worker->scan);
    worker->random = (uint64_t)clock_boot_ns() | 1;
    worker->wake_fd = wakeup_create();
    worker->ended_fd = wakeup_create();
    if (worker->wake_fd < 0 || worker->ended_fd < 0) {
        return worker->wake_fd < 0 ? worker->wake_fd : worker->ended_fd;
    }
    worker->samples = calloc((size_t)setup->sensor_count + 1, sizeof *worker->samples);
    if (!worker->samples) {
        return -ENOMEM;
    }
    beat(worker, connect_budget_s);
    return mailbox_init(&worker->mailbox, setup->sensor_count, setup->kinds, setup->output_count);
}

int worker_start(const struct worker_setup *setup, struct worker **ret, struct err *err)
{
    struct worker *worker = calloc(1, sizeof *worker);
    if (!worker) {
        return err_fail(err, ENOMEM, "bus %s: no memory", setup->name);
    }
    int code = prepare(worker, setup);
    if (code == 0) {
        code = start_thread(worker);
    }
    if (code < 0) {
        release(worker);
        return err_fail(err, -code, "bus %s: no worker thread: %s", setup->name, err_name(code));
    }
    *ret = worker;
    return 0;
}

void worker_want(struct worker *worker, uint32_t epoch, const double *values)
{
    if (mailbox_want(&worker->mailbox, epoch, values)) {
        atomic_store(&worker->rests_ns, 0);
        wakeup_poke(worker->wake_fd);
    }
}

void worker_look(struct worker *worker, struct sample *ret_samples,
                 struct mailbox_output *ret_outputs, struct mailbox_health *ret_health)
{
    mailbox_look(&worker->mailbox, ret_samples, ret_outputs, ret_health);
}

struct scan *worker_scan(struct worker *worker)
{
    return worker->driver->probe ? &worker->scan : NULL;
}

void worker_wake(struct worker *worker)
{
    wakeup_poke(worker->wake_fd);
}

bool worker_is_late(const struct worker *worker, int64_t boot_ns)
{
    return boot_ns > atomic_load(&worker->due_ns);
}

bool worker_is_behind(const struct worker *worker, int64_t boot_ns)
{
    return atomic_load(&worker->rests_ns) <= boot_ns;
}

void worker_ask_end(struct worker *worker)
{
    if (worker) {
        atomic_store(&worker->stop, true);
        wakeup_poke(worker->wake_fd);
    }
}

bool worker_end(struct worker *worker, double timeout_s)
{
    if (!worker) {
        return true;
    }
    worker_ask_end(worker);
    if (!wakeup_wait(worker->ended_fd, ns_of(timeout_s))) {
        (void)pthread_detach(worker->thread);
        return false;
    }
    (void)pthread_join(worker->thread, NULL);
    release(worker);
    return true;
}
