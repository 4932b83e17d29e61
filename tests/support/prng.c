/* SPDX-License-Identifier: Apache-2.0 */
#include "prng.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

static const uint64_t DEFAULT_SEED = 20231107;

struct prng prng_start(const char *test)
{
    const char *text = getenv("LAMPWARDEN_SEED");
    uint64_t seed = text ? strtoull(text, NULL, 10) : DEFAULT_SEED;
    printf("%s: LAMPWARDEN_SEED=%" PRIu64 "\n", test, seed);
    return (struct prng){seed};
}

uint64_t prng_next(struct prng *prng)
{
    prng->state += UINT64_C(0x9E3779B97F4A7C15);
    uint64_t z = prng->state;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

double prng_real(struct prng *prng, double low, double high)
{
    double unit = (double)(prng_next(prng) >> 11) * 0x1p-53;
    return low + (high - low) * unit;
}

int64_t prng_int(struct prng *prng, int64_t low, int64_t high)
{
    uint64_t span = (uint64_t)high - (uint64_t)low + 1;
    return low + (int64_t)(prng_next(prng) % span);
}
