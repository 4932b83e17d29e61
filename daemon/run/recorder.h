/* SPDX-License-Identifier: Apache-2.0 */
/*
 * From ticks to records: one per space. Collects a minute, then puts a minute row; turns the
 * verdict's events into journal events with sentences; puts day summaries when light days close,
 * and the running day every ten minutes, sooner after events. The daemon and the rehearsal use it
 * alike. No allocation.
 *
 * Minutes are those of wall time. While the clock is untrusted (and the space does not carry on by
 * it) there is no minute to put a row into: rows are left out, events carry the last trusted time.
 * When the clock is set back, minutes come again and their rows replace the earlier ones: the
 * newest observation of a minute stands.
 */
#ifndef LAMPWARDEN_RECORDER_H
#define LAMPWARDEN_RECORDER_H

#include "config.h"
#include "decide.h"
#include "journal.h"
#include "moment.h"

#define RECORDER_SAMPLES_MAX 64

/* A mean over the time in which there was a value. */
struct recorder_mean {
    double sum, seconds;
};

struct recorder {
    const struct config *config;
    int space;
    int64_t minute_s;              /* start of the minute being collected; −1: none */
    int64_t trusted_s;             /* wall time of the last tick whose clock counted, else sure_s */
    int64_t day_put_ns;            /* boot time at which the running day was last put; 0: not yet */
    bool has_news;                 /* something happened since then */
    int sample_count;              /* PPFD readings kept for the median */
    int sample_every, sample_skip; /* more than fit: every second one, then every fourth … */
    double samples[RECORDER_SAMPLES_MAX];
    struct recorder_mean lamp, daylight, level, drive, watts, air, humidity;
    double heatsink_max;
    double limiter_seconds[LIMITER_COUNT];
    enum reading_quality worst;
    struct journal_minute row; /* what a row takes from its last tick */
    bool has_moment;
    struct moment moment; /* of its last tick, or its first where the last came unforeseen */
};

/* sure_s: the latest time that is known to have passed, for events before the clock is trusted; 0:
 * none. A time that nobody vouches for is never stored: it could stand ahead of all that follows,
 * and the clock is measured against the journal's latest entry. */
void recorder_init(struct recorder *recorder, const struct config *config, int space,
                   int64_t sure_s);

/* Beside what decide saw: the space's air, for the record. */
struct recorder_air {
    struct reading temperature, humidity;
};

/* One tick: what decide was given and what it said. */
struct recorder_tick {
    const struct now *now;
    const struct recorder_air *air;
    const struct space_state *state;
    const struct verdict *verdict;
    double dt_s; /* length of the tick */
};

/* Called once after every decide. journal NULL: nothing is stored. */
void recorder_tick(struct recorder *recorder, struct journal *journal,
                   const struct recorder_tick *tick);

/* Puts the minute begun so far and the day so far (is_closed false): before a stop. */
void recorder_finish(struct recorder *recorder, struct journal *journal,
                     const struct space_state *state, int64_t wall_s);

/* The journal's form of one event of decide: class, kind, names, sentence. */
void recorder_event(const struct config *config, int space, const struct decide_event *event,
                    int64_t wall_s, int64_t light_day, struct journal_event *ret);

/* The journal's form of a summary. */
void recorder_day(const struct config *config, int space, const struct day_summary *summary,
                  bool is_closed, struct journal_day *ret);

#endif
