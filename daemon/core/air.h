/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Vapour pressure deficit and dew point of the air. FAO constants throughout (Allen et al., FAO
 * Irrigation and Drainage Paper 56, 1998, eq. 11); never mix with another formula's constants.
 */
#ifndef LAMPWARDEN_AIR_H
#define LAMPWARDEN_AIR_H

double air_saturation_kpa(double temperature_c);                       /* −40 … 60 °C */
double air_vpd_kpa(double temperature_c, double humidity_percent);     /* NaN in, NaN out */
double air_dew_point_c(double temperature_c, double humidity_percent); /* NaN at 0 % */

#endif
