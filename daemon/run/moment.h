/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One moment of one space with all that explains it: the chain of its tick, and the readings that
 * the rules saw. Taken from a tick, kept in the journal's minute as a text, read from there again.
 * No allocation.
 *
 * The text is of words between spaces, a letter and its value each; "@" begins it, with the second
 * within the minute, and ";" each fixture, with its name. Small letters are rules, with the percent
 * of full light that they allowed. "@59 U355 p80 G189.2,2;left L62 h62 Y65 T68.2,3".
 * Letters that a reader does not know are passed over, and what goes without saying is left out; so
 * are dark fixtures of which nobody has anything to say. moment_letters.c has the table.
 */
#ifndef LAMPWARDEN_MOMENT_H
#define LAMPWARDEN_MOMENT_H

#include "config.h"
#include "decide.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct err;

/* One reading as it was seen. */
struct moment_reading {
    double value; /* NaN: none */
    enum reading_quality quality;
    double age_s; /* NaN: never read */
};

struct moment_fixture {
    char name[CONFIG_NAME_MAX];
    double level;                /* applied */
    double least;                /* its lowest level; NaN: not stored, it did not matter */
    struct moment_reading heat;  /* °C */
    struct moment_reading power; /* W */
    /* Of rules that held it; NaN of those that did not. */
    double heat_from_c; /* where foldback begins */
    double rearm_c;     /* below which a heat trip ends */
    double drive_cap;
    double rest_left_s; /* until its contact may close again */
    bool is_latched;    /* a heat trip that waits for a person */
};

struct moment {
    int64_t wall_s; /* of the tick */
    double level, planned_level;
    enum limiter limiter; /* of the space */
    struct chain chain;
    double floor_level;               /* that the stage's least PPFD needed; 0: none */
    double forecast_mol;              /* NaN: about the target */
    double delivered_mol, target_mol; /* not in the text: the minute has them beside it */
    struct moment_reading ppfd;
    double daylight_umol;
    bool is_lit;   /* in the window of the lamps */
    bool by_guard; /* the plan fears a dark sky: needed whatever it costs */
    bool is_floor; /* the light is what the floor needs, and no more */
    enum stage_phase phase;
    double until_s;     /* until lights-off, in the dark until lights-on; NaN: not in sight */
    double hand_left_s; /* NaN: no hand */
    double ceiling_umol, budget_w; /* NaN: that rule did not speak */
    int fixture_count;
    int left_out; /* fixtures for which the text had no room */
    struct moment_fixture fixtures[SPACE_FIXTURES_MAX];
};

/* Of the tick that decided: config's space, what decide was given and what came of it. */
void moment_take(const struct config_space *space, const struct config *config,
                 const struct now *now, const struct space_state *state,
                 const struct verdict *verdict, struct moment *ret);

/* Writes the text: at most size bytes with the NUL, size ≥ 256. Fixtures that find no room are left
 * out and counted in it. */
void moment_write(const struct moment *moment, char *buffer, size_t size);

/* Reads it again; minute_s: the beginning of its minute. -EINVAL: not such a text, *ret is
 * undefined. Levels come back to 0.01 %. */
int moment_read(const char *text, int64_t minute_s, struct moment *ret, struct err *err);

#endif
