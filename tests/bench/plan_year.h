/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One space through a year of daylight, minute by minute, under a rule that asks for light: money,
 * missed days, surplus and starts beside the cheapest that was possible in hindsight.
 *
 * Every rule gets the same lamp: ramps at the window's ends, a slew, minimum times on and off. A
 * start begins at the lowest level; the minimum time on is served there.
 */
#ifndef LAMPWARDEN_PLAN_YEAR_H
#define LAMPWARDEN_PLAN_YEAR_H

#include "year_lamp.h"
#include "plan_sites.h"

#include <stdbool.h>

#define PLAN_DAY_MIN 1440

enum plan_tariff { PLAN_TARIFF_TOU, PLAN_TARIFF_FLAT, PLAN_TARIFF_SPOT, PLAN_TARIFFS };

struct plan_case {
    struct year_lamp lamp;
    double target_mol;
    double ceiling_umol; /* daylight and lamp */
    double floor_umol;   /* inside the window; 0: none */
    double transmission; /* of the roof */
    double clear_scale;  /* how wrong the rule's clear sky is; 1: right */
    int window_begin_min, window_end_min, ramp_min; /* local time */
    int begin_min;                                  /* of the light day, local time */
    int min_on_min, min_off_min;
    double slew; /* of the level, per minute */
    enum plan_tariff tariff;
};

/* The usual one: 300 µmol, 17 mol, 04–22, light day from 06:00. */
struct plan_case plan_case_usual(void);

/* What a rule may know of a light day. Only `daylight` is news: minutes behind `minute` are unset.
 */
struct plan_day {
    const struct plan_case *plan_case;
    int month;                     /* 1 … 12, at the light day's begin */
    double month_mol;              /* mean daylight of a day of this month, in hindsight */
    double daylight[PLAN_DAY_MIN]; /* PPFD at the canopy */
    double clear[PLAN_DAY_MIN];    /* the same under the rule's clear sky */
    double price[PLAN_DAY_MIN];    /* per kWh */
    double envelope[PLAN_DAY_MIN]; /* 0 … 1 */
};

struct plan_moment {
    int minute;      /* of the light day */
    double got_mol;  /* until now */
    double level;    /* applied until now */
    double low, cap; /* levels that the floor asks for and the ceiling and the ramps allow */
    int since_min;   /* since the lamp went on or off */
};

struct plan_rule {
    const char *name;
    void (*begin)(void *self, const struct plan_day *day);
    double (*ask)(void *self, const struct plan_day *day, const struct plan_moment *now);
    void (*end)(void *self, const struct plan_day *day, double got_mol); /* may be NULL */
    void *self;
};

struct plan_result {
    int days, needing, missed, infeasible; /* counted; with need; of them missed or out of reach */
    double cost, bound;                    /* per m² */
    double lamp_mol, surplus_mol, short_mol;
    double starts; /* a day */
};

/* Price per kWh at a local minute since 1970. */
double plan_tariff_price(enum plan_tariff tariff, int64_t local_min);
const char *plan_tariff_name(enum plan_tariff tariff);

/* The first light day does not count, nor do days with a long gap. site NULL: 365 days indoors. */
struct plan_result plan_year_run(const struct plan_site *site, const struct plan_case *plan_case,
                                 const struct plan_rule *rule);

/* One light day as it was possible in hindsight. */
struct plan_day_bound {
    bool counts; /* not the first day, no long gap */
    bool needs;  /* daylight alone does not suffice */
    struct year_bound bound;
};

/* The light days of a site, oldest first; returns how many, at most `most`. */
int plan_year_bounds(const struct plan_site *site, const struct plan_case *plan_case,
                     struct plan_day_bound *ret, int most);

#endif
