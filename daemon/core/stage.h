/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Stages of a crop's life: which one rules on which light day, and the day's target after
 * acclimation.
 */
#ifndef LAMPWARDEN_STAGE_H
#define LAMPWARDEN_STAGE_H

#include "lightday.h"
#include "ramp.h"

#include <stdbool.h>
#include <stdint.h>

#define STAGE_NAME_MAX 32

struct stage {
    char name[STAGE_NAME_MAX];
    int32_t days;                  /* ≥ 1; 0: until further notice (only the last stage) */
    struct lightday_window window; /* lights-on and day length */
    double target_mol;             /* DLI target, > 0 … 80 */
    double carry_over_mol; /* most by which yesterday's surplus lowers a day's target; 0: never */
    double ceiling_umol;   /* highest PPFD at the canopy; INFINITY: none */
    double floor_umol;     /* least PPFD at the canopy in the window, daylight counted; 0: none */
    double shortest_run_s, shortest_rest_s; /* of the lamp by the plan's own will; usual 1200 */
    double rise_umol_per_s; /* fastest rise of the lamps' PPFD; 0: no limit of the stage's own */
    struct ramp ramp;
    bool protects_night; /* a short-day stage: the night is never broken */
};

enum stage_phase { STAGE_WAITING, STAGE_RUNNING, STAGE_OVER };

struct stage_today {
    enum stage_phase phase;
    int index; /* into the stages; −1 unless running */
    int day; /* 1 … days within the stage; waiting: days until the start; over: days since the last
              */
    double target_mol; /* after acclimation; 0 unless running */
};

/* stages[count] follow one another from light day `first_day` on. From one day to the next the
 * target moves by at most max_step_mol (≥ 0; INFINITY: no limit); the first stage starts at its own
 * target. No loop over days: the cost is that of the number of stages. */
struct stage_today stage_of(const struct stage *stages, int count, int64_t first_day,
                            double max_step_mol, int64_t day);

/* What a surplus of yesterday takes off the target of a day in this stage: at most carry_over_mol
 * and half of the target, and never less than 0: a shortage is not carried, nor is less than
 * 0.05 mol. NaN carries nothing. */
double stage_carried_mol(const struct stage *stage, double target_mol, double surplus_mol);

#endif
