/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The light integral of one light day, with its gaps: what was measured, what was bridged by an
 * estimate while no good reading was there, and the time for which nothing is known.
 *
 * Real elapsed boot time is integrated, sample and hold: the light of a step holds for dt. A step
 * longer than the bridge limit is a gap: its first limit seconds count as bridged, the rest as
 * lost. A run of estimates counts as bridged up to its own limit, then as lost. Lost time adds no
 * light. Always
 *
 *     measured_s + bridged_s + lost_s = Σ dt
 *
 * A step that is not a number, or negative, adds no light: its time is lost; without a dt > 0 it is
 * no step.
 */
#ifndef LAMPWARDEN_INTEGRAL_H
#define LAMPWARDEN_INTEGRAL_H

enum integral_origin {
    INTEGRAL_MEASURED,  /* from a good PPFD reading */
    INTEGRAL_ESTIMATED, /* from the applied level and the fixtures' full light */
};

struct integral_step {
    double lamp_umol;     /* ≥ 0, at the canopy */
    double daylight_umol; /* ≥ 0, at the canopy */
    enum integral_origin origin;
    double dt_s; /* ≥ 0 */
};

struct integral {
    double lamp_mol;     /* all lamp light, measured + bridged */
    double daylight_mol; /* all daylight, measured + bridged */
    double bridged_mol;  /* part of the two above that was estimated */
    double measured_s, bridged_s, lost_s;
    double estimating_s; /* how long the present run of estimates and gaps has lasted */
};

struct integral_rules {
    double gap_s;      /* longest single step that is bridged whole; usual 300 */
    double estimate_s; /* longest run of estimates that counts; beyond it lost; usual INFINITY
                          indoors */
};

void integral_reset(struct integral *integral);
void integral_step(struct integral *integral, const struct integral_rules *rules,
                   const struct integral_step *step);

/* lamp_mol + daylight_mol */
double integral_delivered_mol(const struct integral *integral);

#endif
