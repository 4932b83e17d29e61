/* SPDX-License-Identifier: Apache-2.0 */
#include "plan.h"

#include "units.h"

#include <math.h>

double plan_umol(const struct plan_source *sources, int count, double level)
{
    double sum = 0;
    for (int i = 0; i < count && level > 0; i++) {
        const double lit = level > sources[i].least ? level : sources[i].least;
        sum += sources[i].full_umol * (lit < sources[i].cap ? lit : sources[i].cap);
    }
    return sum;
}

/* The light rises with the common level in straight lines; they bend where a source leaves its
 * least or meets its cap. The next bend above a level, or INFINITY; and the slope up to it. */
static double next_bend(const struct plan_source *sources, int count, double level,
                        double *ret_slope)
{
    double next = (double)INFINITY;
    *ret_slope = 0;
    for (int i = 0; i < count; i++) {
        const struct plan_source *source = &sources[i];
        if (source->least <= level && level < source->cap) {
            *ret_slope += source->full_umol;
            next = fmin(next, source->cap);
        } else if (level < source->least && source->least < source->cap) {
            next = fmin(next, source->least);
        }
    }
    return next;
}

static double lowest_least(const struct plan_source *sources, int count)
{
    double lowest = 1;
    for (int i = 0; i < count; i++) {
        lowest = sources[i].cap > 0 ? fmin(lowest, sources[i].least) : lowest;
    }
    return lowest;
}

double plan_level_for(const struct plan_source *sources, int count, double umol)
{
    double level = lowest_least(sources, count);
    double given = plan_umol(sources, count, level);
    if (given >= umol) {
        return umol > 0 ? level * umol / given : 0;
    }
    for (;;) {
        double slope;
        const double next = next_bend(sources, count, level, &slope);
        if (!isfinite(next)) {
            return 1;
        }
        if (given + slope * (next - level) >= umol) {
            return level + (umol - given) / slope;
        }
        given += slope * (next - level);
        level = next;
    }
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
