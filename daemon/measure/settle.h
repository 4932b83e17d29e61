/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whether readings have come to rest: the straight line through the last ones rises or falls over
 * their time by less than twice its own standard error, or by less than a share of the reading.
 */
#ifndef LAMPWARDEN_SETTLE_H
#define LAMPWARDEN_SETTLE_H

#include <stdbool.h>

#define SETTLE_SAMPLES_MAX 32
#define SETTLE_CLOSE       0.002 /* of the reading: a trend that does not matter */

struct settle_rules {
    double least_s; /* samples that are younger than this after the move do not count */
    double most_s;  /* then it is taken as it is */
    int samples;    /* 3 … SETTLE_SAMPLES_MAX: the last ones, that have to agree */
};

struct settle_sample {
    double taken_s, umol, watts; /* watts NaN: none */
};

struct settle {
    double begun_s;
    int count; /* all that were taken; the last SETTLE_SAMPLES_MAX are kept */
    struct settle_sample at[SETTLE_SAMPLES_MAX];
};

struct settle_mean {
    double umol, spread_umol; /* sample standard deviation; 0 of one */
    double watts;             /* NaN: not all samples had them */
    int samples;              /* 0: none, and the rest is NaN */
};

void settle_begin(struct settle *settle, double now_s);

/* A sample that was seen before, or is too young, is not taken. */
void settle_take(struct settle *settle, const struct settle_rules *rules,
                 const struct settle_sample *sample);

bool settle_is_steady(const struct settle *settle, const struct settle_rules *rules);

/* Of the last rules->samples, or as many as there are. */
void settle_mean_of(const struct settle *settle, const struct settle_rules *rules,
                    struct settle_mean *ret);

#endif
