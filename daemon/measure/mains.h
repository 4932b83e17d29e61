/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What wall power means for cables, meters and the room. All of it ends as heat: what plants store
 * of the light is a hundredth or two (from memory).
 */
#ifndef LAMPWARDEN_MAINS_H
#define LAMPWARDEN_MAINS_H

#include <math.h>

/* 1 Btu (International Table) = 1055.05585262 J, exact by its definition. */
#define MAINS_J_PER_BTU 1055.05585262

/* Of one phase. volts > 0, power_factor in (0, 1]. */
struct mains {
    double volts;
    double power_factor; /* the true one: watts over volt-amperes, harmonics included */
};

static inline double mains_va(const struct mains *mains, double watts)
{
    return watts / mains->power_factor;
}

static inline double mains_a(const struct mains *mains, double watts)
{
    return mains_va(mains, watts) / mains->volts;
}

/* The true power factor from that of the fundamental (cos φ) and the current's total harmonic
 * distortion, a share of the fundamental; the voltage is taken as a sine. */
static inline double mains_true_factor(double displacement, double thd)
{
    return displacement / sqrt(1 + thd * thd);
}

static inline double mains_btu_per_h(double watts)
{
    return watts * 3600 / MAINS_J_PER_BTU;
}

#endif
