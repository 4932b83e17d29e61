/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A file of values over time: CSV with the header `time,NAME`; time is ISO 8601 with an offset,
 * strictly rising. '#' begins a comment line, empty lines are skipped.
 */
#ifndef LAMPWARDEN_TIMESERIES_H
#define LAMPWARDEN_TIMESERIES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct err;

struct timeseries_form {
    const char *name;  /* of the value, in the header */
    double low, high;  /* its range */
    bool may_be_empty; /* a row may say a time alone: "2026-11-02T06:00Z," */
    size_t bytes_max;
};

struct timeseries {
    size_t count;
    int64_t *wall_s; /* strictly rising */
    double *value;   /* NaN: a row that says a time alone */
};

/* Errors name file:line, value and range; a file without rows is none. *ret is the caller's; free
 * with timeseries_free. */
int timeseries_load(const char *path, const struct timeseries_form *form, struct timeseries *ret,
                    struct err *err);
void timeseries_free(struct timeseries *series); /* zeroed: harmless */

#endif
