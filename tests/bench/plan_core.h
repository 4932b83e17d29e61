/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The daemon's core as a rule of the simulated years: its clearness, learner and price of light,
 * without the daemon around it.
 */
#ifndef LAMPWARDEN_PLAN_CORE_H
#define LAMPWARDEN_PLAN_CORE_H

#include "plan_year.h"

#include "clearness.h"
#include "lampcurve.h"
#include "plan_sky.h"

struct plan_core {
    struct learned learned;
    struct clearness today;
    struct lampcurve curve;
    struct plan_sky_answer answer;
    int planned_minute; /* −1: not yet today */
    long plans;
};

/* The memory is made ready for a year. */
struct plan_rule plan_core_rule(const struct plan_case *plan_case, struct plan_core *core);

#endif
