/* SPDX-License-Identifier: Apache-2.0 */
/*
 * From window, ramps and tariff to the slots of a plan.
 */
#ifndef LAMPWARDEN_PLAN_CUT_H
#define LAMPWARDEN_PLAN_CUT_H

#include "lightday.h"
#include "plan_slot.h"
#include "ramp.h"
#include "stage.h"
#include "tariff.h"

/* The lit rest of the light day that holds wall_s, cut at half hours and where the price changes.
 * What exceeds PLAN_SLOTS_MAX is joined to the last slot at that slot's price. Caps are 1, floors
 * 0, no daylight. lit_s of the slots add up to what ramp_integral gives for the whole. */
void plan_cut(const struct lightday_rules *day, const struct stage *stage,
              const struct tariff *tariff, int64_t wall_s, struct plan_slots *ret);

#endif
