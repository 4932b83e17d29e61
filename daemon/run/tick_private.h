/* SPDX-License-Identifier: Apache-2.0 */
/* The inside of the tick, shared by the tick*.c files alone. */
#ifndef LAMPWARDEN_TICK_PRIVATE_H
#define LAMPWARDEN_TICK_PRIVATE_H

#include "inputs.h"
#include "outputs.h"
#include "powerplan.h"
#include "recorder.h"
#include "resume.h"
#include "tally.h"
#include "tick.h"

/* One space beside its state. */
struct tick_space {
    struct now now;
    struct verdict verdict;
    struct recorder_air air;
    struct recorder recorder;
    struct hand hand;
    struct tally tally;
    bool has_last_day;
    struct day_summary last_day; /* that was closed; after a start the journal's */
    bool acknowledged;           /* latches are released in the next tick */
};

/* What was told last of one bus. A line that comes and goes is told once in ten minutes, with how
 * often it went meanwhile. */
struct tick_told_bus {
    bool is_up;
    uint32_t epoch;
    bool was_lost_told; /* then its return is told as well */
    bool has_lost;
    int64_t lost_told_ns;
    int untold;
};

/* What was told last, to tell only changes. */
struct tick_told {
    struct tick_told_bus *buses;
    bool *sensor_is_lost; /* by sensor */
    bool behind_journal;
    bool prices_missing;
    bool journal_waits;
};

struct tick {
    struct config *config;
    struct config *first_config; /* the buses use its option texts to the end */
    struct channels *channels;
    struct inputs *inputs;
    struct outputs *outputs;
    struct powerplan *power; /* NULL: the spaces share nothing */
    struct journal *journal;
    struct alarms *alarms; /* the app's; NULL: none */
    struct snapshot *snapshot;
    struct resume *resume; /* NULL: the file could not be made */
    struct resume_record scratch;
    unsigned char packed[RESUME_PACKED_MAX];
    char resume_path[256];
    char boot_id[RESUME_BOOT_ID + 1];
    struct space_state *states; /* by space */
    struct tick_space *spaces;
    struct trial *trials; /* by output */
    struct tick_told told;
    struct clocktrust_rules clock_rules;
    struct clocktrust clock;
    bool may_light, in_crash_loop;
    int64_t sure_s;        /* wall time of the last look at a trusted clock: for records */
    int64_t light_from_ns; /* contacts may be closed from here on */
    int64_t started_ns, last_ns, saved_ns, days_kept_ns;
    bool has_run;
    double pace; /* of a demonstration; 0: in earnest */
    uint64_t ticks, overruns;
};

/* Everything that is counted by the configuration's spaces and points. before: as in inputs.h. */
int tick_make_spaces(struct tick *tick, const struct tick *before, struct err *err);
void tick_free_spaces(struct tick *tick);
/* What a space decided, for the supply that all share. */
void tick_see_power(struct tick *tick, int space);
/* The last records of a space. */
void tick_finish_record(struct tick *tick, int space);

/* tick_news.c: log lines and events about what changed since the last tick. */
int tick_told_init(struct tick_told *told, const struct config *config);
void tick_told_finish(struct tick_told *told);
void tick_tell_clock(struct tick *tick, const struct clocktrust_change *change);
void tick_tell_prices(struct tick *tick);
void tick_tell_devices(struct tick *tick, const struct tick_time *time);
void tick_tell_verdict(struct tick *tick, int space);

/* tick_trial.c */
void tick_fill_trials(const struct tick *tick, int space, struct now *now);
/* After the space was decided: what tripped under a hand is let go, and not lit again by it. */
void tick_end_tripped_trials(struct tick *tick, int space);

/* tick_gain.c: after a restart or a reload; a correction of what was configured since then ends. */
void tick_rebase_correction(struct tick *tick, int space);

/* tick_picture.c: shows the tick to those who look. */
void tick_show(struct tick *tick, const struct tick_time *time);

/* tick_state.c: the saved state. */
void tick_restore(struct tick *tick, const struct tick_setup *setup);
void tick_save(struct tick *tick, const struct tick_time *time);
/* The log of a space's open light day, into the journal. */
void tick_keep_day(const struct tick *tick, int space);
/* What a closed light day taught: its sky, its heat, the age of its lamps. */
void tick_keep_learned(const struct tick *tick, int space);
/* Makes a state file for the present number of spaces, in place of the one before. */
void tick_open_resume(struct tick *tick);

#endif
