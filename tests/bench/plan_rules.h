/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The usual ways to light a space under daylight, as yardsticks for the plan. None of them knows
 * the future, but for the timer, which is given the month's mean day.
 */
#ifndef LAMPWARDEN_PLAN_RULES_H
#define LAMPWARDEN_PLAN_RULES_H

#include "plan_year.h"

enum plan_rule_kind {
    PLAN_RULE_TIMER,     /* one level all window long that makes up the month's mean day */
    PLAN_RULE_THRESHOLD, /* all on below 200 µmol of daylight, until the target is met */
    PLAN_RULE_FILL,      /* daylight and lamp 300 µmol, until the target is met */
    /* Every hour on or off at full output, dear hours put off: after Albright, Both, Chiu 2000
     * (Transactions of the ASAE 43, 421–431), details from memory: an indication, no verdict. */
    PLAN_RULE_HOURLY,
    PLAN_RULES
};

/* What a rule remembers; zeroed before a year. */
struct plan_rule_memory {
    double daylight_mol, clear_mol; /* of the light day so far */
    bool is_on;                     /* the hourly rule's verdict */
};

struct plan_rule plan_rule_make(enum plan_rule_kind kind, struct plan_rule_memory *memory);

#endif
