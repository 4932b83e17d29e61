/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The picture of the last tick, for everyone who only looks: control socket, page, metrics.
 *
 * The tick fills a spare picture and shows it; readers hold a shown picture as long as they like,
 * and it does not change under them. A picture is whole: config, readings, states and verdicts
 * belong together. When readers still hold both pictures, that tick is not shown. The mutex is held
 * only for counting. Readers may be other threads; showing is for the tick's alone.
 */
#ifndef LAMPWARDEN_SNAPSHOT_H
#define LAMPWARDEN_SNAPSHOT_H

#include "alarm.h"
#include "clocktrust.h"
#include "config.h"
#include "decide.h"
#include "journal.h"
#include "mailbox.h"
#include "outputs.h"
#include "powerplan.h"
#include "recorder.h"
#include "tally.h"

struct picture_space {
    struct now now;
    struct space_state state;
    struct verdict verdict;
    struct recorder_air air;
    struct tally tally; /* since the daemon started */
    bool has_last_day;
    struct day_summary last_day; /* that was closed */
};

struct picture_sensor {
    struct reading reading;
    enum quality_fault fault;
    struct sample sample; /* what the device said last */
};

struct picture {
    const struct config *config; /* lives at least as long as the picture is held */
    int64_t boot_ns, wall_ns;
    struct clocktrust clock;
    bool is_ready;      /* outputs were verified safe; from here on light is allowed */
    bool in_crash_loop; /* the daemon ended abnormally several times running */
    int64_t started_ns; /* boot time of the first tick */
    uint64_t ticks, overruns;
    double pace; /* of a demonstration: simulated lamps, a time of its own; 0: in earnest */
    struct powerplan_view power;
    int alarm_count;
    struct alarm_view alarms[CONFIG_ALARMS_MAX];
    bool has_journal;
    struct journal_status journal;
    /* by index in config */
    struct picture_space *spaces;
    struct picture_sensor *sensors;
    struct outputs_view *outputs;
    struct mailbox_health *buses;
};

struct snapshot;

/* The first configuration stays the caller's to the end: the buses still use its texts. */
int snapshot_create(struct config *config, struct snapshot **ret, struct err *err);
void snapshot_destroy(struct snapshot *snapshot); /* no reader may be left; NULL is fine */

/* After a reload: pictures of the new configuration from now on. The old configuration, unless it
 * is the first, belongs to the snapshot then and is freed when nobody holds a picture of it any
 * more. */
int snapshot_replace(struct snapshot *snapshot, struct config *config, struct err *err);

/* A picture to fill, with `config` set and arrays in place; NULL: readers hold both. */
struct picture *snapshot_begin(struct snapshot *snapshot);
void snapshot_show(struct snapshot *snapshot, struct picture *picture);

/* NULL: nothing was shown yet. */
const struct picture *snapshot_take(struct snapshot *snapshot);
void snapshot_release(struct snapshot *snapshot, const struct picture *picture);

#endif
