/* SPDX-License-Identifier: Apache-2.0 */
/*
 * From readings of one fixture, in any order, to the points of its dimming curve.
 *
 * Light and watts never fall with the drive: both are fitted by the monotone least squares line (R.
 * E. Barlow, D. J. Bartholomew, J. M. Bremner, H. D. Brunk, "Statistical Inference under Order
 * Restrictions", Wiley 1972: pool adjacent violators). Of that line as few points are kept as
 * core/dimcurve needs to follow it.
 *
 * A lamp that dims to off may be dark or lit at the same drive, by where it comes from. The curve
 * begins where it is always lit: the daemon lights it there.
 */
#ifndef LAMPWARDEN_DIMFIT_H
#define LAMPWARDEN_DIMFIT_H

#include "dimcurve.h"

#include <stdbool.h>

#define DIMFIT_READINGS_MAX 1024
#define DIMFIT_SAME_DRIVE   0.0005 /* readings nearer than this are of one drive */
#define DIMFIT_DARK_SHARE   0.005  /* of the most light: less is dark */
#define DIMFIT_FLAT_SHARE   0.01   /* of the most light: more is saturated */
#define DIMFIT_CLOSE        0.002  /* of full light or power: more points would not pay */

struct err;

struct dimfit_reading {
    double drive;  /* 0 … 1 */
    double umol;   /* of the lamp alone, ≥ 0 apart from noise */
    double watts;  /* NaN: not known */
    double weight; /* > 0: how many samples it is the mean of */
};

/* Drives: NaN where the readings show no such thing. */
struct dimfit {
    struct dimcurve curve; /* its points are those of the configuration */
    double full_umol;      /* light of level 1 */
    bool has_watts;        /* at two drives or more; else all watts are 0 */
    double dead_below;     /* highest drive that was dark, below every light */
    double holds_drive;    /* lowest drive that was lit */
    double holds_level;
    double lights_drive;           /* at this and all higher drives it was lit: the curve's first */
    double saturated_above;        /* from here on more drive gives no more light */
    double worst_level, rms_level; /* of the lit readings from lights_drive on, less the curve */
    double worst_w, rms_w;         /* NaN without watts */
};

/* -EINVAL: a reading out of range; -ENODATA: fewer than two drives with light; -EDOM: the readings
 * contradict each other (residual beyond `worst`, a share of full light). */
int dimfit_of(const struct dimfit_reading *readings, int count, double worst, struct dimfit *ret,
              struct err *err);

/* Reading less curve, as a share of full light. */
double dimfit_residual(const struct dimfit *fit, const struct dimfit_reading *reading);

#endif
