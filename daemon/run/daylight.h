/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A daylight file for rehearsals: a timeseries with the header `time,ppfd_umol`; the PPFD
 * (µmol m⁻² s⁻¹ at the canopy, 0 … 4000) holds until the next row.
 */
#ifndef LAMPWARDEN_DAYLIGHT_H
#define LAMPWARDEN_DAYLIGHT_H

#include "timeseries.h"

struct daylight {
    struct timeseries rows;
    size_t at; /* row of the last answer, to make the next one cheap */
};

/* Errors name file:line, value and range. *ret is the caller's; free with daylight_free. */
int daylight_load(const char *path, struct daylight *ret, struct err *err);
void daylight_free(struct daylight *daylight);

/* 0 before the first row; the last row holds on. */
double daylight_umol(struct daylight *daylight, int64_t wall_s);

#endif
