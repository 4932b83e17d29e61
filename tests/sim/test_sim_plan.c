/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Light days under prices that change, without daylight. The same mol, the same hours, less money:
 * beside one level all day and beside the cheapest possible.
 */
#include "sim_config.h"
#include "sim_day.h"

#include "near.h"
#include "plan_bound.h"
#include "plan_cut.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

/* An invented tariff with a cheap night and a dear evening, and one in steps of an hour. */
static const struct tariff_rule three_prices[] = {
    {0x7f, 0xfff, 22 * 3600, 6 * 3600, 0.10},
    {0x7f, 0xfff, 16 * 3600, 20 * 3600, 0.28},
};
static const struct tariff evening = {
    .civil = {.offset_s = 3600}, .price_per_kwh = 0.16, .rule_count = 2, .rules = three_prices};

struct money {
    double cost, bound, even;
    double dear_level, plain_level; /* means, ramps left out */
};

static void fill_series(struct tariff *tariff, struct tariff_price *series, int count)
{
    const int64_t begin_s = lightday_begin(&sim.space.rules.day, SIM_DAY);
    for (int i = 0; i < count; i++) {
        const double hour = i % 24;
        series[i] = (struct tariff_price){begin_s + i * 3600,
                                          0.2 + 0.1 * sin(hour) + (i % 24 == 13 ? -0.4 : 0)};
    }
    *tariff = (struct tariff){.civil = {.offset_s = 3600},
                              .price_per_kwh = 0.2,
                              .series_count = count,
                              .series = series,
                              .series_end_s = begin_s + count * 3600};
}

/* One light day, the second one: the lamp is warm and no start is cut off. */
static struct money a_day(const struct tariff *tariff, uint64_t seed)
{
    const struct space_rules *rules = &sim.space.rules;
    const struct rehearsal_options options = {.from_day = SIM_DAY, .step_s = 1, .seed = seed};
    sim_watch_begin(&watch, &sim.config, &options);
    sim_until_day(&watch, 1);
    struct money money = {0, 0, 0, 0, 0};
    double dear_s = 0;
    double plain_s = 0;
    const int64_t begin_s = lightday_begin(&rules->day, SIM_DAY + 1);
    while (watch.day_count < 2) {
        sim_tick(&watch);
        const struct rehearsal_view view = rehearsal_view(watch.rehearsal, 0);
        const double price = tariff_price(tariff, view.now->wall_s);
        const int64_t second = view.now->wall_s - begin_s;
        money.cost += view.verdict->watts * price / 3.6e6;
        if (second >= 16 * 3600 + 600 && second < 20 * 3600) {
            money.dear_level += view.verdict->level;
            dear_s++;
        } else if (second >= 8 * 3600 && second < 16 * 3600) {
            money.plain_level += view.verdict->level;
            plain_s++;
        }
    }
    money.dear_level /= dear_s;
    money.plain_level /= plain_s;
    const struct plan_lamp lamp = {&rules->lamp, 420, 1, 400, true};
    struct plan_slots slots;
    plan_cut(&rules->day, &sim.stages[0], tariff, begin_s, &slots);
    const double need = watch.days[1].summary.account.target_mol;
    money.bound = plan_bound(&lamp, &slots, need).cost;
    money.even = plan_even_cost(&lamp, &slots, need);
    assert_near(watch.days[1].summary.account.delivered_mol, need, 0.1);
    assert_true(account_missing_mol(&watch.days[1].summary.account) < 1e-9);
    assert_int_equal(watch.days[1].summary.switch_operations, 2 * rules->fixture_count);
    sim_watch_end(&watch);
    return money;
}

static void begin(int fixtures)
{
    sim_config_init(&sim, fixtures);
    sim.stages[0].days = 30;
}

/* A warm lamp draws more for a mol than its curve says, at one level as well. */
static double over_bound(const struct money *with, const struct money *without)
{
    return with->cost / with->bound / (without->cost / without->even);
}

static void a_dear_evening_is_dimmed(void **state)
{
    (void)state;
    begin(2);
    const struct money without = a_day(&evening, 3);
    sim.config.site.tariff = evening;
    const struct money with = a_day(&evening, 3);
    printf("dear evening: one level %.4f, by price %.4f, cheapest possible %.4f: %.4f × that\n",
           without.cost, with.cost, with.bound, over_bound(&with, &without));
    assert_near(without.dear_level, without.plain_level, 0.02);
    assert_true(with.dear_level < with.plain_level - 0.2);
    assert_true(with.cost < 0.98 * without.cost);
    assert_near(without.cost, without.even, 0.03 * without.even);
    assert_true(over_bound(&with, &without) < 1.01);
}

static void hourly_prices(void **state)
{
    (void)state;
    struct tariff tariff;
    struct tariff_price series[72];
    begin(1);
    sim.rules[0].heat.from_c = 84; /* so that no heat holds back an hour at full light */
    sim.rules[0].heat.to_c = 96;
    sim.rules[0].heat.trip_c = 105;
    fill_series(&tariff, series, 72);
    const struct money without = a_day(&tariff, 4);
    sim.config.site.tariff = tariff;
    const struct money with = a_day(&tariff, 4);
    printf("hourly prices: one level %.4f, by price %.4f, cheapest possible %.4f: %.4f × that\n",
           without.cost, with.cost, with.bound, over_bound(&with, &without));
    assert_true(with.cost < without.cost);
    assert_true(over_bound(&with, &without) < 1.03);
}

/* The lamp loses a half while energy is cheap: the dear hours make it up, nothing is missing. */
static void a_plan_that_fails_is_made_again(void **state)
{
    (void)state;
    begin(2);
    sim.config.site.tariff = evening;
    const struct rehearsal_options options = {.from_day = SIM_DAY, .step_s = 1, .seed = 5};
    sim_watch_begin(&watch, &sim.config, &options);
    const struct bench_fault dead = {13 * 3600, 17 * 3600, BENCH_DEAD, 0, 0};
    assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &dead), 0);
    sim_until_day(&watch, 1);
    assert_near(watch.days[0].summary.account.delivered_mol, 13, 0.1);
    sim_watch_end(&watch);
}

/* Where energy is cheap the place is so warm that heat leaves half of the lamp. The first evening
 * comes as a surprise; from the second on the hours before make up for it. */
static void warm_cheap_hours_are_known_the_next_day(void **state)
{
    (void)state;
    static const struct tariff_rule cheap_evening[] = {{0x7f, 0xfff, 14 * 3600, 22 * 3600, 0.08}};
    static const struct tariff tariff = {.civil = {.offset_s = 3600},
                                         .price_per_kwh = 0.30,
                                         .rule_count = 1,
                                         .rules = cheap_evening};
    begin(1);
    sim.config.site.tariff = tariff;
    sim.stages[0].target_mol = 14;
    const struct rehearsal_options options = {.from_day = SIM_DAY, .step_s = 5, .seed = 8};
    sim_watch_begin(&watch, &sim.config, &options);
    for (int day = 0; day < 4; day++) {
        const struct bench_fault warm = {day * 86400 + 14 * 3600, 8 * 3600, BENCH_HEAT_STEP, 0, 26};
        assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &warm), 0);
    }
    sim_until_day(&watch, 4);
    for (int day = 0; day < 4; day++) {
        const double mol = watch.days[day].summary.account.delivered_mol;
        print_message("day %d: %.2f of 14 mol\n", day, mol);
        assert_true(day == 0 || mol >= 0.98 * 14);
    }
    assert_true((double)rehearsal_view(watch.rehearsal, 0).state->learned.heat_cap[18] < 0.7);
    sim_watch_end(&watch);
}

/* Whatever the prices, a target that needs everything gets everything. */
static void prices_never_cost_the_target(void **state)
{
    (void)state;
    begin(1);
    sim.config.site.tariff = evening;
    sim.space.rules.first_day = SIM_DAY;
    for (int step = 0; step < 3; step++) {
        sim.stages[0].target_mol = 17 + 2 * step; /* 400 µmol for 15.5 h: 22.3 mol */
        const struct money money = a_day(&evening, 6 + (uint64_t)step);
        assert_true(money.cost >= 0.995 * money.bound);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dear_evening_is_dimmed),
        cmocka_unit_test(hourly_prices),
        cmocka_unit_test(a_plan_that_fails_is_made_again),
        cmocka_unit_test(warm_cheap_hours_are_known_the_next_day),
        cmocka_unit_test(prices_never_cost_the_target),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
