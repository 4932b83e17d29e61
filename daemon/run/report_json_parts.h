/* SPDX-License-Identifier: Apache-2.0 */
/* What the JSON of all reports is made of. Every value handed on is given away. */
#ifndef LAMPWARDEN_REPORT_JSON_PARTS_H
#define LAMPWARDEN_REPORT_JSON_PARTS_H

#include "journal.h"

#include <jansson.h>
#include <stdio.h>

json_t *report_json_date(int64_t day);
json_t *report_json_moment(int64_t wall_s, int32_t offset_s);
json_t *report_json_moment_or_null(int64_t wall_s, int32_t offset_s); /* of 0: null */

/* Fails only without memory: then the key is absent. */
void report_json_set(json_t *object, const char *key, json_t *value);

/* Writes the object on one line and lets it go. -ENOMEM, also for NULL. */
int report_json_line(json_t *object, FILE *out);

json_t *report_json_day(const struct journal_day *day); /* report_day_json's */

struct report_nights;
json_t *
report_json_nights(const struct report_nights *report); /* the array of report_nights_json */

#endif
