/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The parts of one decision, private to the decide*.c files. A tick is a bundle of pointers to what
 * the caller gave and what the earlier steps found out; every step reads it and fills its own
 * share.
 */
#ifndef LAMPWARDEN_DECIDE_PARTS_H
#define LAMPWARDEN_DECIDE_PARTS_H

#include "decide.h"
#include "plan.h"
#include "plan_slot.h"

struct tick {
    const struct space_rules *rules;
    const struct now *now;
    struct space_state *state;
    struct verdict *verdict;
    double dt_s;
    bool knows_time;           /* the wall clock may be used */
    const struct stage *stage; /* NULL: no stage is running or the time is not known */
    double envelope;           /* 0 … 1 by dawn and dusk; 0 in the dark */
    bool is_dusk;              /* the envelope falls */
    bool is_last; /* the window is about to close: dim, so that the contact opens at minimum */
    double lit_s; /* ∫ envelope over the rest of the light day */
    struct plan_source sources[SPACE_FIXTURES_MAX]; /* with gain, under the limits of now */
    double power_cap[SPACE_FIXTURES_MAX];           /* that the budget leaves; 0: dark, 1: no cap */
    bool has_closed; /* a contact closed in this tick: the next one waits, inrush adds up */
};

/* What the space asks of its fixtures, and why. */
struct ask {
    double level;
    enum limiter limiter;
};

void decide_say(struct tick *tick, enum core_event kind, int fixture, double a, double b);

/* decide_light.c: what light fell since the last tick, and whether the lamp can be believed. */
void decide_light(struct tick *tick);
void decide_night(struct tick *tick);
double decide_expected_umol(const struct space_state *state, int64_t boot_ns);
/* The lamp light behind the reading of now, or without one of now, by the dimming curves alone. */
double decide_promised_umol(const struct tick *tick);
/* The good reading of now shows a steady lamp, and nothing else. */
bool decide_lamp_alone(const struct tick *tick, double expected_umol);
void decide_remember(struct tick *tick); /* the light expected from this tick on */

/* decide_ageing.c: the lamps beside the record of their commissioning; the light day is over. */
void decide_note_ageing(struct tick *tick);
void decide_note_step(struct tick *tick, double ratio); /* a warm lamp went out */
void decide_close_ageing(struct tick *tick);

/* decide_start.c: the rules, or *ret_held, filled with them and the start by which the open light
 * day still goes after a reload or restart brought another one. */
const struct space_rules *decide_start(const struct space_rules *rules, struct space_state *state,
                                       const struct now *now, struct space_rules *ret_held);

/* decide_day.c: light days open and close; the mol account. */
void decide_day(struct tick *tick);
void decide_account(struct tick *tick);
/* ∫ envelope from a moment to the end of its light day, seconds of full light. */
double decide_lit_s(const struct space_rules *rules, const struct stage *stage, int64_t wall_s);
/* Lights-off on the stroke of a new light day belongs to the day that it ends. */
void decide_move_opening(struct tick *tick);

/* decide_past.c: notes for the day's end. Before the day rolls; after the fixtures moved; at the
 * close of a day: lamp_cost, bound_cost and even_cost, where they are known. */
void decide_note_light(struct tick *tick);
void decide_note_energy(struct tick *tick);
void decide_hindsight(const struct tick *tick, struct day_summary *day);

/* decide_guard.c: heat, LED driver and contact of each fixture; fills the sources. */
void decide_guards(struct tick *tick);
/* Lamp light of all sources at level 1, gain included: caps do not count. */
double decide_full_umol(const struct tick *tick);
/* Of a fixture, under the drive that it had until now. */
struct decide_evidence decide_evidence(const struct tick *tick, int fixture);

/* decide_reach.c: what the light day can still come to; tells once a day when that is too little.
 */
void decide_reach(struct tick *tick);

/* decide_room.c: the highest common level that the stage's PPFD ceiling leaves beside daylight, 1:
 * no limit; 0: dark. */
double decide_room_level(struct tick *tick);

/* decide_heat.c: what heat leaves of the lamps. */
void decide_note_heat(struct tick *tick); /* after the fixtures have moved */
/* Share of full light that heat leaves now, fixtures weighted by their PPFD; NaN: nobody knows. */
double decide_heat_cap(const struct tick *tick);

/* decide_opening.c: contacts whose opening nobody confirmed. Uses the sources. */
void decide_openings(struct tick *tick);

/* decide_trial.c: outputs moved by hand. */
void decide_watch_trials(struct tick *tick); /* tells of beginnings and ends */
bool decide_is_tried(const struct tick *tick, int fixture);
/* Changes what is asked of a fixture whose contact is moved by hand. */
void decide_try_contact(const struct tick *tick, int fixture, struct ask *ask);
/* The level that the stage's PPFD ceiling leaves to it beside the others; 0: less than its minimum,
 * 1: as much as it likes, or it is not moved by hand. */
double decide_try_room(const struct tick *tick, int fixture);
/* The contact is closed and settled: sets level, drive and limiter of a dimming output that is
 * moved by hand, within what its own rules allow; false: it is not, or may not be now. */
bool decide_try_lit(const struct tick *tick, int fixture);
/* The contact is open: the drive of the dimming output. */
double decide_try_open(const struct tick *tick, int fixture);

/* decide_plan.c: what the plan wants now, shaped by dawn and dusk. */
struct ask decide_ask_plan(struct tick *tick);
/* The fixtures' smallest minimum: below it the space cannot be dimmed, only be dark. */
double decide_min_level(const struct tick *tick);

/* decide_price.c: sees to it that the price of light in the state is of now. cap: of the lamp, what
 * heat and faults leave. */
void decide_price(struct tick *tick, const struct plan_lamp *lamp, double cap, double need_mol);

/* decide_dwell.c: the level of the space that this price gives now, 0: dark. */
double decide_dwell(struct tick *tick, const struct plan_lamp *lamp, double cap, double need_mol);

/* decide_sky.c: books the daylight of the past interval beside the clear sky; a light day opens. */
void decide_sky(struct tick *tick);
void decide_open_sky(struct tick *tick, int64_t begin_s);

/* decide_floor.c: the level that the stage's least PPFD needs now, daylight counted, under the
 * envelope; 0: none. Asks no less than that of the fixtures. */
double decide_floor_level(struct tick *tick);
void decide_keep_floor(struct tick *tick, double floor_level, struct ask *ask);

/* decide_power.c: the space's share of a supply that it has in common with others. What energy
 * costs at a moment with the extra price of that supply on top. */
double decide_with_extra(const struct tick *tick, double price, int64_t wall_s);
void decide_add_extra(const struct tick *tick, struct plan_slots *slots);
/* The common level that the plan of all spaces gives it; NaN: it plans for itself. */
double decide_shared_level(const struct tick *tick);
/* Caps the fixtures so that what is asked of them stays within the budget. */
void decide_power(struct tick *tick, const struct ask *ask);

/* decide_fixture.c: from what is asked to level, drive and switch. */
/* The fastest rise of the level: of the space or, slower, of the stage's PPFD. */
double decide_rise_per_s(const struct tick *tick);
void decide_fixture(struct tick *tick, int fixture, const struct ask *ask);

#endif
