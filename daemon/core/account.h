/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The mol account of one light day: every missing mol charged to the limiter that took it.
 *
 *     target + surplus = delivered + to_come + Σ missing[limiter]          always, to rounding
 *
 * How: the potential P = delivered + the most that the rest of the window can still give. A limiter
 * that dims the light lowers P. As long as P ≥ target nothing is missing, since the plan makes it
 * up; the part of a fall of P below the target cannot be made up any more and is charged to whoever
 * held the light down at that moment. When P rises again (the sun came out) the charges shrink in
 * proportion.
 */
#ifndef LAMPWARDEN_ACCOUNT_H
#define LAMPWARDEN_ACCOUNT_H

#include "limiter.h"

#define ACCOUNT_SHORT_MOL 0.05 /* less missing light is a target met, and not worth a word */

struct account {
    double target_mol;
    double delivered_mol;
    double to_come_mol; /* what the rest of the day will still give towards the target, at most */
    double surplus_mol; /* delivered above the target */
    double missing_mol[LIMITER_COUNT];
};

/* The most that the light day can give, with fewer and fewer allowances: each ≤ the one before. */
struct account_reach {
    double full_mol;    /* all fixtures at level 1 through the whole rest of the window */
    double drive_mol;   /* … under the drive ceilings */
    double ceiling_mol; /* … and under the stage's PPFD ceiling: what counts from then on */
};

/* Opens a day (delivered is what was given before the reach begins): what is out of reach from the
 * start goes to full-light, drive-ceiling, light-ceiling. */
void account_open(struct account *account, double target_mol, double delivered_mol,
                  const struct account_reach *reach);

/* blame[]: PPFD that each limiter holds back at this moment (µmol m⁻² s⁻¹, ≥ 0). All 0:
 * `otherwise`. */
void account_step(struct account *account, double delivered_mol, double rest_mol,
                  const double blame[LIMITER_COUNT], enum limiter otherwise);

/* The target changed within the day (a reload): the difference is re-opened like a new day. */
void account_retarget(struct account *account, double target_mol, double rest_mol,
                      enum limiter otherwise);

double account_missing_mol(const struct account *account); /* Σ missing */

#endif
