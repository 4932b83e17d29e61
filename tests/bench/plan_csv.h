/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One csv file of daylight as rows of time and irradiance: the part of plan_sites that reads text.
 */
#ifndef LAMPWARDEN_PLAN_CSV_H
#define LAMPWARDEN_PLAN_CSV_H

#include <stdint.h>
#include <stddef.h>

struct err;

struct plan_row {
    int64_t begin_s; /* UTC, of the row's interval */
    double ghi;      /* W/m²; NAN: missing or marked as bad */
};

struct plan_csv {
    double latitude, longitude; /* degrees north and east; the sign as the file has it */
    int offset_min;             /* of local standard time, east of UTC */
    int64_t step_s;             /* the usual distance of two rows */
    size_t count;
    struct plan_row *rows; /* free() */
};

/* 0, -EINVAL (no year of daylight, with the reason), -ENOMEM or the error of the file. */
int plan_csv_read(const char *path, struct plan_csv *ret, struct err *err);

/* Days since 1970-01-01; no check of the calendar. */
int64_t plan_csv_day(int64_t year, int month, int day);

#endif
