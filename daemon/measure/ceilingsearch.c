/* SPDX-License-Identifier: Apache-2.0 */
#include "ceilingsearch.h"

#include "units.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define AT_DRIVE      0.004
#define HELD_S        4.0
#define ARRIVE_MOST_S 300.0
#define DARK_S        6.0 /* at drive 0: shorter than a guard needs */
#define SETTLE_S      2.0 /* samples of before the move do not count */
#define SAMPLES_LEAST 3
#define GONE_SHARE    0.3  /* of what the last drive gave: gone */
#define GONE_SAMPLES  3    /* so many: it tripped, in one go or again and again (hiccup) */
#define FALLEN_S      60.0 /* for the guard's word */
#define OPEN_S        60.0
#define REST_MOST_S   4000.0
#define BACK          0.05 /* the next approach begins that far below */
#define FARTHER_BACK  0.10 /* … when not even the first drive held */
#define DRIVE_LEAST   0.3
#define FIRST_UMOL    1.0
#define FIRST_SHARE   0.02

__attribute__((format(printf, 2, 3))) static void give_up(struct ceilingsearch *search,
                                                          const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(search->why, sizeof search->why, format, args);
    va_end(args);
    search->is_done = true;
    search->stage = CEILINGSEARCH_END;
}

static void go(struct ceilingsearch *search, enum ceilingsearch_stage stage, double drive,
               double now_s)
{
    search->stage = stage;
    search->drive = drive;
    search->has_arrived = false;
    search->since_s = search->stood_s = now_s;
    search->stood_drive = UNITS_NONE;
    search->samples = search->gone = search->half = 0;
    search->umol = search->watts = 0;
}

void ceilingsearch_begin(struct ceilingsearch *search, const struct ceilingsearch_rules *rules,
                         double now_s)
{
    *search = (struct ceilingsearch){
        .rules = *rules,
        .top_drive = rules->top_drive,
        .held_drive = UNITS_NONE,
        .new_s = now_s,
        .taken_s = UNITS_NONE,
        .good_umol = UNITS_NONE,
        .good_watts = UNITS_NONE,
    };
    go(search, CEILINGSEARCH_DARK, 0, now_s);
}

static void end_round(struct ceilingsearch *search, const struct lampsight *sight, bool has_tripped)
{
    search->rounds[search->round_count++] = (struct ceilingsearch_round){
        .held_drive = search->held_drive,
        .trip_drive = has_tripped ? search->drive : UNITS_NONE,
        .heat_c = sight->heat_c,
    };
    search->trips += has_tripped;
}

static bool is_enough(const struct ceilingsearch *search)
{
    return search->round_count >= search->rules.rounds || search->trips >= search->rules.trips_most;
}

static void begin_round(struct ceilingsearch *search, double now_s)
{
    const struct ceilingsearch_round *last = &search->rounds[search->round_count - 1];
    const double from =
        units_known(last->held_drive) ? last->held_drive - BACK : search->drive - FARTHER_BACK;
    search->held_drive = search->good_umol = search->good_watts = UNITS_NONE;
    go(search, CEILINGSEARCH_APPROACH, fmax(from, DRIVE_LEAST), now_s);
}

static void arrive(struct ceilingsearch *search, const struct lampsight *sight)
{
    if (!(fabs(sight->drive - search->stood_drive) <= AT_DRIVE / 2)) {
        search->stood_drive = sight->drive;
        search->stood_s = sight->now_s;
    }
    const bool is_there = fabs(sight->drive - search->drive) <= AT_DRIVE;
    const bool is_held = sight->drive < search->drive && sight->now_s - search->stood_s >= HELD_S;
    if (sight->is_closed && is_there) {
        search->has_arrived = true;
        search->since_s = sight->now_s;
    } else if (sight->is_closed && is_held && search->stage == CEILINGSEARCH_APPROACH) {
        search->top_drive = sight->drive; /* somebody holds it there: no higher */
        end_round(search, sight, false);
        search->is_done = true;
    } else if (sight->now_s - search->since_s > ARRIVE_MOST_S) {
        give_up(search, "the lamp did not get to drive %.3f in %.0f s", search->drive,
                ARRIVE_MOST_S);
    }
}

/* A fresh sample: whether the light is gone, and the power. */
static void take(struct ceilingsearch *search, const struct lampsight *sight)
{
    const double umol = sight->umol - search->dark_umol;
    const double least = units_known(search->good_umol)
                             ? GONE_SHARE * search->good_umol
                             : fmax(FIRST_UMOL, FIRST_SHARE * search->dark_umol);
    const bool has_power = units_known(sight->watts) && units_known(search->good_watts);
    const bool no_light = umol < least;
    const bool no_power = sight->watts < GONE_SHARE * search->good_watts;
    search->samples++;
    search->umol += (umol - search->umol) / search->samples;
    search->watts += (sight->watts - search->watts) / search->samples;
    search->gone += no_light && (no_power || !has_power);
    search->half += has_power && no_light != no_power;
}

static void step_up(struct ceilingsearch *search, const struct lampsight *sight)
{
    search->held_drive = search->drive;
    search->good_umol = search->umol;
    search->good_watts = search->watts;
    const double next = round((search->drive + search->rules.step) * 1e6) / 1e6;
    if (next <= search->top_drive + AT_DRIVE / 4) {
        go(search, CEILINGSEARCH_APPROACH, fmin(next, search->top_drive), sight->now_s);
        return;
    }
    end_round(search, sight, false);
    if (is_enough(search)) {
        search->is_done = true;
    } else {
        begin_round(search, sight->now_s);
    }
}

static void dwell(struct ceilingsearch *search, const struct lampsight *sight, bool is_new)
{
    const double passed_s = sight->now_s - search->since_s;
    if (sight->taken_s >= search->since_s + SETTLE_S && is_new) {
        take(search, sight);
    }
    if (search->stage == CEILINGSEARCH_DARK) {
        if (passed_s >= DARK_S && search->samples > 0) {
            search->dark_umol += search->umol;
            go(search, CEILINGSEARCH_APPROACH, search->rules.from_drive, sight->now_s);
        }
    } else if (search->gone >= GONE_SAMPLES) {
        search->stage = CEILINGSEARCH_FALLEN;
        search->since_s = sight->now_s;
    } else if (search->half >= 2 * GONE_SAMPLES) {
        give_up(search, "light and power contradict each other at drive %.3f", search->drive);
    } else if (passed_s >= search->rules.dwell_s && search->samples >= SAMPLES_LEAST &&
               search->gone == 0 && search->half == 0) {
        step_up(search, sight);
    } else if (passed_s > ARRIVE_MOST_S) {
        give_up(search, "the light never came to rest at drive %.3f", search->drive);
    }
}

static void after_trip(struct ceilingsearch *search, const struct lampsight *sight,
                       struct lampwish *wish)
{
    if (is_enough(search)) {
        search->is_done = true;
        return;
    }
    wish->acknowledges = true;
    begin_round(search, sight->now_s);
}

static void watch_sensor(struct ceilingsearch *search, const struct lampsight *sight, bool is_new)
{
    if (is_new) {
        search->taken_s = sight->taken_s;
        search->new_s = sight->now_s;
    } else if (sight->now_s - search->new_s > search->rules.lost_s) {
        give_up(search, "no good light reading for %.0f s", search->rules.lost_s);
    }
}

static void act(struct ceilingsearch *search, const struct lampsight *sight, bool is_new,
                struct lampwish *wish)
{
    const double passed_s = sight->now_s - search->since_s;
    switch (search->stage) {
    case CEILINGSEARCH_DARK:
    case CEILINGSEARCH_APPROACH:
        if (sight->has_tripped) {
            search->stage = CEILINGSEARCH_FALLEN;
        } else if (!search->has_arrived) {
            arrive(search, sight);
        } else if (!sight->is_closed || fabs(sight->drive - search->drive) > AT_DRIVE) {
            go(search, search->stage, search->drive, sight->now_s);
        } else {
            dwell(search, sight, is_new);
        }
        break;
    case CEILINGSEARCH_FALLEN:
        if (sight->has_tripped || passed_s > FALLEN_S) {
            end_round(search, sight, true);
            search->stage = sight->has_tripped ? CEILINGSEARCH_REST : CEILINGSEARCH_OPENED;
            search->since_s = sight->now_s;
        }
        break;
    case CEILINGSEARCH_OPENED:
        if (!sight->is_closed && passed_s > OPEN_S) {
            after_trip(search, sight, wish);
        } else if (passed_s > REST_MOST_S) {
            give_up(search, "the switch did not open after the trip");
        }
        break;
    case CEILINGSEARCH_REST:
        if (!sight->has_tripped) {
            after_trip(search, sight, wish);
        } else if (passed_s > REST_MOST_S) {
            give_up(search, "no light since the trip");
        }
        break;
    case CEILINGSEARCH_END:
        break;
    }
}

void ceilingsearch_look(struct ceilingsearch *search, const struct lampsight *sight,
                        struct lampwish *ret)
{
    struct lampwish wish = {.is_closed = true};
    if (!search->is_done) {
        const bool is_new = isfinite(sight->umol) && !(sight->taken_s <= search->taken_s);
        watch_sensor(search, sight, is_new);
        act(search, sight, is_new, &wish);
    }
    wish.is_closed = search->stage != CEILINGSEARCH_OPENED;
    wish.drive = search->stage == CEILINGSEARCH_REST ? DRIVE_LEAST : search->drive;
    *ret = wish;
}

double ceilingsearch_ceiling(const struct ceilingsearch *search, double *ret_heat_c)
{
    double held = UNITS_NONE, trip = UNITS_NONE;
    *ret_heat_c = UNITS_NONE;
    for (int i = 0; i < search->round_count; i++) {
        const struct ceilingsearch_round *round = &search->rounds[i];
        if (units_known(round->held_drive)) {
            held = units_known(held) ? fmin(held, round->held_drive) : round->held_drive;
        }
        if (units_known(round->trip_drive) && !(round->trip_drive >= trip)) {
            trip = round->trip_drive;
            *ret_heat_c = round->heat_c;
        }
    }
    if (!units_known(held) || (trip <= held)) {
        return UNITS_NONE;
    }
    return units_known(trip) ? held - search->rules.margin : held;
}

void ceilingsearch_lengths(const struct ceilingsearch_rules *rules, double rest_s,
                           double *ret_least_s, double *ret_most_s)
{
    const double first_s =
        ((rules->top_drive - rules->from_drive) / rules->step + 1) * (rules->dwell_s + 1);
    const double again_s = (BACK / rules->step + 1) * (rules->dwell_s + 1);
    *ret_least_s = first_s + (rules->rounds - 1) * again_s;
    *ret_most_s = *ret_least_s + rules->trips_most * (rest_s + ARRIVE_MOST_S / 4);
}
