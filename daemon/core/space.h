/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One space: its rules (from the configuration, constant) and its state (plain data, carried from
 * tick to tick and over restarts by copying it whole).
 */
#ifndef LAMPWARDEN_SPACE_H
#define LAMPWARDEN_SPACE_H

#include "account.h"
#include "ageing.h"
#include "ceiling.h"
#include "chain.h"
#include "clearness.h"
#include "correction.h"
#include "curvewatch.h"
#include "daylog.h"
#include "dimcurve.h"
#include "heat.h"
#include "integral.h"
#include "lampstep.h"
#include "lightday.h"
#include "nightguard.h"
#include "plan_price.h"
#include "reach.h"
#include "reading.h"
#include "stage.h"
#include "sun.h"
#include "switching.h"
#include "tariff.h"

#include <stdbool.h>
#include <stdint.h>

#define SPACE_FIXTURES_MAX CHAIN_FIXTURES_MAX
#define SPACE_HISTORY      32

enum clock_trust { CLOCK_UNTRUSTED, CLOCK_HELD_OVER, CLOCK_SYNCHRONISED };
enum clock_policy { CLOCK_POLICY_DARK, CLOCK_POLICY_LOW, CLOCK_POLICY_CARRY_ON };

struct fixture_rules {
    struct dimcurve curve;
    double full_umol;     /* PPFD it gives at the canopy at level 1, > 0 */
    double safe_drive;    /* drive while the switch is open */
    bool has_switch;      /* a contact cuts its light; without one the dimming output does */
    bool has_power;       /* a power sensor is configured */
    bool power_is_shared; /* … which other fixtures share: no evidence about this one */
    struct heat_rules heat;
    struct ceiling_rules ceiling;
    struct switching_rules switching;
};

struct space_rules {
    struct lightday_rules day;
    const struct stage *stages; /* owned by the configuration */
    int stage_count;
    int64_t first_day;             /* light day on which the first stage begins */
    double acclimation_mol;        /* largest change of the target from day to day; INFINITY: any */
    double aim_margin;             /* aim at (1 + margin) × target; usual 0.002 */
    double rise_per_s, fall_per_s; /* usual speed of the level */
    bool has_ppfd;                 /* a PPFD sensor is configured */
    bool sees_daylight;            /* the sensor also sees the sun */
    enum clock_policy clock_policy;
    struct nightguard_rules nightguard;
    struct integral_rules integral;
    int fixture_count;                    /* 1 … SPACE_FIXTURES_MAX */
    const struct fixture_rules *fixtures; /* owned by the configuration */
    struct sun_site sun;                  /* the clear sky over it; matters with sees_daylight */
    struct ageing_rules ageing;
    struct lampcurve lamp;       /* what the light of all of them costs in watts */
    const struct tariff *tariff; /* owned by the configuration; NULL: energy has one price */
};

/* The plan in force; planned_ns 0: none. */
struct plan_state {
    struct plan_price price;
    int64_t planned_ns, planned_wall_s;
    double target_mol, cap; /* what it was made for */
    double daylight_mol;    /* expected from the sky when it was made */
    bool by_guard;          /* a dark sky rules: all there is */
    double dark_sky_mol;    /* what a dark one would bring */
};

struct fixture_state {
    struct heat heat;
    struct ceiling ceiling;
    struct switching switching;
    struct curvewatch curvewatch;
    double level;    /* applied, 0 … 1 */
    double drive;    /* commanded */
    double steady_s; /* since switch or drive (by more than 0.02) last moved */
    double steady_drive;
    double dark_s;      /* since the contact was commanded open */
    double stuck_s;     /* how long light or power has been seen with the contact open */
    bool is_stuck;      /* reported as stuck closed */
    double lit_level;   /* while closed, and until its opening is confirmed; else 0 */
    double unsure_s;    /* since it was told to open, unconfirmed beyond the usual; else 0 */
    double unsure_dose; /* µmol m⁻² that it may have given to a night meanwhile */
    bool unsure_said;
    enum limiter limiter;
    int64_t told_drive_ns, told_contact_ns; /* ends of the trials that were told of; 0: none */
};

struct space_state {
    bool is_begun; /* a light day is open */
    bool has_ticked;
    bool was_resumed; /* space_resume was called, no tick since */
    int64_t boot_ns;  /* of the last tick */
    int64_t wall_s;   /* of the last tick with a trusted clock; 0: none yet */
    int64_t light_day;
    int stage_index; /* of the open light day; −1 none */
    int stage_day;
    enum stage_phase stage_phase;
    int32_t day_start_s; /* by which the open light day goes: rules->day.start_s, or an older one */
    struct integral integral;
    struct account account;
    struct nightguard nightguard;
    double level; /* PPFD-weighted level of the fixtures, applied */
    double asked; /* common level asked of the fixtures */
    enum limiter limiter;
    double light_gain;            /* measured over expected lamp light, slow; 1 at first */
    struct lampstep lampstep;     /* the same by its steps, under daylight too */
    struct correction correction; /* what a person accepted of it */
    double daylight_umol;         /* last good estimate */
    int64_t daylight_ns;
    enum clock_trust clock; /* of the last tick */
    bool sensor_is_lost;
    bool hand_was_active;
    bool said_short, said_met; /* this day's events were given */
    bool is_lit;               /* a contact is closed */
    enum limiter blame_otherwise;
    /* sums of the light day, for its summary */
    double energy_kwh, cost;
    int64_t first_on_s, last_off_s; /* wall; 0: none yet */
    double carried_mol;      /* what yesterday brought above its target, taken off this day's */
    double reach_static_mol; /* most that the whole window can give without faults */
    double night_dose, night_longest_s; /* of nights and parts of nights in this light day */
    uint32_t night_breaks;
    double night_possible; /* µmol m⁻², beside night_dose: from openings that were not confirmed */
    struct clearness clearness; /* the sky of the open light day; a saved state has its sums */
    /* From here on to the fixtures: what a restart forgets, and no saved state holds. */
    double blame[LIMITER_COUNT]; /* PPFD held back by each limiter since the last tick */
    struct plan_state plan;
    struct lampstep_sight lampstep_sight;
    int64_t plan_sky_s; /* wall time of the last look at the clear sky, and what it was */
    double plan_sky_umol;
    double sky_stray_s; /* how long the sun shone today while it should have been down */
    bool sky_is_astray; /* that was too long, today or yesterday: the clear sky is not believed */
    bool sun_is_down;   /* at that look; false where nobody knows */
    bool plan_wants_on; /* the plan's last change of mind about the lamp, and when it was */
    int64_t plan_turned_ns;
    int64_t floor_ns; /* boot time at which the stage's floor began to need the lamp; 0: not now */
    int64_t reach_ns; /* boot time at which the reach was last reckoned; 0: not today */
    struct reach reach;
    int64_t room_out_ns; /* boot time at which the PPFD ceiling last put the lamp out; 0: never */
    struct learned learned;          /* of the site's skies and its heat */
    struct learned_hours heat_hours; /* of the open light day */
    struct daylog daylog;            /* of the open light day; run keeps it beside the state */
    struct ageing ageing;            /* of the lamps; run keeps it beside the state */
    double lamp_cap; /* of the last tick: share of the lamp that protections and faults left */
    struct {
        int64_t boot_ns;
        double lamp_umol; /* expected from this moment on */
    } history[SPACE_HISTORY];
    int history_next;
    struct fixture_state fixtures[SPACE_FIXTURES_MAX];
};

/* A state before its first tick: contacts open since an unknown time. */
void space_init(struct space_state *state, const struct space_rules *rules);

/* PPFD of all fixtures together at level 1, as configured. */
double space_configured_umol(const struct space_rules *rules);

/* PPFD of one fixture at level 1: as configured, with what a person accepted of it. */
static inline double space_full_umol(const struct space_rules *rules,
                                     const struct space_state *state, int fixture)
{
    return rules->fixtures[fixture].full_umol * state->correction.lamp;
}

/* A person accepts what the lamp's steps show (lampstep_ratio must be known), or goes back to the
 * configuration. The steps are counted afresh. False: out of bounds, nothing is changed. basis: see
 * correction.h. */
bool space_correct(struct space_state *state, enum correction_of of, double basis, int64_t wall_s);
void space_uncorrect(struct space_state *state);

/* After a restart, with a state saved by an earlier run: contacts are open since now (the caller
 * made the outputs safe), filters start afresh, sums and counters go on. */
void space_resume(struct space_state *state, const struct space_rules *rules);

/* At a stop: the caller opened the contacts. Notes lights-off; true when the space was lit. */
bool space_stop(struct space_state *state, const struct space_rules *rules);

/* After a reload that gave a fixture another contact or dimming line: nobody can say how long that
 * contact has stood, so it begins open and rests. Heat and LED driver go on. */
void space_rewire(struct space_state *state, const struct space_rules *rules, int fixture);

/* After a reload: keeps everything that still has a meaning under the new rules. */
void space_rerule(struct space_state *state, const struct space_rules *rules);

#endif
