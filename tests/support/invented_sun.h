/* SPDX-License-Identifier: Apache-2.0 */
/* Daylight of an invented place for simulated years. */
#ifndef LAMPWARDEN_INVENTED_SUN_H
#define LAMPWARDEN_INVENTED_SUN_H

#include "daylight.h"

/* Half-sine days between 8 and 16 h long from midnight UTC, whose peak wanders from 150 to 750 µmol
 * m⁻² s⁻¹ over the year, a cloud every few minutes; the same each time. From from_s, a New Year's
 * Day. To free with daylight_free; of one at a time. */
struct daylight *invented_sun(int64_t from_s, int days);

#endif
