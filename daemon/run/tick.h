/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One second of the daemon's life: fetch what the workers know, judge the clock, decide per space,
 * pass the wishes on, record, show a snapshot, save the state. Never waits for a device, allocates
 * nothing.
 *
 * The caller owns the clocks and the loop: it calls tick_run once a second with one reading of
 * both. Everything here belongs to the main thread.
 */
#ifndef LAMPWARDEN_TICK_H
#define LAMPWARDEN_TICK_H

#include "channels.h"
#include "clocktrust.h"
#include "config.h"
#include "journal.h"
#include "snapshot.h"

struct alarms;
struct tick;

struct tick_time {
    int64_t boot_ns, wall_ns;
    enum clock_sync sync;
    uint64_t overruns; /* ticks that were missed before this one */
};

struct tick_setup {
    struct config *config;   /* the tick's once it was created */
    struct journal *journal; /* NULL: none; stays the caller's */
    struct alarms *alarms;   /* NULL: none; stays the caller's */
    const char *resume_path; /* the mapped file in the runtime folder */
    int64_t build_s;         /* wall time of the build */
    int64_t latest_s;        /* the journal's latest trusted time; 0: none */
    int64_t now_wall_ns, now_boot_ns;
    enum clock_sync sync;
    bool in_crash_loop;
    double pace; /* of a demonstration; 0: in earnest */
};

/* Opens the channels (workers start) and takes up the saved states: those in the runtime file, or
 * the ones in the journal at `config->journal.path`. */
int tick_create(const struct tick_setup *setup, struct tick **ret, struct err *err);

/* Ends the workers (outputs safe again), closes the state file, frees the configuration. */
void tick_destroy(struct tick *tick);

/* Returns false when a bus worker exceeds its time: then the watchdog must not be petted. */
bool tick_run(struct tick *tick, const struct tick_time *time);

/* Every output was verified safe, or is in fault: the daemon may say READY. From the given moment
 * on contacts may be closed; before it the tick keeps all of them open. */
bool tick_outputs_are_decided(const struct tick *tick);
void tick_let_light(struct tick *tick, int64_t from_boot_ns);

/* Towards the end: no more decisions. Each call drives one step of "contacts open, then dimming
 * lines safe" and returns true when all of it was verified. */
bool tick_make_safe(struct tick *tick, int64_t boot_ns);
/* The last records of every space: before the journal closes. */
void tick_finish_records(struct tick *tick);

/* A new configuration with the same hardware takes over; on failure the old one stays and `config`
 * remains the caller's. */
int tick_reload(struct tick *tick, struct config *config, struct err *err);

struct alarms *tick_alarms(const struct tick *tick); /* of tick_setup */
void tick_set_hand(struct tick *tick, int space, const struct hand *hand);
/* The trial of one output; is_active false ends it. It ends by itself, with a reload, and when its
 * fixture trips. */
void tick_set_trial(struct tick *tick, int output, const struct trial *trial);
void tick_acknowledge(struct tick *tick, int space); /* releases latches in the next tick */

/* Accepts what the lamp's steps show as an error of the sensor or of the lamps, with an event; or
 * refuses with a sentence: too few steps, nothing to correct, more than can be. */
int tick_correct(struct tick *tick, int space, enum correction_of of, struct err *err);
bool tick_uncorrect(struct tick *tick, int space); /* false: nothing was corrected */
const struct space_state *tick_state(const struct tick *tick, int space);

/* Wall time of the last look at a trusted clock, else of the journal's latest entry; 0: not known.
 */
int64_t tick_sure_s(const struct tick *tick);

struct snapshot *tick_snapshot(struct tick *tick);
/* Buses as in tick_config, also after a reload. */
struct channels *tick_channels(struct tick *tick);
const struct config *tick_config(const struct tick *tick);

#endif
