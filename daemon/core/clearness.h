/* SPDX-License-Identifier: Apache-2.0 */
/*
 * How clear the sky of this light day is: daylight over clear-sky daylight, so far and to come.
 *
 * Rows: the share of the day's clear-sky light that is past, in steps of 1/20. When the day passes
 * a row, what was known then is noted; when the day has ended, the prediction made with it is
 * compared with what came, and learned (learned.h).
 */
#ifndef LAMPWARDEN_CLEARNESS_H
#define LAMPWARDEN_CLEARNESS_H

#include "learned.h"

#include <stdbool.h>

#define CLEARNESS_SUN_LEAST_MOL 0.01 /* clear-sky light of a day; below it there is no sun */

/* Today's sums, kept over restarts. */
struct clearness {
    double daylight_mol, clear_mol; /* so far, night and the edges of the window included */
    double clear_day_mol;           /* of the whole light day; < 0.01: no sun */
    bool is_broken;                 /* daylight was lost or guessed: the day teaches nothing */
    int row_next;                   /* rows below it are passed */
    float row_prediction[CLEARNESS_ROWS];
    float row_daylight[CLEARNESS_ROWS], row_clear[CLEARNESS_ROWS]; /* sums when it was passed */
};

void clearness_open(struct clearness *today, double clear_day_mol);
/* False when a value cannot be true (a damaged record). */
bool clearness_is_sane(const struct clearness *today);

/* Daylight and clear sky of dt_s seconds, called for the whole of the light day. is_measured false:
 * the day becomes broken. Daylight that nobody knows (NaN) breaks it too and counts at the
 * clearness so far, so time without a daemon can be caught up in one step. A step whose dt_s is
 * not > 0 or whose clear sky is no number ≥ 0 is no step. */
void clearness_step(struct clearness *today, const struct learned *learned, double daylight_umol,
                    double clear_umol, double dt_s, bool is_measured);

/* The day is over: teaches the learner, unless the day is broken, had no sun, or less than nine
 * tenths of its clear sky were stepped through. */
void clearness_close(const struct clearness *today, struct learned *learned);

/* What may come: clearness of the rest of the day in equally likely cases, and a pessimistic one
 * (below it 1 to 3 of 100 days were, measured). Lower ones first; each 0.02 … 1.1, or up to
 * 1.15 of the clearest kept day where that is more. The residuals are the site's own once there are
 * enough of them. */
struct scenarios {
    int count; /* CLEARNESS_SCENARIOS; 0: no sun, and all else 0 */
    double clearness[CLEARNESS_SCENARIOS];
    double mean;        /* of the cases */
    double pessimistic; /* as far below the lowest case as that is below the next, by the site's own
                           days or by the usual ones: sixty bright days know no dark one */
    bool is_dark;       /* next to nothing came so far of a sun that is up, and more is to come */
};
void clearness_scenarios(const struct clearness *today, const struct learned *learned,
                         struct scenarios *ret);

#endif
