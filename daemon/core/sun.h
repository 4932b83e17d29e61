/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The clear sky. Haurwitz's model of global horizontal irradiance needs only the height of the sun:
 *     G = 1098 cosZ exp(−0.057 / cosZ)  W m⁻²
 * (M. J. Reno, C. W. Hansen, J. S. Stein 2012, Global horizontal irradiance clear sky models,
 * SAND2012-2389). Declination and equation of time: the Fourier series of J. W. Spencer 1971 in the
 * form of the NOAA solar calculation. Low accuracy is enough: the scale of this curve is learned
 * away.
 */
#ifndef LAMPWARDEN_SUN_H
#define LAMPWARDEN_SUN_H

#include <stdbool.h>
#include <stdint.h>

#define SUN_UMOL_PER_W                                                                             \
    2.04 /* PPFD per W m⁻² of global irradiance outdoors, ± 6 % (Meek et al. 1984, from memory) */

/* Where the daylight comes from. Without coordinates the sun of an equinox stands in: up from 06:00
 * to 18:00 of the site's fixed time, cosZ = 0.7 · sin. */
struct sun_site {
    bool has_place;
    double latitude, longitude; /* degrees, north and east positive; −90 … 90, −180 … 180 */
    int32_t utc_offset_s;
    double daylight_share; /* part of the outdoor PPFD that reaches the canopy, 0 … 1; usual 0.6 */
};

/* Cosine of the zenith angle of the sun's centre, −1 … 1, without refraction. Within 0.5° from 1970
 * to 2100. wall_s: seconds since 1970-01-01 UTC. */
double sun_cos_zenith(double latitude, double longitude, int64_t wall_s);

/* W m⁻² from the cosine of the zenith angle; 0 below 0.001. */
double sun_clear_wm2(double cos_zenith);

/* PPFD at the canopy under a clear sky, at one moment: take the middle of an interval. About 0.1
 * µs. */
double sun_clear_umol(const struct sun_site *site, int64_t wall_s);

/* Six degrees below the horizon, the end of civil twilight: about 3 lx outdoors, less than 0.1 µmol
 * m⁻² s⁻¹ (from memory). False where nobody knows the place. */
bool sun_is_down(const struct sun_site *site, int64_t wall_s);

#endif
