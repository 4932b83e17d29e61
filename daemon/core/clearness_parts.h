/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The predictor of the clearness of the rest of the day, one row for each twentieth of the day's
 * clear-sky light:
 *     k = constant + seen · k_so_far + yesterday · k_yesterday + mean · k_mean
 */
#ifndef LAMPWARDEN_CLEARNESS_PARTS_H
#define LAMPWARDEN_CLEARNESS_PARTS_H

#include "learned.h"

struct clearness_row {
    double constant, seen, yesterday, mean;
    double residual[CLEARNESS_SCENARIOS]; /* what came − k, at the quantiles 0.05, 0.15 … 0.95 */
};

extern const struct clearness_row clearness_table[CLEARNESS_ROWS];

#endif
