/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One tick of one space: picture of now + rules + state → verdict. Pure: no I/O, no clock, no
 * allocation; the same inputs give the same outputs, in the daemon and in a rehearsal.
 */
#ifndef LAMPWARDEN_DECIDE_H
#define LAMPWARDEN_DECIDE_H

#include "allotment.h"
#include "chain.h"
#include "limiter.h"
#include "reading.h"
#include "space.h"

#include <stdbool.h>
#include <stdint.h>

#define DECIDE_EVENTS_MAX 48

/* One output that somebody moves by hand to see what it does. It gives way to every protection, and
 * to the stage's PPFD ceiling; not to the level for a lost sensor, which serves the plan. */
struct trial {
    bool is_active;
    double value;      /* drive 0 … 1, past the dimming curve; a contact: 0 open, 1 closed */
    int64_t until_ns;  /* boot time; it ends by itself */
    bool breaks_night; /* said in words: it may light a night */
};

static inline bool trial_is_on(const struct trial *trial, int64_t boot_ns)
{
    return trial->is_active && boot_ns < trial->until_ns;
}

struct fixture_now {
    struct reading heat;     /* hottest valid heat sensor, °C */
    struct reading power;    /* W */
    bool output_fault;       /* one of its outputs does not obey; run keeps trying */
    bool switch_seen_closed; /* read back; meaningful with switch_is_seen */
    bool switch_is_seen;
    bool opening_unconfirmed; /* its contact was closed and its device has not taken the opening */
    bool closing_unconfirmed; /* told to close, and its device has not taken it yet */
    struct trial try_drive;   /* with an open contact at any time: that gives no light */
    struct trial try_contact; /* only where there is a switch */
};

struct hand {
    bool is_active;
    double level;      /* 0 … 1 */
    int64_t until_ns;  /* boot time; the command ends by itself */
    bool breaks_night; /* the operator said so in words */
};

struct now {
    int64_t boot_ns;
    int64_t wall_s;
    enum clock_trust clock;
    bool may_close;       /* another contact may be closed in this tick */
    bool inputs_settled;  /* sensors have had their first chance to answer */
    double step_s;        /* of a rehearsal that ticks more seldom than the daemon; else 0 */
    double price_per_kwh; /* of energy, by the space's tariff where it has one */
    struct allotment power;
    struct reading ppfd;                      /* at the canopy, µmol m⁻² s⁻¹ */
    int ppfd_count;                           /* of ppfd_each; 0: one reading is all there is */
    struct reading ppfd_each[AGEING_SENSORS]; /* as each sensor of the space shows it */
    struct hand hand;
    bool acknowledged; /* the operator released the latches in this tick */
    struct fixture_now fixtures[SPACE_FIXTURES_MAX];
};

enum core_event {
    EVENT_DAY_BEGINS,   /* a: target mol, b: day number in the stage */
    EVENT_CARRIED_OVER, /* a: target mol as lowered, b: mol by which yesterday lowered it */
    EVENT_DAY_ENDS,     /* a: delivered mol, b: target mol; summary in the verdict */
    EVENT_STAGE_BEGINS, /* a: stage index */
    EVENT_STAGES_OVER,
    EVENT_LIGHTS_ON,           /* a: level asked */
    EVENT_LIGHTS_OFF,          /* a: delivered mol so far */
    EVENT_TARGET_MET,          /* a: delivered mol */
    EVENT_TARGET_OUT_OF_REACH, /* a: target mol, b: reachable mol; and what binds: reach */
    EVENT_HEAT_TRIP,           /* fixture; a: °C */
    EVENT_HEAT_BLIND,          /* fixture; no valid heat sensor */
    EVENT_HEAT_REARMED,        /* fixture; a: °C */
    EVENT_HEAT_LATCHED,        /* fixture; stays off until acknowledged */
    EVENT_DRIVER_TRIP,         /* fixture; a: drive at the trip, b: new drive cap */
    EVENT_DRIVER_RESTRIKE,     /* fixture; a: drive cap */
    EVENT_DRIVER_LIGHT_BACK,   /* fixture */
    EVENT_DRIVER_GAVE_UP,      /* fixture; a: trips running without light */
    EVENT_SENSOR_LOST,         /* a: fallback level */
    EVENT_SENSOR_BACK,
    EVENT_SWITCH_STUCK,     /* fixture; light or power with the contact open; a: W or µmol seen */
    EVENT_SWITCH_FREED,     /* fixture */
    EVENT_NIGHT_BREAK,      /* a: µmol m⁻² s⁻¹ seen */
    EVENT_NIGHT_BREAK_ENDS, /* a: dose µmol m⁻², b: longest s */
    EVENT_HAND_BEGINS,      /* a: level, b: seconds */
    EVENT_HAND_ENDS,
    EVENT_CLOCK_UNTRUSTED, /* a: policy */
    EVENT_CLOCK_TRUSTED,
    EVENT_GAP,                 /* a: seconds without a tick */
    EVENT_TRY_DRIVE,           /* fixture; a: drive, b: seconds */
    EVENT_TRY_CONTACT,         /* fixture; a: 1 closed, 0 open, b: seconds */
    EVENT_TRY_ENDS,            /* fixture; a: 1 of the contact, 0 of the drive */
    EVENT_CURVE_WRONG,         /* fixture; a: seen, b: expected, in the unit of the evidence */
    EVENT_OPENING_UNCONFIRMED, /* fixture; a: level it may still have, b: s since it was told */
    EVENT_OPENING_CONFIRMED,   /* fixture; a: s it took, b: µmol m⁻² the night may have had */
    EVENT_LIGHT_DRIFT,         /* a: light seen over promised at the lamp's steps, b: steps */
    EVENT_SENSOR_CORRECTED,    /* a person accepted it: a: readings are divided by it, b: steps */
    EVENT_LAMP_CORRECTED,      /* … a: full light is multiplied by it, b: steps */
    EVENT_CORRECTION_ENDS,     /* a: of the sensor, b: of the lamp, that held until now */
    EVENT_LIGHT_AGED,          /* a: light over that of commissioning, b: days since then */
    EVENT_SENSOR_FALLEN, /* a: light shown over that of the others, b: its place in the space */
    EVENT_KIND_COUNT
};

/* What was seen of a fixture when something happened to it. */
struct decide_evidence {
    double drive;    /* NaN: of no fixture */
    bool in_watts;   /* by its own meter; else in µmol m⁻² s⁻¹ by the space's light sensor */
    double seen;     /* NaN: no good reading */
    double expected; /* by the dimming curves */
};

struct decide_event {
    enum core_event kind;
    int fixture; /* index, or −1 */
    double a, b;
    struct decide_evidence evidence;
    struct reach reach; /* of EVENT_TARGET_OUT_OF_REACH */
};

/* What a closed light day came to. */
struct day_summary {
    int64_t light_day;
    int stage_index, stage_day;
    struct account account; /* to_come 0 */
    struct integral integral;
    double reach_mol; /* the most that the day, with its sun, could have given without faults */
    bool is_feasible; /* reach_mol ≥ target */
    double energy_kwh, cost;
    /* Of the lamp light alone, without what is drawn while it is off: what it cost; the least that
     * the target could have cost, all known in hindsight (hindsight.h); the same light at one level
     * through the window. NaN: not known, or the day still runs. */
    double lamp_cost, bound_cost, even_cost;
    int64_t lights_on_s, lights_off_s; /* wall; 0: never lit */
    uint32_t switch_operations;
    double heatsink_max_c; /* NaN: no heat sensor */
    uint32_t heat_trips, driver_trips;
    double night_dose_umol_m2, night_longest_s;
    double night_possible_umol_m2; /* beside it, at most: from openings that were not confirmed */
    uint32_t night_breaks;
};

struct fixture_verdict {
    double level; /* 0 … 1 */
    double drive; /* for the dim output */
    bool closed;  /* for the switch output */
    double watts; /* measured, else by the curve */
    double cap;   /* level that heat, LED driver and faults leave it */
    enum limiter limiter;
    double unsure_s; /* since it was told to open, unconfirmed: it may still be lit; 0: sure */
    bool is_unknown; /* open, but no opening was ever confirmed, and not known as lit before */
};

struct verdict {
    /* the light */
    double level;         /* PPFD-weighted, applied from now on */
    double asked;         /* what was asked of the fixtures before their own limits */
    double floor_level;   /* that the stage's least PPFD needs now; 0: none */
    enum limiter limiter; /* of the whole space */
    /* the picture behind it */
    struct stage_today stage;
    struct lightday_place place;
    double lamp_umol, daylight_umol; /* shares of the reading, or estimates */
    bool light_is_measured;
    double full_umol;     /* lamp PPFD of all fixtures at level 1, gain included */
    double need_mol;      /* still to deliver, the aim's margin included; may be ≤ 0 */
    double planned_level; /* before envelope and limits */
    double forecast_mol;  /* delivered at the end of the light day, if nothing changes */
    struct reach reach;
    double watts;
    struct account account;
    /* what happened */
    int event_count;
    int events_dropped;
    bool day_closed;
    struct fixture_verdict fixtures[SPACE_FIXTURES_MAX]; /* all 0, open, behind the last fixture */
    /* valid with day_closed, and up to event_count */
    struct day_summary closed;
    struct decide_event events[DECIDE_EVENTS_MAX];
    struct chain chain; /* what every rule allowed; of the fixtures that there are */
};

void decide(const struct space_rules *rules, struct space_state *state, const struct now *now,
            struct verdict *ret);

/* The light day so far in the form of a summary (to_come may be > 0). */
void decide_summary(const struct space_rules *rules, const struct space_state *state,
                    struct day_summary *ret);

/* The first moment from `from_s` on at which a stage's window is lit, looked for in the light day
 * of `from_s` and the next one; −1: none. Another stage can begin, or the last one end, with a day.
 */
int64_t decide_next_on(const struct space_rules *rules, int64_t from_s);

/* Whether the light is what the stage's floor needs, and no more: the plan alone might ask for
 * less. */
bool decide_is_floor(const struct space_rules *rules, const struct verdict *verdict);

const char *decide_event_name(enum core_event kind); /* "heat-trip", stored in the journal */

#endif
