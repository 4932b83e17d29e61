/* SPDX-License-Identifier: Apache-2.0 */
#include "allotment.h"

#include <math.h>
#include <stddef.h>

const struct allotment_slot *allotment_at(const struct allotment *allotment, int64_t wall_s)
{
    if (!allotment->is_shared || wall_s < allotment->begin_s) {
        return NULL;
    }
    const int64_t at = (wall_s - allotment->begin_s) / ALLOTMENT_SLOT_S;
    return at < allotment->count ? &allotment->slot[at] : NULL;
}

double allotment_reach_mol(const struct allotment *allotment)
{
    return allotment->is_shared && allotment->count > 0 ? allotment->reach_mol : (double)INFINITY;
}

double allotment_light_price(const struct allotment *allotment)
{
    return allotment->is_shared && allotment->count > 0 ? allotment->light_price : 0;
}

double allotment_planned_w(const struct allotment *allotment, int64_t wall_s)
{
    const struct allotment_slot *slot = allotment_at(allotment, wall_s);
    return slot ? slot->watts : (double)INFINITY;
}
