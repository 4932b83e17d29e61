/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One simulated lamp under a PPFD sensor, guarded as the daemon guards it: core/ceiling watches for
 * trips by a dimming curve that may promise anything, the contact rests, the drive is capped. What
 * a machine of measure/ asks is carried out second by second.
 */
#ifndef LAMPWARDEN_LAMPRIG_H
#define LAMPWARDEN_LAMPRIG_H

#include "bench_model.h"
#include "ceiling.h"
#include "dimcurve.h"
#include "lampsight.h"

struct lamprig {
    struct bench_setup setup; /* change before lamprig_start */
    struct ceiling_rules rules;
    struct dimcurve promise; /* the configured curve: a straight line through all */
    double promise_umol;
    double min_off_s, min_on_s;
    bool has_meter, has_heat;
    double daylight_umol, daylight_swing, daylight_period_s; /* a wave around the first */
    double sample_s;   /* the PPFD sensor is read so often; usual 1 */
    double held_drive; /* something holds the lamp back there; 2: nothing */

    struct bench_model *model;
    struct ceiling ceiling;
    double now_s, steady_s, steady_drive, contact_s, drive;
    bool is_closed;
    double taken_s, umol; /* last good sample */
    int trips;            /* as the guard counted them */
};

/* One usual lamp of 400 µmol and 300 W, dark below 0.08, back on at 0.10, flat from 0.95 on. */
void lamprig_defaults(struct lamprig *rig, uint64_t seed);
void lamprig_start(struct lamprig *rig);
void lamprig_stop(struct lamprig *rig);

/* One second: carries the wish out, and looks. */
void lamprig_second(struct lamprig *rig, const struct lampwish *wish, struct lampsight *ret);

#endif
