/* SPDX-License-Identifier: Apache-2.0 */
/*
 * How much of their commissioned light the lamps of a space still give, day by day, and whether a
 * light sensor of several has fallen behind the others.
 *
 * A moment counts only where the level is known and steady, the lamps are warm, nothing else shines
 * (under a sun also the step by which a warm lamp goes out, lampstep.h) and the heatsinks are
 * within AGEING_BAND_K of the temperature of the record: LEDs give less when hot, and that is no
 * age. The moments of a light day make one value; the answer is the median of the last values, ±
 * twice their standard deviation. Only in the light of its own lamp can a lamp be compared, so dust
 * on the only light sensor looks like age.
 *
 * Each of several sensors is compared with what it showed itself in the first days, so their places
 * do not matter. One that falls while the others stay has dust on it, or has been moved; where all
 * fall alike it is the lamps, or dust on all.
 */
#ifndef LAMPWARDEN_AGEING_H
#define LAMPWARDEN_AGEING_H

#include <stdbool.h>
#include <stdint.h>

#define AGEING_SENSORS 8
#define AGEING_KEPT    15   /* values of the median */
#define AGEING_LEAST   7    /* fewer say nothing */
#define AGEING_LEAST_S 600  /* of comparable light for the value of a day */
#define AGEING_BAND_K  10.0 /* common practice for LED droop: a percent or two (no source) */
#define AGEING_BLIND   30   /* days without a value, then another temperature will do */
#define AGEING_OLD     60   /* days: values further behind the newest are of another time */
#define AGEING_FALLEN  0.92 /* of the others, of a sensor with dust on it */
#define AGEING_AGAIN   0.03 /* this far above the limit again: a loss would be news again */

struct ageing_rules {
    int64_t commissioned; /* date of the record, days since 1970; 0: none, nothing is compared */
    double heat_c;    /* mean of the heatsinks then; NaN: not noted, the first day's stands in */
    double limit;     /* share of commissioning at which the loss is told, 0 … 1 */
    int sensor_count; /* light sensors of the space, 0 … AGEING_SENSORS */
    uint32_t sensor[AGEING_SENSORS]; /* who they are: a number of each that stays its own */
};

struct ageing_sensor {
    uint32_t who;
    int base_days;
    float base, value; /* seen over promised: of the first days, and now */
};

struct ageing_sum {
    double seconds, ratio_s; /* ∫ dt, ∫ ratio dt */
};

/* Plain data. */
struct ageing {
    int64_t commissioned; /* of which record it speaks … */
    double full_umol;     /* … and beside which full light */
    float value[AGEING_KEPT];
    int32_t day[AGEING_KEPT];
    int count, next;
    int blind_days;
    float band_c; /* NaN: any */
    bool told_loss, told_sensor;
    struct ageing_sensor sensors[AGEING_SENSORS];
    /* of the open light day */
    struct ageing_sum sum, sensor_sum[AGEING_SENSORS];
    double heat_s; /* ∫ °C dt */
};

struct ageing_sample {
    double ratio;  /* light seen over what the record promises at this level */
    double heat_c; /* mean of the heatsinks; NaN: nobody measures them */
    double sensor_ratio[AGEING_SENSORS]; /* the same of each sensor by itself; NaN: not good */
};

struct ageing_news {
    bool has_loss; /* the light has fallen to the limit */
    int sensor;    /* that has fallen behind the others; −1: none, or told before */
};

/* What is to be said of it. */
struct ageing_view {
    bool is_known;
    double share, spread; /* of commissioning; ± */
    int32_t last_day;     /* light day of the newest value */
    int sensors;          /* that are compared with one another */
    int fallen;           /* index of the one behind the others; −1: none */
    double fallen_share;  /* of what the others still show */
};

void ageing_init(struct ageing *ageing);
/* False when a value cannot be true (a damaged record): start again with ageing_init. */
bool ageing_is_sane(const struct ageing *ageing);

/* A comparable moment. Starts afresh when the record or full_umol is another one. */
void ageing_book(struct ageing *ageing, const struct ageing_rules *rules, double full_umol,
                 const struct ageing_sample *sample, double dt_s);

/* The light day is over. Each loss is told once. */
struct ageing_news ageing_close(struct ageing *ageing, const struct ageing_rules *rules,
                                int64_t light_day);

/* What a kept record says of itself, without the configuration: its date and its sensors; no limit.
 */
struct ageing_rules ageing_own_rules(const struct ageing *ageing);

/* As it was at the end of an earlier light day, as far as its values go back. The sensors are known
 * as of the newest day alone, and left out of an earlier one. */
void ageing_rewind(struct ageing *ageing, int64_t light_day);

struct ageing_view ageing_view(const struct ageing *ageing, const struct ageing_rules *rules);

#endif
