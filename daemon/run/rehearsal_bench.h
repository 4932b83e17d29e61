/* SPDX-License-Identifier: Apache-2.0 */
/* The bench of a rehearsal: a simulated fixture for each of the configuration, a canopy for each
 * space, by their indices there. */
#ifndef LAMPWARDEN_REHEARSAL_BENCH_H
#define LAMPWARDEN_REHEARSAL_BENCH_H

#include "bench_model.h"
#include "rehearsal.h"

/* Seed and faults are those of the options. -E2BIG: more than the bench holds; else what the fault
 * script gives. */
int rehearsal_bench(const struct config *config, const struct rehearsal_options *options,
                    struct bench_model **ret, struct err *err);

#endif
