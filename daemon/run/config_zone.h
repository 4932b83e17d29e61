/* SPDX-License-Identifier: Apache-2.0 */
/* The winter offset of a time zone, from the system's own table and without touching TZ. */
#ifndef LAMPWARDEN_CONFIG_ZONE_H
#define LAMPWARDEN_CONFIG_ZONE_H

#include <stdint.h>

struct err;

#define ZONE_FOLDER "/usr/share/zoneinfo"

/* "Europe/Berlin" → 3600. The smaller of the two offsets that rule from now on: winter time, also
 * where the law calls summer time the standard. -ENOENT: no such zone; -EINVAL: not a name or
 * not a table. */
int zone_standard_offset(const char *folder, const char *name, int32_t *ret_s, struct err *err);

#endif
