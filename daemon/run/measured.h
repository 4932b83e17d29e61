/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a fixture's record says of how it was measured: group `measured` of the configuration. For
 * people and their sheets; nothing is ruled by it.
 */
#ifndef LAMPWARDEN_MEASURED_H
#define LAMPWARDEN_MEASURED_H

#define MEASURED_READINGS_MAX 256

struct measured_reading {
    double drive; /* 0 … 1 */
    double level; /* share of full light, daylight and droop taken out */
    double watts; /* NaN: not known */
};

struct measured {
    const char *date, *sensor; /* "": not said */
    double heat_low_c, heat_high_c;
    double worst_level, rms_level, rms_w; /* of the readings less the curve */
    double holds_drive, saturated_above;
    double droop, droop_per_k;
    double ceiling_heat_c, ceiling_margin;
    int reading_count;
    const struct measured_reading *readings;
}; /* numbers: NaN where nothing was said */

#endif
