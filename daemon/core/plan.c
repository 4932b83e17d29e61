/* SPDX-License-Identifier: Apache-2.0 */
#include "plan.h"

#include "units.h"

double plan_umol(const struct plan_source *sources, int count, double level)
{
    double sum = 0;
    for (int i = 0; i < count; i++) {
        sum += sources[i].full_umol * (level < sources[i].cap ? level : sources[i].cap);
    }
    return sum;
}

double plan_level_for(const struct plan_source *sources, int count, double umol)
{
    /* The sum is piecewise linear in the level: fix whoever is at its cap, spread the rest over the
     * others, and repeat until nobody new is at its cap. */
    double level = 0;
    for (int round = 0; round <= count; round++) {
        double at_cap = 0;
        double free_full = 0;
        for (int i = 0; i < count; i++) {
            if (sources[i].cap <= level) {
                at_cap += sources[i].full_umol * sources[i].cap;
            } else {
                free_full += sources[i].full_umol;
            }
        }
        if (free_full <= 0) {
            return umol > at_cap ? 1 : level;
        }
        double next = (umol - at_cap) / free_full;
        if (next <= level) {
            break;
        }
        level = next;
    }
    return units_clamp(level, 0, 1);
}

struct plan_answer plan_level(const struct plan_problem *problem)
{
    const struct plan_source *sources = problem->sources;
    const int count = problem->source_count;
    double most = plan_umol(sources, count, 1);
    if (most > problem->ceiling_umol) {
        most = problem->ceiling_umol;
    }
    struct plan_answer answer = {0, units_mol(most, problem->lit_s), false};
    if (!(problem->need_mol > 0)) {
        return answer;
    }
    answer.is_full = problem->need_mol > answer.reach_mol;
    const double umol =
        answer.is_full || !(problem->lit_s > 0) ? most : problem->need_mol * 1e6 / problem->lit_s;
    answer.level = plan_level_for(sources, count, umol);
    if (answer.is_full && most < problem->ceiling_umol) {
        answer.level = 1; /* everything there is: nobody waits at another's cap */
    }
    return answer;
}
