/* SPDX-License-Identifier: Apache-2.0 */
/* Whether the chain of a tick explains what was decided in it. */
#ifndef LAMPWARDEN_SIM_CHAIN_H
#define LAMPWARDEN_SIM_CHAIN_H

#include "decide.h"

#include <stddef.h>

/* What the chain and the verdict of one tick do not agree in: a sentence in `buffer`; NULL: the
 * smallest level that was allowed is the level applied, and the rule that allowed it the limiter.
 * before: the fixtures' levels in the tick before. */
const char *sim_chain_flaw(const struct space_rules *rules, const struct space_state *state,
                           const struct verdict *verdict, const double *before, char *buffer,
                           size_t size);

#endif
