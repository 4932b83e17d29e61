/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Trips of the LED driver inside a fixture: light or power collapses while the drive stands.
 *
 * Some LED drivers shut down above roughly 85–90 % of their dimming range, more often cold (common
 * practice, no source). Detect (evidence below `collapse` of what was expected for `confirm_s`),
 * open the switch, rest, re-strike at minimum, and for the rest of the light day stay `step` below
 * the drive at which it happened. After `tries` trips running without light between them the
 * fixture is held off for `long_rest_s` each time: then it is broken rather than tripped, and that
 * is said once. Where only light bears witness there is one long rest, and no more trips until
 * light was seen again: by then the sensor is as likely to be broken as the lamp, and a dead sensor
 * must not darken a crop.
 *
 * An LED driver that hiccups gives short pulses every few seconds: light between two collapses
 * therefore takes off only its own length from collapsed_s, and light counts as back only after
 * confirm_s without a collapse. Evidence that is absent or contradicts itself holds every timer;
 * evidence that is not steady starts them afresh. A new light day restores the commissioned ceiling
 * (the trip may have been a matter of a cold start); rests and the count of trips without light go
 * on.
 */
#ifndef LAMPWARDEN_CEILING_H
#define LAMPWARDEN_CEILING_H

#include <stdbool.h>
#include <stdint.h>

struct ceiling_rules {
    double drive_max;   /* the drive ceiling as commissioned, 0 < … ≤ 1 */
    double drive_floor; /* the ceiling is never lowered below this drive */
    double collapse;    /* observed/expected below this is a collapse; usual 0.3 */
    double confirm_s;   /* for this long; usual 6 */
    double
        settle_s; /* evidence counts only so long after a switch closed or a drive moved; usual 5 */
    double rest_s;      /* switch open before the re-strike; usual 60 */
    double long_rest_s; /* usual 1800 */
    double step;        /* back-off in drive; usual 0.05 */
    int tries;          /* usual 3 */
};

struct ceiling {
    double drive_cap;   /* highest drive allowed now */
    double collapsed_s; /* how long the evidence has said so */
    double lit_s;       /* how long it has said the contrary, without a break */
    double rest_left_s; /* > 0: tripped, switch open */
    int trips_today;
    int trips_without_light;
    double trip_drive; /* drive of the last trip; NaN: none */
};

/* CEILING_GAVE_UP stands for the trip that was one too many; later ones are CEILING_TRIPPED again.
 */
enum ceiling_event {
    CEILING_NOTHING,
    CEILING_TRIPPED,
    CEILING_RESTRIKE,
    CEILING_LIGHT_BACK,
    CEILING_GAVE_UP
};

struct ceiling_evidence {
    double drive;   /* applied drive */
    bool is_steady; /* switch closed and drive unmoved (±0.02) for settle_s at the samples' time */
    double light_ratio; /* observed/expected light of this fixture; NaN: cannot tell */
    double power_ratio; /* observed/expected watts; NaN: no meter */
};

void ceiling_reset(struct ceiling *ceiling, const struct ceiling_rules *rules);
void ceiling_new_day(struct ceiling *ceiling, const struct ceiling_rules *rules);
/* The operator repaired it: full ceiling, no rest, no trips without light; trips_today stays. */
void ceiling_acknowledge(struct ceiling *ceiling, const struct ceiling_rules *rules);

/* With both kinds of evidence both must agree; with one, that one decides; with none, nothing. */
enum ceiling_event ceiling_step(const struct ceiling_rules *rules, struct ceiling *ceiling,
                                const struct ceiling_evidence *evidence, double dt_s);

static inline bool ceiling_is_resting(const struct ceiling *ceiling)
{
    return ceiling->rest_left_s > 0;
}

#endif
