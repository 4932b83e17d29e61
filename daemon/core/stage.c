/* SPDX-License-Identifier: Apache-2.0 */
#include "stage.h"

#include "units.h"

#include <limits.h>
#include <math.h>

#define CARRIED_LEAST_MOL 0.05 /* less is the margin with which a day is met */

static int as_int(int64_t days)
{
    return days > INT_MAX ? INT_MAX : (int)days;
}

/* Where the target stands after so many days of moving from `from_mol` towards `to_mol`. */
static double approach(double from_mol, double to_mol, double max_step_mol, int64_t days)
{
    double reach_mol = max_step_mol * (double)days;
    return units_clamp(to_mol, from_mol - reach_mol, from_mol + reach_mol);
}

struct stage_today stage_of(const struct stage *stages, int count, int64_t first_day,
                            double max_step_mol, int64_t day)
{
    if (day < first_day) {
        return (struct stage_today){STAGE_WAITING, -1, as_int(first_day - day), 0.0};
    }
    int64_t begin = first_day;
    double target_mol = count > 0 ? stages[0].target_mol : 0.0;
    for (int i = 0; i < count; i++) {
        const struct stage *stage = &stages[i];
        bool is_open_ended = stage->days <= 0;
        if (is_open_ended || day < begin + stage->days) {
            int64_t nth = day - begin + 1;
            return (struct stage_today){STAGE_RUNNING, i, as_int(nth),
                                        approach(target_mol, stage->target_mol, max_step_mol, nth)};
        }
        target_mol = approach(target_mol, stage->target_mol, max_step_mol, stage->days);
        begin += stage->days;
    }
    return (struct stage_today){STAGE_OVER, -1, as_int(day - begin + 1), 0.0};
}

double stage_carried_mol(const struct stage *stage, double target_mol, double surplus_mol)
{
    const double most_mol = fmin(stage->carry_over_mol, 0.5 * target_mol);
    return surplus_mol >= CARRIED_LEAST_MOL && most_mol > 0 ? fmin(surplus_mol, most_mol) : 0;
}
