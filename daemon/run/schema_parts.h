/* SPDX-License-Identifier: Apache-2.0 */
/* Tables that schema.c joins; everybody else reaches them through schema_root. */
#ifndef LAMPWARDEN_SCHEMA_PARTS_H
#define LAMPWARDEN_SCHEMA_PARTS_H

#include "schema.h"

extern const struct key schema_tariff[];                   /* schema_tariff.c */
extern const struct key schema_power[];                    /* schema_power.c */
extern const struct key schema_page[];                     /* schema_page.c */
extern const struct key schema_alarm[];                    /* schema_alarm.c */
extern const struct key schema_limits[], schema_fixture[]; /* schema_fixture.c */
extern const struct key schema_stage[], schema_space[];    /* schema_space.c */

#endif
