/* SPDX-License-Identifier: Apache-2.0 */
/* One value from a sensor with its time and how far it may be trusted. */
#ifndef LAMPWARDEN_READING_H
#define LAMPWARDEN_READING_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

enum reading_quality {
    READING_GOOD,    /* in range, fresh, plausible */
    READING_SUSPECT, /* fresh, but frozen, jumping or at the edge of what can be */
    READING_STALE,   /* the last good value, older than it should be */
    READING_LOST,    /* no usable value; `value` is NaN */
};

struct reading {
    double value;     /* unit of the sensor's kind; NaN when lost */
    int64_t taken_ns; /* boot time of the measurement; 0 when lost from the start */
    enum reading_quality quality;
};

#define READING_NONE ((struct reading){(double)NAN, 0, READING_LOST})

/* Good or suspect-free enough to act on: only READING_GOOD. */
static inline bool reading_is_good(const struct reading *reading)
{
    return reading->quality == READING_GOOD;
}

#endif
