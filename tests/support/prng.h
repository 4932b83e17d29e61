/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Repeatable random numbers for property tests. The seed is printed; set LAMPWARDEN_SEED to try
 * another one or to repeat a failure. SplitMix64 (Steele, Lea & Flood, OOPSLA 2014).
 */
#ifndef LAMPWARDEN_PRNG_H
#define LAMPWARDEN_PRNG_H

#include <stdint.h>

struct prng {
    uint64_t state;
};

/* From LAMPWARDEN_SEED or the default; prints what it took under the test's name. */
struct prng prng_start(const char *test);

uint64_t prng_next(struct prng *prng);
double prng_real(struct prng *prng, double low, double high);   /* low ≤ x < high */
int64_t prng_int(struct prng *prng, int64_t low, int64_t high); /* low ≤ x ≤ high */

#endif
