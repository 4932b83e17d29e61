/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The dimming curve of one fixture, taken by a machine without clock or device: it is told what is
 * seen and says what to ask of the lamp next.
 *
 * Its course: dark (switch open), first light, warm-up at a middle drive, all steps up, all steps
 * down, the edges of the dark zone from both sides (by halving), the bend where more drive gives no
 * more light. Every few steps it goes back to drive 0 and to the middle drive: with these two the
 * daylight, which adds, and the droop of the warm lamp, which multiplies, are told apart and taken
 * away (sweep_result.h).
 *
 * A curve that is not measured yet may promise light where there is none, and the lamp's guard then
 * takes it for tripped: no visit to a dark drive lasts longer than SWEEP_DIM_S, and none follows
 * another at nearly the same drive. A lamp that is held back below what was asked is taken at the
 * drive that it has. A trip lowers the top of the sweep below it.
 */
#ifndef LAMPWARDEN_SWEEP_H
#define LAMPWARDEN_SWEEP_H

#include "lampsight.h"
#include "settle.h"

#define SWEEP_STEPS_MAX  1024
#define SWEEP_COARSE_MAX 100
#define SWEEP_DIM_S      7.0 /* less than a guard needs to call a lamp tripped: usual 5 + 6 s */
#define SWEEP_VISITS     4

struct sweep_rules {
    int steps;              /* of the drive from 0 to the top, 2 … SWEEP_COARSE_MAX; usual 20 */
    double top_drive;       /* highest asked */
    double reference_drive; /* usual 0.6 of the top */
    double fine;            /* of the drive: how near edges and bend are sought; usual 0.004 */
    int reference_every;    /* steps between two looks back; usual 4 */
    struct settle_rules settle;
    double warm_least_s, warm_most_s; /* usual 120 and 1800 */
    double lost_s;                    /* without a light reading: given up; usual 30 */
    int trips_most;                   /* one more and it is given up; usual 1 */
    bool has_switch;                  /* else the lamp is taken to be dark at drive 0 */
};

enum sweep_kind {
    SWEEP_DARK,      /* switch open */
    SWEEP_LOW,       /* drive 0 */
    SWEEP_REFERENCE, /* the middle drive */
    SWEEP_WARMING,   /* there too, while it warms up */
    SWEEP_UP,
    SWEEP_DOWN,
    SWEEP_EDGE,
    SWEEP_BEND,
};

struct sweep_step {
    enum sweep_kind kind;
    double time_s, asked, drive;
    double umol, spread_umol, watts; /* of the space, daylight included; watts NaN: none */
    double heat_c;
    double lamp_umol; /* above the dark of that time */
    bool is_lit;
    int samples;
    bool is_steady; /* else the longest time was over, or it had to be short */
};

struct sweep_visit {
    enum sweep_kind kind;
    double drive;
};

enum sweep_stage {
    SWEEP_BEGIN,
    SWEEP_FIRST,
    SWEEP_WARM,
    SWEEP_CLIMB,
    SWEEP_DESCEND,
    SWEEP_EDGES,
    SWEEP_BENDS,
    SWEEP_LAST,
    SWEEP_END
};

/* An edge of the dark zone: dark at `low`, lit at `high` once that was seen. */
struct sweep_edge {
    double low, high;
    bool has_high;
};

struct sweep {
    struct sweep_rules rules;
    enum sweep_stage stage;
    bool is_done;
    char why[160]; /* not empty: given up */

    int index; /* step of the stage */
    int since_pair;
    struct sweep_visit queue[SWEEP_VISITS];
    int queued;
    struct sweep_edge off, on; /* coming from light, and coming from the dark */
    bool has_edges, is_on;     /* is_on: the second is looked for */
    double bend_low, bend_high;

    struct sweep_visit visit;
    bool has_arrived;
    double begun_s, arrived_s, stood_drive, stood_s;
    struct settle settle;
    double new_s, taken_s; /* when a sample was last new, and its time */

    bool is_tripped;
    int trips;
    double trip_drive, trip_heat_c; /* of the last; NaN: none */
    double top_drive;               /* now */

    double warm_from_s;
    double dark_umol; /* at last */
    double low_umol;  /* of the lamp at drive 0; 0: dark */
    double full_umol; /* most lamp light so far, and its drive */
    double full_drive;
    int skipped; /* visits that never came to rest */
    int count;
    struct sweep_step steps[SWEEP_STEPS_MAX];
};

/* The rules are within their ranges: the caller has read them. */
void sweep_begin(struct sweep *sweep, const struct sweep_rules *rules, double now_s);

/* At every look, some times a second or every few seconds. */
void sweep_look(struct sweep *sweep, const struct lampsight *sight, struct lampwish *ret);

/* How long it takes, about: with a lamp that warms up at once, and with one that never does. */
void sweep_lengths(const struct sweep_rules *rules, double *ret_least_s, double *ret_most_s);

/* How much of that is done, about: 0 … 1. */
double sweep_share(const struct sweep *sweep, double now_s);

const char *sweep_kind_name(enum sweep_kind kind); /* "up", "edge" … */

#endif
