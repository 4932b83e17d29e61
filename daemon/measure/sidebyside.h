/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Fixtures side by side over the same canopy, each at the height that was chosen for it: what the
 * same day of light costs with each, and whether the difference is one at all.
 *
 * Maps taken with one sensor share its error of scale, and an uneven canopy is no error of its
 * mean; what is left is what the sensor makes of different spectra: `sensor_error`, for a quantum
 * sensor some per cent (common practice, no source).
 */
#ifndef LAMPWARDEN_SIDEBYSIDE_H
#define LAMPWARDEN_SIDEBYSIDE_H

#include "height.h"

struct sidebyside_terms {
    double lit_h;         /* hours of light a day */
    double days;          /* a year, > 0 … 366 */
    double price_per_kwh; /* NaN: not known */
    double sensor_error;  /* between two spectra, as a share; ≥ 0 */
};

struct sidebyside_row {
    const struct height_offer *offer; /* chosen height; NULL: none fits, and the rest is NaN */
    double watts;                     /* for the day's light; all of it warms the room */
    double photons_per_j;             /* on the canopy */
    double kwh_per_day;
    double cost_per_year;
    double more_per_year; /* than the cheapest; 0 for it */
    bool is_within_error; /* its watts exceed the cheapest's by no more than the sensor_error */
};

/* offers[count], one for each fixture. Returns the index of the one that needs least power, −1 when
 * none is known. */
int sidebyside_of(const struct height_offer *const *offers, int count,
                  const struct sidebyside_terms *terms, struct sidebyside_row *ret);

#endif
