/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal says on stderr before it runs, of files that do not cover its days. */
#ifndef LAMPWARDEN_FOREWARN_H
#define LAMPWARDEN_FOREWARN_H

#include "config.h"
#include "daylight.h"

/* Its first or its last moment: the prices of these days are then not those of the file. */
void forewarn_of_prices(const struct config *config, int64_t first_s, int64_t last_s);

/* Daylight that no space sees, spaces under daylight without a file (path NULL), and the times of
 * which the file says nothing. */
void forewarn_of_daylight(const struct config *config, const char *path,
                          const struct daylight *daylight, int64_t first_s, int64_t last_s);

#endif
