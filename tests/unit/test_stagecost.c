/* SPDX-License-Identifier: Apache-2.0 */
/* What a stage costs, worked by hand. */
#include "stagecost.h"

#include "near.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define DAY 20760 /* 2026-11-03, a Tuesday */
#define H   3600

struct case_of {
    struct fixture_rules fixture;
    struct space_rules rules;
    struct stage stage;
    struct tariff tariff;
};

/* A lamp of `watts` that gives full_umol and is dimmed in proportion down to a tenth. */
static void set_up(struct case_of *it, double full_umol, double watts)
{
    const struct dimcurve_point points[] = {{0, 0, 0}, {0.1, 0.1, watts / 10}, {1, 1, watts}};
    *it = (struct case_of){
        .fixture = {.full_umol = full_umol, .ceiling = {.drive_max = 1}, .has_switch = true},
        .stage = {.window = {4 * H, 16 * H}, .ceiling_umol = (double)INFINITY},
        .tariff = {.price_per_kwh = 0.15},
    };
    assert_int_equal(dimcurve_init(&it->fixture.curve, points, 3, NULL), DIMCURVE_OK);
    it->rules =
        (struct space_rules){.fixture_count = 1, .fixtures = &it->fixture, .tariff = &it->tariff};
    const struct lampcurve_part part = {&it->fixture.curve, full_umol};
    lampcurve_join(&it->rules.lamp, &part, 1, 0);
}

static const struct tariff_rule peak = {0x7F, 0xFFF, 16 * H, 21 * H, 0.40};

/* 1 kW for 16 h, 0.15 a kWh, 0.40 from 16:00 to 21:00: from 04:00 on 12 · 0.15 + 4 · 0.40 = 3.40;
 * from 21:00 on 16 · 0.15 = 2.40. */
static void time_of_use(void **state)
{
    (void)state;
    struct case_of it;
    set_up(&it, 500, 1000);
    it.tariff.rules = &peak;
    it.tariff.rule_count = 1;
    it.stage.target_mol = 500 * 16 * H * 1e-6;
    struct stagecost cost = stagecost_of(&it.rules, &it.stage, DAY, 1);
    assert_true(cost.is_met);
    assert_near(cost.level, 1, 1e-9);
    assert_near(cost.even.kwh, 16, 1e-6);
    assert_near(cost.even.cost, 3.40, 1e-6);
    assert_near(cost.planned.cost, 3.40, 1e-6); /* full light all day: nothing to shift */
    assert_near(cost.even.peak_w, 1000, 1e-9);
    it.stage.window.on_s = 21 * H;
    it.rules.day.start_s = 21 * H;
    cost = stagecost_of(&it.rules, &it.stage, DAY, 30);
    assert_near(cost.even.cost, 30 * 2.40, 1e-5);
}

/* Half of the light. Even: 8 kWh, a quarter of it dear: 6 · 0.15 + 2 · 0.40. Planned: the dear four
 * hours at a tenth, 0.4 kWh, and 7.6 kWh cheap, in 12 h at 0.633 of full light. */
static void cheap_hours(void **state)
{
    (void)state;
    struct case_of it;
    set_up(&it, 500, 1000);
    it.tariff.rules = &peak;
    it.tariff.rule_count = 1;
    it.stage.target_mol = 500 * 8 * H * 1e-6;
    const struct stagecost cost = stagecost_of(&it.rules, &it.stage, DAY, 2);
    assert_near(cost.level, 0.5, 1e-9);
    assert_near(cost.even.cost, 2 * 1.70, 1e-6);
    assert_near(cost.even.peak_w, 500, 1e-6);
    assert_near(cost.planned.kwh, 2 * 8.0, 1e-6);
    assert_near(cost.planned.cost, 2 * (0.4 * 0.40 + 7.6 * 0.15), 1e-6);
    assert_true(cost.planned.peak_w >= 1000 * 7.6 / 12 - 1e-6);
}

/* 17 mol of a lamp of 2.5 µmol/J whose light lands by 0.85 on the canopy: 17 / (3.6 · 2.5 · 0.85) =
 * 2.2222 kWh/m², and 0.15 / (3.6 · 2.5) = 0.016667 a mol, 0.019608 where it lands. */
static void energy_of_a_mol(void **state)
{
    (void)state;
    struct case_of it;
    set_up(&it, 2.5 * 0.85 * 400, 400); /* over 1 m² */
    it.stage.target_mol = 17;
    const struct stagecost cost = stagecost_of(&it.rules, &it.stage, DAY, 365);
    assert_near(cost.even.kwh / 365, 2.2222, 1e-4);
    assert_near(cost.even.cost / (365 * 17), 0.019608, 1e-6);
    assert_near(cost.even.cost * 0.85 / (365 * 17), 0.016667, 1e-6);
    assert_near(cost.planned.cost, cost.even.cost, 1e-6);
}

static void out_of_reach(void **state)
{
    (void)state;
    struct case_of it;
    set_up(&it, 500, 1000);
    it.stage.target_mol = 30;
    it.rules.aim_margin = 0.01;
    it.fixture.ceiling.drive_max = 0.8;
    const struct stagecost cost = stagecost_of(&it.rules, &it.stage, DAY, 1);
    assert_false(cost.is_met);
    assert_near(cost.need_mol, 30.3, 1e-9);
    assert_near(cost.reach_mol, 0.8 * 500 * 16 * H * 1e-6, 1e-9);
    assert_near(cost.level, 0.8, 1e-9);
    assert_near(cost.even.kwh, 12.8, 1e-6);
    assert_near(cost.planned.kwh, 12.8, 1e-6);
}

/* By the lamps alone also where the sun is counted on. */
static void no_sun(void **state)
{
    (void)state;
    struct case_of it;
    set_up(&it, 500, 1000);
    it.stage.target_mol = 500 * 8 * H * 1e-6;
    it.rules.sees_daylight = true;
    it.rules.sun = (struct sun_site){.has_place = true, .latitude = 45, .daylight_share = 0.6};
    const struct stagecost cost = stagecost_of(&it.rules, &it.stage, DAY, 1);
    assert_near(cost.even.kwh, 8, 1e-6);
    assert_near(cost.planned.kwh, 8, 1e-6);
}

/* 150 a month, 0.0291 a kWh, 3.79 + 1.09 + 1.70 a kW; 10 kW, 18 h on 30 days (prices common
 * practice, no source): 150 + 157.14 + 65.80. */
static void demand_charge(void **state)
{
    (void)state;
    const struct stagecost_terms terms = {150, 3.79 + 1.09 + 1.70};
    assert_near(stagecost_bill(&terms, 10.0 * 18 * 30 * 0.0291, 10), 372.94, 0.005);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(time_of_use),     cmocka_unit_test(cheap_hours),
        cmocka_unit_test(energy_of_a_mol), cmocka_unit_test(out_of_reach),
        cmocka_unit_test(no_sun),          cmocka_unit_test(demand_charge),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
