/* SPDX-License-Identifier: Apache-2.0 */
#include "powerplan.h"

#include "err.h"
#include "plan_price.h"
#include "powerplan_parts.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#define DWELL_S    1200 /* a space that was lit stays lit so long, where not all can be */
#define STAY       1.2  /* … and after that as long as nobody is worth so much more */
#define WORTH_HAND 50.0 /* ln of a worth above every other: by hand is cut last */
#define EXTRA_MOST 1e9  /* no price: a hand is cut */
#define ROUNDING   1e-6 /* of the limit: is kept back */
#define HALVINGS   20

int powerplan_create(const struct config *config, struct powerplan **ret, struct err *err)
{
    const struct power_limit *limit = &config->site.power;
    const bool has_hard = limit->hard_w > 0 && isfinite(limit->hard_w);
    const bool has_soft = limit->soft_price_per_kwh > 0 && isfinite(limit->soft_w);
    *ret = NULL;
    if (!has_hard && !has_soft) {
        return 0;
    }
    const size_t count = (size_t)config->space_count;
    struct powerplan *plan = calloc(1, sizeof *plan);
    if (plan) {
        plan->space = calloc(count, sizeof *plan->space);
        plan->day_space = calloc(count, sizeof *plan->day_space);
        plan->cell = calloc(count, sizeof *plan->cell);
        plan->user = calloc(count, sizeof *plan->user);
        plan->order = calloc(count, sizeof *plan->order);
    }
    if (!plan || !plan->space || !plan->day_space || !plan->cell || !plan->user || !plan->order) {
        powerplan_destroy(plan);
        return err_fail(err, ENOMEM, "no memory for the power of %zu spaces", count);
    }
    plan->config = config;
    plan->floor_share = 1;
    plan->day = (struct powerday){.limit = *limit,
                                  .space_count = config->space_count,
                                  .space = plan->day_space,
                                  .cell = plan->cell};
    plan->day.limit.hard_w = has_hard ? limit->hard_w * (1 - ROUNDING) : (double)INFINITY;
    plan->day.limit.soft_w = has_soft ? limit->soft_w : (double)INFINITY;
    for (int i = 0; i < config->space_count; i++) {
        struct power_space *space = &plan->space[i];
        powercurve_init(&space->curve, &config->spaces[i].rules.lamp);
        space->factor = 1;
        space->light_price = UNITS_NONE;
        space->allotment.is_shared = true;
        plan->day_space[i].curve = &space->curve;
    }
    *ret = plan;
    return 0;
}

void powerplan_destroy(struct powerplan *plan)
{
    if (plan) {
        free(plan->space);
        free(plan->day_space);
        free(plan->cell);
        free(plan->user);
        free(plan->order);
        free(plan);
    }
}

static double log_worth_of(const struct power_space *space, double price_per_kwh)
{
    const struct power_seen *seen = &space->seen;
    const struct lampcurve *lamp = space->curve.lamp;
    if (seen->is_by_hand) {
        return WORTH_HAND;
    }
    if (!(seen->need_mol > 0)) {
        return -(double)INFINITY;
    }
    if (units_known(seen->light_price)) {
        return powershare_log_worth(seen->light_price, seen->full_umol);
    }
    if (units_known(space->light_price)) {
        return powershare_log_worth(space->light_price, seen->full_umol);
    }
    /* Before anything is planned: that of a missing mol. */
    return log(PLAN_MISSING_WORTH * lamp->watts[lamp->count - 1] *
               fmax(price_per_kwh, PLAN_PRICE_LEAST));
}

/* Its watts now as a function of the price, between what its stage's floor needs, or so much of
 * that as floor_share says, and what it asks for. */
static struct power_user user_of(const struct power_space *space, double price_per_kwh,
                                 double floor_share)
{
    const struct power_seen *seen = &space->seen;
    const double least = lampcurve_min_level(space->curve.lamp);
    struct power_user user = {
        .curve = &space->curve,
        .log_worth = log_worth_of(space, price_per_kwh),
        .least_w = seen->floor_w,
    };
    if (seen->want_level > 0) {
        const double more_w = floor_share * (seen->least_w - seen->low_w);
        user.limits.low = least + floor_share * fmax(seen->least_level - least, 0);
        user.limits.high = fmax(seen->want_level, least);
        user.least_w = fmax(seen->floor_w, seen->low_w + more_w); /* less by a hair: no light */
        user.scale = seen->want_w / lampcurve_watts(space->curve.lamp, user.limits.high);
    } else {
        user.least_w = seen->want_w; /* moved by hand in the dark, or about to open */
    }
    return user;
}

static double lowest_w(const struct power_user *user)
{
    const double level = user->limits.low;
    return fmax(user->least_w, user->scale * powercurve_watts(user->curve, level, &user->limits));
}

/* All can be lit: what is left goes by price, and what nobody wants to whoever comes next. */
static void share_by_price(struct powerplan *plan, double price_per_kwh)
{
    const int count = plan->day.space_count;
    const struct power_limit *limit = &plan->day.limit;
    plan->extra_per_kwh =
        powershare_extra(limit, price_per_kwh, plan->user, count, POWERDAY_SPREAD);
    const double whole = powershare_whole_price(price_per_kwh, plan->extra_per_kwh);
    double sum = 0;
    for (int i = 0; i < count; i++) {
        plan->space[i].budget_w = powershare_watts(&plan->user[i], whole, POWERDAY_SPREAD);
        sum += plan->space[i].budget_w;
    }
    double room_w = plan->extra_per_kwh > 0 ? 0 : power_limit_w(limit, 0) - sum;
    for (int i = 0; i < count && room_w > 0; i++) {
        plan->space[i].budget_w += room_w / count;
    }
}

/* Worth of a watt of its lowest level, more where more of the day's need is left; those that were
 * just lit, and by hand, first. */
static double rank_of(const struct powerplan *plan, int index)
{
    const struct power_space *space = &plan->space[index];
    const struct power_user *user = &plan->user[index];
    const double lit_s = units_seconds(plan->boot_ns - space->seen.lit_since_ns);
    if (!(user->limits.low > 0)) {
        return -1;
    }
    const double left = space->seen.need_mol / fmax(space->seen.target_mol, 0.01);
    const double worth =
        exp(user->log_worth) * user->limits.low / lowest_w(user) * units_clamp(left, 0.01, 1);
    if (space->seen.is_lit && lit_s < DWELL_S) {
        return 1e30;
    }
    return space->seen.is_lit ? worth * STAY : worth;
}

static void put_in_order(struct powerplan *plan)
{
    for (int i = 0; i < plan->day.space_count; i++) {
        const double rank = rank_of(plan, i);
        int at = i;
        while (at > 0 && rank_of(plan, plan->order[at - 1]) < rank) {
            plan->order[at] = plan->order[at - 1];
            at--;
        }
        plan->order[at] = i;
    }
}

/* Not all can be lit: first come those to whom it is worth most. One that has to go is counted
 * until it is dark. */
static void share_by_rank(struct powerplan *plan)
{
    const int count = plan->day.space_count;
    double grant_w = plan->day.limit.hard_w;
    double free_w = grant_w;
    for (int i = 0; i < count; i++) {
        free_w -= plan->space[i].seen.floor_w;
    }
    put_in_order(plan);
    for (int i = 0; i < count; i++) {
        struct power_space *space = &plan->space[plan->order[i]];
        const double asked_w = lowest_w(&plan->user[plan->order[i]]);
        const double granted_w = fmin(asked_w, fmax(grant_w, 0));
        grant_w -= granted_w;
        if (granted_w <= space->seen.floor_w) {
            space->budget_w = granted_w;
            continue;
        }
        const double more_w = fmin(granted_w - space->seen.floor_w, fmax(free_w, 0));
        space->budget_w = space->seen.floor_w + more_w;
        free_w -= more_w;
    }
    plan->extra_per_kwh = 0;
}

/* Watts that are drawn at any price while the stages' floors have so much of what they need. */
static double ask_all(struct powerplan *plan, double price_per_kwh, double floor_share)
{
    double sum = 0;
    for (int i = 0; i < plan->day.space_count; i++) {
        plan->user[i] = user_of(&plan->space[i], price_per_kwh, floor_share);
        sum += lowest_w(&plan->user[i]);
    }
    plan->floor_share = floor_share;
    return sum;
}

/* A floor is no matter of price: only what is never exceeded cuts it, and then that of all spaces
 * alike. */
static void ask_with_floors(struct powerplan *plan, double price_per_kwh)
{
    const double limit_w = plan->day.limit.hard_w;
    double low = 0;
    double high = 1;
    if (ask_all(plan, price_per_kwh, 1) <= limit_w) {
        return;
    }
    for (int i = 0; i < HALVINGS; i++) {
        const double middle = 0.5 * (low + high);
        if (ask_all(plan, price_per_kwh, middle) > limit_w) {
            high = middle;
        } else {
            low = middle;
        }
    }
    plan->is_short = ask_all(plan, price_per_kwh, low) > limit_w;
}

void powerplan_share(struct powerplan *plan, const struct powerplan_moment *moment)
{
    if (!plan) {
        return;
    }
    plan->dt_s = plan->boot_ns == 0 ? 1 : units_seconds(moment->boot_ns - plan->boot_ns);
    plan->boot_ns = moment->boot_ns;
    if (moment->knows_time) {
        powerplan_day(plan, moment);
    }
    plan->is_short = false;
    ask_with_floors(plan, moment->price_per_kwh);
    if (plan->is_short) {
        share_by_rank(plan);
    } else {
        share_by_price(plan, moment->price_per_kwh);
    }
    for (int i = 0; i < plan->day.space_count; i++) {
        struct power_space *space = &plan->space[i];
        space->allotment.budget_w = space->budget_w / space->factor;
    }
}

void powerplan_fill(const struct powerplan *plan, int space, struct allotment *ret)
{
    if (plan) {
        *ret = plan->space[space].allotment;
    } else {
        ret->is_shared = false;
    }
}

void powerplan_look(const struct powerplan *plan, struct powerplan_view *ret)
{
    *ret = (struct powerplan_view){.is_shared = plan != NULL};
    if (!plan) {
        return;
    }
    for (int i = 0; i < plan->day.space_count; i++) {
        ret->watts += plan->space[i].seen.watts;
    }
    ret->limit_w = plan->config->site.power.hard_w;
    ret->soft_w = plan->config->site.power.soft_w;
    ret->soft_price_per_kwh = plan->config->site.power.soft_price_per_kwh;
    ret->is_binding = plan->extra_per_kwh > 0 || plan->is_short;
    ret->extra_per_kwh = plan->extra_per_kwh < EXTRA_MOST ? plan->extra_per_kwh : UNITS_NONE;
    ret->is_short = plan->is_short;
    ret->cuts_floor = plan->floor_share < 1 && !plan->is_short;
    ret->is_soft = ret->is_binding && !plan->is_short &&
                   !(plan->extra_per_kwh > plan->config->site.power.soft_price_per_kwh) &&
                   isfinite(plan->day.limit.soft_w);
}
