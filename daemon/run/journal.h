/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The journal: the stored record of readings, limiters, events and day summaries (SQLite).
 *
 * One writer thread and one writing connection for the life of the program; WAL, synchronous FULL,
 * one commit per commit_s, at once for alarms. Callers put plain records into a bounded queue and
 * never wait: when the queue is full the oldest minute rows are dropped first, events last, and the
 * loss is counted. Control never depends on the journal: a full, read-only, missing or corrupt disk
 * changes a state and raises one event; records wait in memory and the writer tries again every 60
 * s. A damaged file, found damaged twice, is set aside as PATH.corrupt-<wall time> and an empty one
 * begun. Only journal_store*.c (writing) and journal_read.c (reading) include sqlite3.h. Changes of
 * health are logged here, once each.
 */
#ifndef LAMPWARDEN_JOURNAL_H
#define LAMPWARDEN_JOURNAL_H

#include "decide.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* 2: the days say what their lamp light could have cost. 3: the minutes keep what every rule
 * allowed, and what the guard of the night counted. */
#define JOURNAL_SCHEMA_VERSION 3
#define JOURNAL_NAME_MAX       40  /* a configured name and a suffix of the daemon's own */
#define JOURNAL_CHAIN_MAX      768 /* with the NUL: sixteen fixtures in their usual words */

struct err;
struct journal;

/* One minute of one space. Real values may be NaN: stored as NULL. */
struct journal_minute {
    char space[JOURNAL_NAME_MAX];
    int64_t wall_s; /* start of the minute, UTC, multiple of 60 */
    int64_t light_day;
    double ppfd_umol;                 /* median of the minute's readings */
    double lamp_umol, daylight_umol;  /* means */
    double level, drive;              /* means; drive of the first fixture */
    enum limiter limiter;             /* the one that ruled longest */
    double heatsink_c;                /* hottest, maximum of the minute */
    double air_c, humidity_percent;   /* means */
    double watts;                     /* mean */
    double delivered_mol, target_mol; /* at the end of the minute */
    double price_per_kwh;
    enum reading_quality quality; /* worst of the PPFD readings */
    /* What every rule allowed at the end of the minute, as moment.h writes it; "" : not kept. */
    char chain[JOURNAL_CHAIN_MAX];
    /* What the guard of the night had counted at the end of the minute; NaN: it was no night. */
    double night_dose_umol_m2, night_longest_s; /* since the night began */
    double night_possible_umol_m2;              /* since the light day began */
};

/* "good", "suspect", "stale", "lost": as stored; never changed. */
const char *journal_quality_name(enum reading_quality quality);

enum journal_class { JOURNAL_INFO, JOURNAL_NOTICE, JOURNAL_ALARM };

/* "info", "notice", "alarm" */
const char *journal_class_name(enum journal_class class);

struct journal_event {
    char space[JOURNAL_NAME_MAX];   /* "" : the whole daemon */
    char fixture[JOURNAL_NAME_MAX]; /* "" : none */
    int64_t wall_s;
    int64_t light_day;
    enum journal_class class;
    char kind[32]; /* decide_event_name or a name of run's own: "started", "stopped", "reload", … */
    double a, b;   /* as in decide.h; NaN: none */
    char text[192]; /* the sentence for people */
};

/* One closed (or, at shutdown, present) light day of one space: day_summary with names. */
struct journal_day {
    char space[JOURNAL_NAME_MAX];
    char stage[STAGE_NAME_MAX];
    char currency[8];
    int32_t utc_offset_s;
    bool is_closed;
    int64_t begin_s; /* wall time at which the light day begins */
    struct day_summary summary;
};

/* A saved state of one space, opaque to the journal (see resume.h). */
struct journal_state {
    char space[JOURNAL_NAME_MAX];
    int64_t wall_s;
    size_t size;
    const void *data; /* copied by journal_put_state */
};

enum journal_health { JOURNAL_HEALTHY, JOURNAL_WAITING, JOURNAL_OFF };

struct journal_status {
    enum journal_health health;
    char reason[128]; /* why it waits; "" when healthy */
    uint64_t written, dropped, queued;
    int64_t last_commit_ns; /* boot time; 0: none */
    /* What a power cut can no longer take: told only after the commit that holds it has returned.
     */
    int64_t stored_s;     /* latest wall time of a record stored in this run; 0: none */
    int64_t stored_event; /* row of the latest event stored in this run; 0: none */
    uint64_t file_bytes;  /* database + WAL */
};

struct journal_options {
    const char *path;
    double commit_s;
    int keep_days; /* light days whose minutes and events are kept; 0: all. Day summaries stay for
                      ever */
    bool is_rehearsal; /* no fsync, no lock, no retention: a scratch file that is thrown away; a
                        * full queue makes the put wait for the writer instead of dropping, alarms
                        * wait like the rest */
    size_t queue_max;  /* records; 0: the default of 8192 */
    double retry_s;    /* after a failure; 0: the default of 60 */
};

/* Starts the thread. Does not fail for a bad disk (health says so); fails for no memory or no
 * thread. If another process already writes this journal: -EBUSY. */
int journal_open(const struct journal_options *options, struct journal **ret, struct err *err);

/* Copies the record; never blocks longer than a mutex held for a copy. False: it was dropped. A
 * NULL journal takes nothing, without complaint. Events of class JOURNAL_ALARM are committed at
 * once. */
bool journal_put_minute(struct journal *journal, const struct journal_minute *minute);
bool journal_put_event(struct journal *journal, const struct journal_event *event);
bool journal_put_day(struct journal *journal, const struct journal_day *day);
bool journal_put_state(struct journal *journal, const struct journal_state *state);

struct journal_status journal_get_status(struct journal *journal);

/* A NULL journal is JOURNAL_OFF and always flushed. */
/* Commits what is queued; waits at most timeout_s. False: not all was written. Not on the tick's
 * path. */
bool journal_flush(struct journal *journal, double timeout_s);

/* Flushes for at most 3 s, then ends the thread; one that hangs in a dead disk is left behind. NULL
 * is fine. */
void journal_close(struct journal *journal);

#endif
