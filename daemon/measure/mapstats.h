/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a light map says in numbers. Plain figures are over its points, as a hand-held survey is
 * usually told; figures "of the canopy" weigh each point by the part that it stands for.
 */
#ifndef LAMPWARDEN_MAPSTATS_H
#define LAMPWARDEN_MAPSTATS_H

#include "lightmap.h"

struct mapstats {
    size_t count;
    double mean_umol;
    double mean_se_umol;   /* standard error of the mean: cv_sample · mean / √count */
    double area_mean_umol; /* of the canopy */
    double min_umol, max_umol;
    double min_over_max, min_over_mean; /* the latter is the Uo of EN 12464-1 */
    double cv_population;               /* standard deviation by count, over the mean */
    double cv_sample;                   /* … by count − 1 */
    double within_10, within_20; /* parts of the canopy within ±10 and ±20 % of mean_umol, 0 … 1 */
    double photons_umol_s;       /* landing on the canopy: area mean · area */
    double utilisation;          /* photons_umol_s over PPF; NaN: PPF not known */
    double photons_per_j;        /* photons_umol_s over wall power, µmol/J; NaN: not known */
    double edge_over_centre; /* mean of the outermost points over that of the inner half by half */
    double across, along;    /* change from left to right and from front to back of the plane that
                                fits best, over the area mean: a fixture that hangs askew */
};

void mapstats_of(const struct lightmap *map, struct mapstats *ret);

#endif
