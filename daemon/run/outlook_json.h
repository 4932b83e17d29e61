/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The rest of the light day as JSON, made from one snapshot: site, time, clock, is_ready, names (of
 * all spaces) and spaces, a list of
 *   space, state (a sentence; without hours it says why), stage, stage_day, stage_days, light_day,
 *   is_tomorrow, clearness (expected, of a clear sky; null: no sun), currency,
 *   target_mol, delivered_mol, to_come_mol, expected_mol, short_mol (of the target),
 *   missing_mol ({limiter: mol}), out_of_reach (a sentence, or null),
 *   lamp_mol, daylight_mol, energy_kwh, cost (of the hours below),
 *   skies_cost, dark_sky_cost, bright_sky_cost (of the same hours in the mean of the skies that may
 *     come, and under the darkest and the brightest fifth of them; null: no sun),
 *   even_cost, even_mol (the same hours with an eye to no price; null: nothing to compare),
 *   hours [{from, to, length_s, level, lamp_mol, daylight_mol, price_per_kwh, energy_kwh, cost,
 *     limiter, reason, words}],
 *   last_day {light_day, is_yesterday, target_mol, delivered_mol, missing_mol, cost, lamp_cost,
 *     bound_cost, even_cost} (as in report_day_json), or null.
 * Times are ISO 8601 at the site's fixed offset.
 */
#ifndef LAMPWARDEN_OUTLOOK_JSON_H
#define LAMPWARDEN_OUTLOOK_JSON_H

#include "snapshot.h"

#include <jansson.h>

/* space: its index, or −1 for the names alone: a space takes some 3 to 30 ms, and whoever wants
 * several asks for one after the other. NULL: no memory. The caller's to json_decref. */
json_t *outlook_json(const struct picture *picture, int space);

#endif
