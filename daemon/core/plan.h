/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The plan: how much light to ask for now, so that the day's target is met by the end of the
 * window.
 *
 * This plan asks for one constant level, shaped by dawn and dusk, for what is left of the day:
 *     Σ_f full_f · min(level, cap_f) · lit_s · 10⁻⁶ = need        (fixtures f, lit_s = ∫ envelope
 * dt) A plan that knows prices and the sun takes the same problem and gives the same answer.
 */
#ifndef LAMPWARDEN_PLAN_H
#define LAMPWARDEN_PLAN_H

#include <stdbool.h>

struct plan_source {
    double full_umol; /* PPFD at the canopy at level 1 */
    double cap;       /* highest level it may have, 0 … 1; 0: not available */
    double least;     /* lowest level it can have while lit, 0 … 1; it has no less than this */
};

struct plan_problem {
    double need_mol; /* still to deliver; may be ≤ 0 */
    double lit_s; /* ∫ envelope over the rest of the light day's window, seconds of full light */
    double ceiling_umol; /* highest lamp PPFD allowed; INFINITY: none */
    const struct plan_source *sources;
    int source_count;
};

struct plan_answer {
    double level;     /* level to ask for before the envelope, 0 … 1 */
    double reach_mol; /* the most that the rest of the window can give under caps and ceiling */
    bool is_full;     /* need_mol > reach_mol: everything there is is asked for */
};

struct plan_answer plan_level(const struct plan_problem *problem);

/* Lamp PPFD of a common level under the caps, µmol m⁻² s⁻¹; a source whose least is above the level
 * burns at its least. Level ≤ 0: dark. */
double plan_umol(const struct plan_source *sources, int count, double level);

/* The common level that gives a lamp PPFD (1 when out of reach; below every least when all sources
 * at their least give more). */
double plan_level_for(const struct plan_source *sources, int count, double umol);

#endif
