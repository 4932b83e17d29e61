/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the light days of a site taught: how far the predictions of clearness were off, how clear
 * the days were, how much of the lamp the heat left. Carried from day to day, kept in the journal.
 * Plain data.
 *
 * A residual is the clearness that came less the one predicted (clearness.h), kept for each row of
 * the predictor, the last CLEARNESS_RING days. An error of scale of the clear-sky curve is in them
 * too, so it corrects itself.
 */
#ifndef LAMPWARDEN_LEARNED_H
#define LAMPWARDEN_LEARNED_H

#include <stdbool.h>

#define CLEARNESS_ROWS      20
#define CLEARNESS_SCENARIOS 10
#define CLEARNESS_RING      60
#define CLEARNESS_DAYS      30

#define LEARNED_RESIDUALS_LEAST 20  /* fewer say too little of the quantiles */
#define LEARNED_CLEARNESS_MOST  4.0 /* what is above is a fault of the reading or of the place */

struct learned {
    float residual[CLEARNESS_ROWS][CLEARNESS_RING]; /* ± LEARNED_CLEARNESS_MOST */
    int residual_count[CLEARNESS_ROWS];             /* 0 … CLEARNESS_RING */
    int residual_next[CLEARNESS_ROWS];
    float day[CLEARNESS_DAYS]; /* clearness of the last valid light days */
    int day_count, day_next;
    float yesterday;    /* of the last valid light day; 0.6 at first */
    float heat_cap[24]; /* usual heat cap of each hour of the day, 0 … 1; 1 at first */
};

void learned_init(struct learned *learned);
/* False when a value cannot be true (a damaged record): start again with learned_init. */
bool learned_is_sane(const struct learned *learned);

/* Mean clearness of the kept days; 0.6 without. */
double learned_mean(const struct learned *learned);

/* The clearness of a valid light day; limited to 0 … LEARNED_CLEARNESS_MOST, NaN is left out. */
void learned_push_day(struct learned *learned, double clearness);

/* A residual of a row, 0 … CLEARNESS_ROWS − 1; limited likewise, NaN is left out. */
void learned_push_residual(struct learned *learned, int row, double residual);

/* The residuals of a row at the quantiles 0.05, 0.15 … 0.95, rising: position n q − 1/2 among the
 * sorted, linear between neighbours. False, and nothing returned, below LEARNED_RESIDUALS_LEAST. */
bool learned_residuals(const struct learned *learned, int row, double ret[CLEARNESS_SCENARIOS]);

/* What heat left of the lamps in the hours of one light day (hours of the day at the fixed offset,
 * so that they mean the same when the light day begins elsewhere). */
struct learned_hours {
    double asked_s[24];       /* while lamp light was asked */
    double cap_s[24];         /* ∫ heat cap dt of that time */
    double highest_level[24]; /* that the lamps had */
};

/* At the end of a light day: the usual heat cap of each hour that asked for lamp light moves to the
 * mean of that hour, down at once and up by a fifth of the way. But a lamp that heat did not hold
 * back shows only that full light would leave a cap between its level and the cap it had: the
 * middle of the two is as far as it rises. */
void learned_heat(struct learned *learned, const struct learned_hours *day);

#endif
