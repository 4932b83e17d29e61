/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Photons for the joules that the fixtures of a space draw, level by level.
 *
 * A photon of wavelength λ carries N_A·h·c/λ joules per mole of them, so a source that turned all
 * its power into light of λ nm would give λ / 119.6266 µmol/J (660 nm: 5.5172). Mixes that plants
 * are lit with stay below EFFICACY_MOST: a claim above it is an error of data entry.
 */
#ifndef LAMPWARDEN_EFFICACY_H
#define LAMPWARDEN_EFFICACY_H

#include "space.h"

#define EFFICACY_NM_UMOL_PER_J 119.6266
#define EFFICACY_MOST          5.5
#define EFFICACY_ROWS_MAX      64

/* µmol/J of a 100 % efficient source. */
static inline double efficacy_of_wavelength(double nm)
{
    return nm / EFFICACY_NM_UMOL_PER_J;
}

static inline double efficacy_mol_per_kwh(double umol_per_j)
{
    return 3.6 * umol_per_j;
}

/* A level at which all fixtures of a space burn, each at its own minimum at least. */
struct efficacy_row {
    double level;
    double share;       /* of full light that they give then; above level only for minimums */
    double watts;       /* at the wall, by their dimming curves */
    bool is_measured;   /* a point of a fixture's curve, not between two */
    bool above_ceiling; /* more than a drive ceiling allows */
};

/* 0.1 … 1 and the lit points of every curve, rising; those below every minimum are left out. What
 * does not fit into EFFICACY_ROWS_MAX is left out, measured points first. */
int efficacy_rows(const struct space_rules *rules, struct efficacy_row ret[EFFICACY_ROWS_MAX]);

/* What the drive ceilings leave of the full light, as a level of the space, 0 … 1. */
double efficacy_cap(const struct space_rules *rules);

/* Watts of the fixtures without a contact while they are dimmed to off. */
double efficacy_standby_w(const struct space_rules *rules);

/* What a figure is compared with: published, and whose. */
struct efficacy_mark {
    const char *what, *source;
    double umol_per_j;
};
const struct efficacy_mark *efficacy_marks(int *ret_count);

#endif
