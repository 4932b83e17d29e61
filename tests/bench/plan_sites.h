/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Years of daylight for the simulated years, from the csv files of a folder: the variable
 * LAMPWARDEN_DATA, or else ../shared/data beside the source tree. The files are no part of the
 * project; a test or bench without them says so and is skipped.
 *
 * A file begins with one comment line, which gives the place ("40.72 -77.93", "36.1N 79.95W"), the
 * offset of its clock ("UTC-7") and what part of its interval a stamp names ("END", "centre",
 * "start"); then the column names, then rows. Known columns: an ISO time (time…, date…; UTC where
 * the name ends in _utc or the value in Z), or month, day, hour or hour_ending, minute and year;
 * ghi… in W/m² (or ppfd… over 2.04, or par…); qc (0: good). The step is found from the rows.
 *
 * Steps of more than a minute are spread over their minutes with the clear-sky index of the step
 * (at most 1.6). Short gaps are filled with the clear-sky index between their neighbours; minutes
 * of long gaps too, but they are marked and their days do not count.
 */
#ifndef LAMPWARDEN_PLAN_SITES_H
#define LAMPWARDEN_PLAN_SITES_H

#include <stdbool.h>
#include <stdint.h>
#include <stddef.h>

struct err;

#define PLAN_SITES_MAX  32
#define PLAN_UMOL_PER_J 2.04 /* PPFD over GHI under an open sky, ±6 %: Meek et al. 1984 */

struct plan_site {
    char name[48]; /* from the file's: letters, digits, _ and - */
    double latitude, longitude;
    int offset_min;    /* local standard time, east of UTC */
    int64_t first_day; /* of the local days, since 1970-01-01 */
    int days;          /* whole local days */
    int bad_minutes;   /* of long gaps */
    double *ghi;       /* [1440 · days], W/m² */
    double *clear;     /* the same under a clear sky */
    bool *is_bad;      /* the minute is of a long gap */
};

/* Haurwitz's clear sky at a moment, W/m²; the position of the sun after Spencer 1971. */
double plan_sites_clear(double latitude, double longitude, int64_t utc_s);

/* One file. 0, or negative errno with the reason; plan_site_free() gives it back. */
int plan_site_read(const char *path, struct plan_site *ret, struct err *err);
void plan_site_free(struct plan_site *site);

/* The data folder; -ENOENT where there is none. `source`: the source tree. */
int plan_sites_folder(const char *source, char *ret, size_t size, struct err *err);

/* Reads every *.csv of the folder with at least 300 days, by name. Returns how many, at most
 * PLAN_SITES_MAX, or negative errno; files that are no year of daylight are passed over, which
 * stderr says, as that there is none. */
int plan_sites_read(const char *folder, struct plan_site *ret, struct err *err);

#endif
