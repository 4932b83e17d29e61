/* SPDX-License-Identifier: Apache-2.0 */
/* The two parts of a TZif file that config_zone.c puts together. */
#ifndef LAMPWARDEN_CONFIG_ZONE_PARTS_H
#define LAMPWARDEN_CONFIG_ZONE_PARTS_H

#include "config_zone.h"

#include <stdbool.h>
#include <stddef.h>

/* A day of every year: POSIX.1-2017, 8.3, "TZ". */
struct zone_date {
    char form;            /* 'M' month.week.day, 'J' day without 29 February, '0' day from 0 */
    int month, week, day; /* M: 1 … 12, 1 … 5 (5: the last), 0 Sunday … 6; else `day` alone */
    int32_t second; /* of that day by the clock before the change; RFC 8536: −167 … 167 h */
};

struct zone_rule {
    int32_t standard_s, other_s; /* east of UTC; the same without a second one */
    bool has_dates;
    struct zone_date start, end; /* of the other offset */
};

/* "CET-1CEST,M3.5.0,M10.5.0/3"; false: not of that form. */
bool zone_rule_parse(const char *text, struct zone_rule *ret);

/* The two changes of a year, the earlier first; with has_dates only. */
void zone_rule_changes(const struct zone_rule *rule, int32_t year, struct civil_change ret[2]);

/* The table of RFC 8536, then the rule. False: not a table, or one that counts leap seconds. */
bool zone_table_fill(const unsigned char *bytes, size_t size, const struct zone_rule *rule,
                     struct zone_table *ret);

#endif
