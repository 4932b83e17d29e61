/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_ask.h"

/* Planned with a little less lamp than there is, so that ramps, rests and small faults fit. */
#define CAP_MARGIN 0.98

static struct plan_slots with_margin(const struct plan_slots *slots)
{
    struct plan_slots ret = *slots;
    for (int i = 0; i < ret.count; i++) {
        ret.slot[i].cap *= CAP_MARGIN;
    }
    return ret;
}

static void ask_the_sky(const struct plan_question *question, const struct plan_slots *slots,
                        double missing, struct plan_reply *ret)
{
    const struct scenarios *sky = question->sky;
    double sum = 0;
    for (int i = 0; i < sky->count; i++) {
        const double clearness = sky->clearness[i];
        sum += plan_price_of(&question->lamp, slots, clearness,
                             question->need_mol - clearness * question->clear_mol, missing);
    }
    ret->price = (struct plan_price){sum / sky->count, 1};
    ret->by_guard = plan_price_of(&question->lamp, slots, sky->pessimistic,
                                  question->need_mol - sky->pessimistic * question->clear_mol,
                                  missing) >= missing;
    if (ret->by_guard) {
        ret->price.price = missing;
    }
}

struct plan_reply plan_ask(const struct plan_question *question)
{
    struct plan_reply ret = {.price = {0, 1}};
    const bool has_sky = question->sky && question->sky->count > 0;
    const double clearness = has_sky ? question->sky->mean : 0;
    ret.daylight_mol = clearness * question->clear_mol;
    ret.reach_mol = plan_reach_mol(&question->lamp, question->slots, clearness);
    ret.is_full = question->need_mol > ret.daylight_mol + ret.reach_mol;
    if (!(question->need_mol > 0) || question->slots->count == 0) {
        return ret;
    }
    const double missing = plan_missing_price(&question->lamp, question->slots);
    const struct plan_slots slots = with_margin(question->slots);
    if (has_sky) {
        ask_the_sky(question, &slots, missing, &ret);
    } else {
        ret.price = plan_fill(&question->lamp, &slots, 0, question->need_mol, missing);
    }
    return ret;
}
