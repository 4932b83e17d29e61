/* SPDX-License-Identifier: Apache-2.0 */
/* The offsets of a time zone, from the system's own table and without touching TZ. */
#ifndef LAMPWARDEN_CONFIG_ZONE_H
#define LAMPWARDEN_CONFIG_ZONE_H

#include "civil.h"

#include <stdint.h>

struct err;

#define ZONE_FOLDER      "/usr/share/zoneinfo"
#define ZONE_CHANGES_MAX 512

/* Every change of the years 1970 … 2099, strictly rising, no two with the same offset in a row. */
struct zone_table {
    int32_t offset_s; /* before the first of them */
    int count;
    struct civil_change changes[ZONE_CHANGES_MAX];
};

/* "Europe/Berlin" → 3600. The smaller of the two offsets that rule from now on: winter time, also
 * where the law calls summer time the standard. -ENOENT: no such zone; -EINVAL: not a name or
 * not a table. */
int zone_standard_offset(const char *folder, const char *name, int32_t *ret_s, struct err *err);

/* Errors as above. */
int zone_changes(const char *folder, const char *name, struct zone_table *ret, struct err *err);

#endif
