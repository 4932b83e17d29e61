/* SPDX-License-Identifier: Apache-2.0 */
/* Private to sweep*.c: the lamp as the daemon shows it, and what a sweep has found. */
#ifndef LAMPWARDEN_SWEEP_VERB_H
#define LAMPWARDEN_SWEEP_VERB_H

#include "ceilingsearch.h"
#include "space.h"
#include "sweep_result.h"

#include <stdbool.h>
#include <stdio.h>

#define SWEEP_NAME       "sweep"
#define SWEEP_NAME_MAX   64
#define SWEEP_MARGIN     0.05 /* of the drive, below what tripped */
#define SWEEP_SENSOR_MAX 128

struct err;

/* One fixture of a running daemon, moved by tries that end by themselves. */
struct sweep_lamp {
    const char *socket_path, *space, *fixture;
    bool breaks_night, keeps_others;
    char dim[SWEEP_NAME_MAX], contact[SWEEP_NAME_MAX]; /* its outputs; contact "": none */
    struct lampsight sight;
    double paused_s; /* while a person was asked; its clock stands still */
    double uptime_s;
    double drive_cap;
    char limiter[32], held[160], time[32], sensors[SWEEP_SENSOR_MAX];
};

/* Finds the outputs. -ENOENT with what there is instead. */
int sweep_lamp_open(struct sweep_lamp *lamp, struct err *err);
int sweep_lamp_look(struct sweep_lamp *lamp, struct err *err);
/* Asks for what is not asked yet, or ends soon. -EREMOTEIO: refused, in the daemon's words. */
int sweep_lamp_obey(struct sweep_lamp *lamp, const struct lampwish *wish, struct err *err);
/* The plan goes on at once. */
void sweep_lamp_release(const struct sweep_lamp *lamp);

struct sweep_finding {
    char space[SWEEP_NAME_MAX], fixture[SWEEP_NAME_MAX]; /* "": nobody said */
    char date[32], sensor[SWEEP_SENSOR_MAX];
    double cold_c, hot_c;      /* heatsink meanwhile; NaN: not known */
    const struct sweep *sweep; /* NULL: from a file */
    struct sweep_result result;
    bool has_cold, has_warm; /* searches for the ceiling */
    struct ceilingsearch cold, warm;
    double ceiling;        /* for the configuration; NaN: none needed */
    double ceiling_heat_c; /* heatsink at the lowest trip; NaN: none */
    double ceiling_margin; /* of the ceiling below what held; NaN: nothing tripped */
    char held_by[64];      /* what kept it below a drive that was asked, above all it reached; "" */
    double cap_today;      /* what the daemon keeps to by itself after a trip; NaN: as configured */
};

/* From a CSV file. -EINVAL with "FILE:LINE: …", or as of files and dimfit. */
int sweep_read(const char *path, struct sweep_finding *ret, struct err *err);

/* What was found, a sentence a call. */
void sweep_words(const struct sweep_finding *finding, void (*say)(void *context, const char *text),
                 void *context);
void sweep_text(const struct sweep_finding *finding);
void sweep_json(const struct sweep_finding *finding, const char *record);

/* A picture of the curve as gnuplot.h says. */
int sweep_plot(const struct sweep_finding *finding, const char *path, struct err *err);

/* A record that was written before: what was found then, as far as it says. -EINVAL with the
 * configuration's own findings, or when it keeps no readings. */
int sweep_recall(const char *path, struct sweep_finding *ret, struct err *err);

/* The fixture record: a fragment for @include in the fixture's group. */
int sweep_record(const struct sweep_finding *finding, const char *path, struct err *err);

#endif
