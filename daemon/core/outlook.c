/* SPDX-License-Identifier: Apache-2.0 */
#include "outlook_parts.h"

#include "units.h"

#define HOUR_S     3600
#define LIT_WEIGHT 4   /* of a row's time: why a lamp burns is asked before why it does not */
#define TAIL_S     900 /* before lights-off a met target is no news */

/* What makes a row end beside the hour. */
enum kind { KIND_NONE, KIND_NIGHT, KIND_MET, KIND_BY_HAND, KIND_PLAN };

static enum kind kind_of(const struct verdict *verdict, enum kind before)
{
    if (!verdict->place.is_lit) {
        return KIND_NIGHT;
    }
    if (verdict->limiter == LIMITER_TARGET_MET &&
        (before == KIND_MET || verdict->place.until_off_s > TAIL_S)) {
        return KIND_MET;
    }
    return verdict->limiter == LIMITER_BY_HAND ? KIND_BY_HAND : KIND_PLAN;
}

static void name_row(const struct walk *walk, struct outlook_row *row)
{
    int most = 0;
    for (int i = 1; i < LIMITER_COUNT + OUTLOOK_WHY_COUNT; i++) {
        if (walk->ruled_s[i] > walk->ruled_s[most]) {
            most = i;
        }
    }
    row->limiter = most < LIMITER_COUNT ? (enum limiter)most : LIMITER_PLAN;
    row->why = most < LIMITER_COUNT ? OUTLOOK_BY_LIMITER : (enum outlook_why)(most - LIMITER_COUNT);
}

static struct outlook_row *new_row(struct walk *walk)
{
    struct outlook *outlook = walk->outlook;
    struct outlook_row *row = &outlook->rows[outlook->row_count++];
    outlook->clearness = walk->clearness;
    outlook->stage.target_mol = walk->verdict.stage.target_mol; /* less what is carried over */
    *row = (struct outlook_row){.from_s = walk->now.wall_s, .to_s = walk->now.wall_s};
    for (int i = 0; i < LIMITER_COUNT + OUTLOOK_WHY_COUNT; i++) {
        walk->ruled_s[i] = 0;
    }
    return row;
}

static struct outlook_row *row_of(struct walk *walk, bool is_new)
{
    struct outlook *outlook = walk->outlook;
    if (outlook->row_count == 0 || (is_new && outlook->row_count < OUTLOOK_ROWS_MAX)) {
        return new_row(walk);
    }
    return &outlook->rows[outlook->row_count - 1];
}

/* What the verdict does for so many seconds. */
static void book(struct walk *walk, double dt_s, bool is_new)
{
    const struct verdict *verdict = &walk->verdict;
    const double price = outlook_price(walk, walk->now.wall_s);
    const enum outlook_why why = outlook_why_now(walk);
    struct outlook *outlook = walk->outlook;
    struct outlook_row *row = row_of(walk, is_new);
    const double before_s = (double)(row->to_s - row->from_s);
    const double lamp_mol = units_mol(verdict->level * verdict->full_umol, dt_s);
    const double daylight_mol = units_mol(walk->daylight_umol, dt_s);
    const double kwh = units_known(verdict->watts) ? units_kwh(verdict->watts, dt_s) : 0;
    const double cost = units_known(price) ? kwh * price : 0;
    row->level = (row->level * before_s + verdict->level * dt_s) / (before_s + dt_s);
    row->price_per_kwh = (row->price_per_kwh * before_s + price * dt_s) / (before_s + dt_s);
    row->to_s += (int64_t)dt_s;
    row->lamp_mol += lamp_mol;
    row->daylight_mol += daylight_mol;
    row->energy_kwh += kwh;
    row->cost += cost;
    outlook->lamp_mol += lamp_mol;
    outlook->daylight_mol += daylight_mol;
    outlook->energy_kwh += kwh;
    outlook->cost += cost;
    walk->ruled_s[why == OUTLOOK_BY_LIMITER ? (int)verdict->limiter : LIMITER_COUNT + (int)why] +=
        verdict->level > 0 ? LIT_WEIGHT * dt_s : dt_s;
    name_row(walk, row);
}

/* The mean one, or one of OUTLOOK_SKIES from the darkest on. */
static double clearness_of(const struct scenarios *scenarios, int sky)
{
    if (sky < 0) {
        return scenarios->mean;
    }
    const int first = sky * scenarios->count / OUTLOOK_SKIES;
    const int end = (sky + 1) * scenarios->count / OUTLOOK_SKIES;
    double sum = 0;
    for (int i = first; i < end; i++) {
        sum += scenarios->clearness[i];
    }
    return sum / (end - first);
}

static void expect_sky(struct walk *walk)
{
    struct scenarios scenarios = {.count = 0};
    if (walk->rules->sees_daylight) {
        clearness_scenarios(&walk->state.clearness, &walk->state.learned, &scenarios);
    }
    walk->clearness = scenarios.count > 0 ? clearness_of(&scenarios, walk->sky) : UNITS_NONE;
}

static double lamp_umol(const struct walk *walk)
{
    double umol = 0;
    for (int i = 0; i < walk->rules->fixture_count; i++) {
        umol += space_full_umol(walk->rules, &walk->state, i) * walk->state.fixtures[i].level;
    }
    return umol * walk->state.light_gain;
}

static double usual_cap(const struct walk *walk)
{
    const int second = lightday_second(&walk->rules->day, walk->now.wall_s);
    return (double)walk->state.learned.heat_cap[second / HOUR_S];
}

/* How much hotter than usual it is: what heat leaves now over what it usually leaves. */
static void look_at_heat(struct walk *walk, bool is_today)
{
    for (int i = 0; i < walk->rules->fixture_count; i++) {
        const struct heat *heat = &walk->state.fixtures[i].heat;
        const bool is_hot = is_today && !heat->is_tripped && heat->cap < usual_cap(walk);
        walk->heat_share[i] = is_hot ? heat->cap / usual_cap(walk) : 1;
    }
}

/* The temperature that leaves as much of the lamp as heat usually does in this hour. One that
 * tripped cools while it is dark, but one that stands for a lost sensor stays. */
static struct reading expected_heat(const struct walk *walk, int index)
{
    const struct heat_rules *rules = &walk->rules->fixtures[index].heat;
    const bool is_tripped = walk->state.fixtures[index].heat.is_tripped;
    const struct reading *now = &walk->now.fixtures[index].heat;
    if (is_tripped && now->quality == READING_LOST) {
        return *now;
    }
    const double taken = 1 - fmax(walk->heat_share[index] * usual_cap(walk), rules->low_level);
    const double part = rules->low_level < 1 ? taken / (1 - rules->low_level) : 0;
    const double heat_c = rules->from_c + part * (rules->to_c - rules->from_c);
    return (struct reading){is_tripped ? fmin(heat_c, rules->rearm_c - 1) : heat_c,
                            walk->now.boot_ns, READING_GOOD};
}

/* What the sensors will say after so many seconds of the present verdict. */
static void expect(struct walk *walk, int64_t dt_s)
{
    struct now *now = &walk->now;
    now->boot_ns += dt_s * UNITS_NS_PER_S;
    now->wall_s += dt_s;
    now->step_s = OUTLOOK_STEP_S;
    now->may_close = true;
    now->inputs_settled = true;
    now->acknowledged = false;
    now->price_per_kwh = outlook_price(walk, now->wall_s);
    now->power.budget_w = allotment_planned_w(&now->power, now->wall_s);
    now->hand.is_active = now->hand.is_active && now->boot_ns < now->hand.until_ns;
    now->ppfd = walk->ppfd;
    if (walk->ppfd.quality != READING_LOST) {
        now->ppfd =
            (struct reading){lamp_umol(walk) + walk->daylight_umol, now->boot_ns, READING_GOOD};
    }
    for (int i = 0; i < walk->rules->fixture_count; i++) {
        now->fixtures[i].power = READING_NONE; /* the curve knows */
        now->fixtures[i].heat = expected_heat(walk, i);
    }
}

static int64_t least_above_0(int64_t step_s, int64_t other_s)
{
    return other_s > 0 && other_s < step_s ? other_s : step_s;
}

/* To the next whole minute, or to what comes before it. */
static int64_t next_step(const struct walk *walk, int64_t end_s)
{
    const struct lightday_place *place = &walk->verdict.place;
    const struct hand *hand = &walk->now.hand;
    int64_t step_s =
        OUTLOOK_STEP_S - lightday_second(&walk->rules->day, walk->now.wall_s) % OUTLOOK_STEP_S;
    step_s = least_above_0(step_s, place->is_lit ? place->until_off_s : place->until_on_s);
    if (hand->is_active) {
        const int64_t left_ns = hand->until_ns - walk->now.boot_ns;
        step_s = least_above_0(step_s, (left_ns + UNITS_NS_PER_S - 1) / UNITS_NS_PER_S);
    }
    return least_above_0(step_s, end_s - walk->now.wall_s);
}

static void walk_to(struct walk *walk, int64_t from_s, int64_t end_s)
{
    enum kind kind = KIND_NONE;
    while (walk->now.wall_s < end_s) {
        const int64_t dt_s = next_step(walk, end_s);
        const int64_t middle_s = walk->now.wall_s + dt_s / 2;
        walk->daylight_umol = units_known(walk->clearness)
                                  ? walk->clearness * sun_clear_umol(&walk->rules->sun, middle_s)
                                  : 0;
        if (walk->now.wall_s >= from_s) {
            const enum kind next = kind_of(&walk->verdict, kind);
            const bool is_hour = lightday_second(&walk->rules->day, walk->now.wall_s) % HOUR_S == 0;
            book(walk, (double)dt_s, is_hour || next != kind);
            kind = next;
        }
        expect(walk, dt_s);
        decide(walk->rules, &walk->state, &walk->now, &walk->verdict);
        if (walk->verdict.day_closed) {
            expect_sky(walk); /* that of the next day */
            look_at_heat(walk, false);
        }
    }
}

static bool has_light(const struct space_rules *rules, int64_t day, int64_t wall_s,
                      struct stage_today *ret_stage)
{
    struct lightday_piece pieces[2];
    *ret_stage =
        stage_of(rules->stages, rules->stage_count, rules->first_day, rules->acclimation_mol, day);
    return ret_stage->phase == STAGE_RUNNING &&
           lightday_pieces(&rules->day, &rules->stages[ret_stage->index].window, wall_s, pieces) >
               0;
}

/* The day to show: false when neither has light. */
static bool choose_day(const struct space_rules *rules, const struct now *now, struct outlook *ret)
{
    struct stage_today next;
    ret->light_day = lightday_of(&rules->day, now->wall_s);
    if (has_light(rules, ret->light_day, now->wall_s, &ret->stage)) {
        return true;
    }
    if (!has_light(rules, ret->light_day + 1, lightday_begin(&rules->day, ret->light_day + 1),
                   &next)) {
        return false;
    }
    ret->light_day++;
    ret->is_tomorrow = true;
    ret->stage = next;
    return true;
}

static void clear_sums(struct outlook *outlook)
{
    outlook->row_count = 0;
    outlook->lamp_mol = outlook->daylight_mol = 0;
    outlook->energy_kwh = outlook->cost = 0;
}

static void run(const struct walk *begin, int sky, struct outlook *ret)
{
    struct walk walk = *begin;
    const struct space_rules *rules = walk.rules;
    const int64_t from_s = lightday_begin(&rules->day, ret->light_day);
    walk.sky = sky;
    walk.outlook = ret;
    expect_sky(&walk);
    look_at_heat(&walk, true);
    outlook_look_at_prices(&walk, &rules->stages[ret->stage.index], from_s);
    walk_to(&walk, from_s, from_s + UNITS_S_PER_DAY);
}

/* The same under brighter and darker skies: the mean of their costs is more than the cost of the
 * mean sky, since a bright one saves no more than all. */
static void compare_skies(const struct walk *begin, struct outlook *ret)
{
    ret->skies_cost = 0;
    for (int i = 0; i < OUTLOOK_SKIES; i++) {
        struct outlook one = *ret;
        clear_sums(&one);
        run(begin, i, &one);
        ret->skies_cost += one.cost / OUTLOOK_SKIES;
        ret->dark_cost = i == 0 ? one.cost : ret->dark_cost;
        ret->bright_cost = one.cost;
    }
}

/* The same with an eye to no price. */
static void compare_with_even(const struct walk *begin, struct outlook *ret)
{
    const struct tariff one_price = {.price_per_kwh = 1};
    struct space_rules rules = *begin->rules;
    struct walk walk = *begin;
    struct outlook even = *ret;
    clear_sums(&even);
    rules.tariff = &one_price;
    walk.rules = &rules;
    run(&walk, -1, &even);
    ret->even_cost = even.cost;
    ret->even_mol = even.lamp_mol;
}

static bool changes_price(const struct outlook *outlook)
{
    double low = (double)INFINITY;
    double high = (double)-INFINITY;
    for (int i = 0; i < outlook->row_count; i++) {
        if (outlook->rows[i].level > 0) {
            low = fmin(low, outlook->rows[i].price_per_kwh);
            high = fmax(high, outlook->rows[i].price_per_kwh);
        }
    }
    return high > low;
}

static struct walk begin_of(const struct space_rules *rules, const struct space_state *state,
                            const struct now *now, const struct verdict *verdict)
{
    return (struct walk){
        .rules = rules,
        .paid = rules->tariff,
        .state = *state,
        .now = *now,
        .verdict = *verdict,
        .ppfd = now->ppfd,
    };
}

double outlook_expected_mol(const struct space_rules *rules, const struct space_state *state,
                            const struct now *now, const struct verdict *verdict)
{
    struct outlook outlook = {.clearness = UNITS_NONE};
    const bool knows_time =
        now->clock != CLOCK_UNTRUSTED || rules->clock_policy == CLOCK_POLICY_CARRY_ON;
    if (!knows_time || !choose_day(rules, now, &outlook) || outlook.is_tomorrow) {
        return verdict->forecast_mol;
    }
    const struct walk begin = begin_of(rules, state, now, verdict);
    run(&begin, -1, &outlook);
    return integral_delivered_mol(&state->integral) + outlook.lamp_mol + outlook.daylight_mol;
}

void outlook_make(const struct space_rules *rules, const struct space_state *state,
                  const struct now *now, const struct verdict *verdict, struct outlook *ret)
{
    *ret = (struct outlook){
        .clearness = UNITS_NONE,
        .skies_cost = UNITS_NONE,
        .dark_cost = UNITS_NONE,
        .bright_cost = UNITS_NONE,
        .even_cost = UNITS_NONE,
        .even_mol = UNITS_NONE,
    };
    if (now->clock == CLOCK_UNTRUSTED && rules->clock_policy != CLOCK_POLICY_CARRY_ON) {
        ret->stage.index = -1;
        return;
    }
    if (!choose_day(rules, now, ret)) {
        return;
    }
    if (!ret->is_tomorrow) {
        ret->delivered_mol = integral_delivered_mol(&state->integral);
    }
    const struct walk begin = begin_of(rules, state, now, verdict);
    run(&begin, -1, ret);
    if (units_known(ret->clearness) && ret->daylight_mol > 0) {
        compare_skies(&begin, ret);
    } else if (!rules->sees_daylight && rules->tariff && !now->power.is_shared &&
               changes_price(ret)) {
        compare_with_even(&begin, ret);
    }
}
