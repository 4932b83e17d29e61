/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Vapour pressure deficit and dew point of the air. FAO constants throughout (Allen et al., FAO
 * Irrigation and Drainage Paper 56, 1998, eq. 11, and its inverse); never mix with another
 * formula's constants. Temperatures −40 … 60 °C, humidity 0 … 100 %: anything else, NaN included,
 * gives NaN.
 */
#ifndef LAMPWARDEN_AIR_H
#define LAMPWARDEN_AIR_H

double air_saturation_kpa(double temperature_c);
double air_vpd_kpa(double temperature_c, double humidity_percent);
double air_dew_point_c(double temperature_c, double humidity_percent); /* NaN at 0 % */

#endif
