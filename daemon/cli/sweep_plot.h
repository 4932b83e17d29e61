/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A picture of a dimming curve: light over drive with the readings that it was made of, and below
 * what each of them misses it by. Lines differ in their dashes, points in their marks: nothing is
 * told by colour alone.
 */
#ifndef LAMPWARDEN_SWEEP_PLOT_H
#define LAMPWARDEN_SWEEP_PLOT_H

#include "dimcurve.h"
#include "measured.h"

#include <stdbool.h>

struct err;

struct sweep_picture {
    const char *fixture, *note; /* note: when and by what, for the title; "": nothing */
    const struct dimcurve *curve;
    bool is_narrow;       /* to stand beside a table */
    double full_umol;     /* PPFD at the canopy of level 1 */
    double drive_ceiling; /* NaN, or 1: none to show */
    int reading_count;    /* 0: the curve alone, without the lower part */
    const struct measured_reading *readings;
};

/* Draws it into a file as gnuplot.h names them. context: a struct sweep_picture. */
int sweep_picture_draw(const void *context, const char *path, struct err *err);

#endif
