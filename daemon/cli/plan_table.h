/* SPDX-License-Identifier: Apache-2.0 */
/* The hours of a plan as a table for people. */
#ifndef LAMPWARDEN_PLAN_TABLE_H
#define LAMPWARDEN_PLAN_TABLE_H

#include <jansson.h>
#include <stdio.h>

/* One space of the daemon's answer (outlook_json.h), with one hour at least. Neighbours that say
 * the same are one line; columns that say nothing are left out. */
void plan_table(FILE *out, const json_t *space);

#endif
