/* SPDX-License-Identifier: Apache-2.0 */
#include "chain.h"

#include <math.h>

double chain_least(const struct chain_rules *rules, enum limiter *ret_limiter)
{
    double least = (double)INFINITY;
    *ret_limiter = LIMITER_COUNT;
    uint32_t left = rules->said;
    for (unsigned i = 0; left != 0; i++, left >>= 1) {
        if ((left & 1) != 0 && rules->allowed[i] < least) {
            least = rules->allowed[i];
            *ret_limiter = (enum limiter)i;
        }
    }
    return least;
}

double chain_may_have(const struct chain_fixture *fixture, enum limiter *ret_limiter)
{
    enum limiter held_by = LIMITER_COUNT;
    const double cap = chain_least(&fixture->rules, &held_by);
    if (cap < fixture->asked || (cap <= 0 && held_by < fixture->asked_by)) {
        *ret_limiter = held_by;
        return cap;
    }
    *ret_limiter = fixture->asked_by;
    return fixture->asked;
}
