/* SPDX-License-Identifier: Apache-2.0 */
/* Private to lightmap*.c. */
#ifndef LAMPWARDEN_LIGHTMAP_PARTS_H
#define LAMPWARDEN_LIGHTMAP_PARTS_H

#include "lightmap.h"

/* Finds the lines that the points lie on; is_grid when at least half of their crossings have a
 * point. -ENOMEM. */
int lightmap_find_grid(struct lightmap *map, struct err *err);

/* Fills area_cm2 of every point: the areas add up to width × depth. -ENOMEM. */
int lightmap_share_area(struct lightmap *map, struct err *err);

#endif
