/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Units and the few identities between them. Names carry the unit: _umol (PPFD, µmol m⁻² s⁻¹),
 * _mol (mol m⁻²), _w, _kwh, _c, _s, _ns; `level` and `drive` are ratios 0 … 1.
 * An unknown real value is NaN (UNITS_NONE): test it with units_known, never by comparison.
 */
#ifndef LAMPWARDEN_UNITS_H
#define LAMPWARDEN_UNITS_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#define UNITS_NONE ((double)NAN)

#define UNITS_NS_PER_S  INT64_C(1000000000)
#define UNITS_S_PER_DAY INT64_C(86400)
#define UNITS_J_PER_KWH 3.6e6

static inline bool units_known(double value)
{
    return !isnan(value);
}

/* PPFD held for a time → mol m⁻². DLI = PPFD × s / 10⁶ (Torres & Lopez, Purdue HO-238-W). */
static inline double units_mol(double ppfd_umol, double seconds)
{
    return ppfd_umol * seconds * 1e-6;
}

/* Watts drawn for a time. */
static inline double units_kwh(double watts, double seconds)
{
    return watts * seconds / UNITS_J_PER_KWH;
}

static inline double units_seconds(int64_t ns)
{
    return (double)ns * 1e-9;
}

static inline double units_clamp(double value, double low, double high)
{
    return value < low ? low : value > high ? high : value;
}

#endif
