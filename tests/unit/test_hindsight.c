/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A finished light day laid out again. Outside value: the closed form of two prices and a lamp
 * whose watts are a square of its level (equal marginal cost, the condition of Kuhn and Tucker).
 */
#include "hindsight.h"

#include "near.h"
#include "plan_bound.h"
#include "plan_case.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define DAY    20454
#define HOUR_S 3600

static struct stage stage;
static struct fixture_rules fixture;
static struct space_rules rules;
static struct daylog log_of_day;
static struct hindsight_day day;

/* 16 h from 06:00, 300 µmol, 120 W, sharp ends. */
static int begin(void **state)
{
    (void)state;
    const struct plan_case_lamp shape = {120, 0.02, 0.83, 0.15, 0.1};
    stage = (struct stage){.window = {.on_s = 6 * HOUR_S, .length_s = 16 * HOUR_S},
                           .ceiling_umol = (double)INFINITY};
    fixture = (struct fixture_rules){.full_umol = 300};
    rules = (struct space_rules){.fixture_count = 1, .fixtures = &fixture};
    plan_case_quadratic(&rules.lamp, &shape);
    daylog_open(&log_of_day);
    for (int i = 0; i < DAYLOG_SLOTS; i++) {
        log_of_day.seconds[i] = DAYLOG_SLOT_S;
        log_of_day.price_per_kwh[i] = i < 64 ? 0.2F : 0.22F; /* from 16:00 on */
    }
    day = (struct hindsight_day){&rules, &stage, lightday_begin(&rules.day, DAY), &log_of_day};
    return 0;
}

static double lit_s(const struct plan_slots *slots)
{
    double sum = 0;
    for (int i = 0; i < slots->count; i++) {
        assert_true(slots->slot[i].lit_s >= 0 && slots->slot[i].lit_s <= slots->slot[i].dt_s);
        assert_true(slots->slot[i].dt_s > 0 && slots->slot[i].dt_s <= DAYLOG_SLOT_S);
        sum += slots->slot[i].lit_s;
    }
    return sum;
}

static void slots_are_the_quarter_hours_of_the_window(void **state)
{
    (void)state;
    struct plan_slots slots;
    log_of_day.cap[25] = 0.5F;
    log_of_day.daylight_umol[26] = 80.0F;
    stage.floor_umol = 60;
    hindsight_slots(&day, &slots);
    assert_near(slots.slot[0].floor_umol, 60, 0);
    assert_int_equal(slots.count, 64);
    assert_near(lit_s(&slots), 16 * HOUR_S, 1e-9);
    assert_int_equal(slots.slot[0].from_s, day.begin_s + 6 * HOUR_S);
    assert_near(slots.slot[1].cap, 0.5, 1e-6);
    assert_near(slots.slot[0].cap, 1, 0);
    assert_near(slots.slot[2].clear_umol, 80, 1e-9);
    assert_near(slots.slot[39].price_per_kwh, 0.2, 1e-7);
    assert_near(slots.slot[40].price_per_kwh, 0.22, 1e-7);
}

/* A light day that begins inside the window, ends and ramps at odd minutes. */
static void two_pieces_with_ramps(void **state)
{
    (void)state;
    struct plan_slots slots;
    rules.day.start_s = 6 * HOUR_S + 600;
    stage.window = (struct lightday_window){4 * HOUR_S + 1020, 18 * HOUR_S};
    stage.ramp = (struct ramp){RAMP_LINEAR, 1200, 2400};
    day.begin_s = lightday_begin(&rules.day, DAY);
    hindsight_slots(&day, &slots);
    assert_near(lit_s(&slots), 18 * HOUR_S - 600 - 1200, 1e-6);
    assert_int_equal(slots.slot[0].from_s, day.begin_s);
    const struct plan_slot *last = &slots.slot[slots.count - 1];
    assert_int_equal(last->from_s + (int64_t)last->dt_s, day.begin_s + UNITS_S_PER_DAY);
    stage.window.length_s = 24 * HOUR_S;
    hindsight_slots(&day, &slots);
    assert_int_equal(slots.count, DAYLOG_SLOTS);
    assert_near(lit_s(&slots), 24 * HOUR_S, 1e-6);
}

/* Marginal cost c (p1 + 2 p2 u) the same in 10 h at 0.20 and 6 h at 0.22, 13 mol in all. */
static void the_closed_form_of_two_prices(void **state)
{
    (void)state;
    const double p1 = 0.83;
    const double p2 = 0.15;
    const double need = 13 / (300 * HOUR_S * 1e-6); /* hours of full light */
    const double ratio = 0.20 / 0.22;
    const double shift = (ratio - 1) * p1 / (2 * p2);
    const double cheap = (need - 6 * shift) / (10 + 6 * ratio);
    const double dear = ratio * cheap + shift;
    const double cost = 0.12 * (0.20 * 10 * (0.02 + p1 * cheap + p2 * cheap * cheap) +
                                0.22 * 6 * (0.02 + p1 * dear + p2 * dear * dear));
    assert_true(dear > 0.37 && cheap < 1); /* above the cheapest photon, so all 16 h are lit */
    const struct hindsight costs = hindsight(&day, 13, 13);
    assert_near(costs.bound_cost, cost, 1e-4 * cost);
    const double even = need / 16;
    const double even_cost = 0.12 * (0.02 + p1 * even + p2 * even * even) * (2.0 + 1.32);
    assert_near(costs.even_cost, even_cost, 1e-4 * even_cost);
    assert_true(costs.even_cost > 1.002 * costs.bound_cost);
}

/* The lamp that burned is the one that is reckoned with: 4 % less light, 3 % more watts. */
static void the_lamp_of_that_day(void **state)
{
    (void)state;
    const double fresh = hindsight(&day, 13 / 0.96, 13 / 0.96).bound_cost;
    log_of_day.promised_mol = 13.5;
    log_of_day.lamp_mol = 13.5 * 0.96;
    log_of_day.promised_kwh = 1.5;
    log_of_day.lamp_kwh = 1.5 * 1.03;
    assert_near(hindsight(&day, 13, 13).bound_cost, 1.03 * fresh, 1e-9);
    assert_near(hindsight_lamp(&day).full_umol, 288, 1e-9);
}

static void what_is_not_known(void **state)
{
    (void)state;
    for (int i = 0; i < 4; i++) {
        log_of_day.seconds[i] = 0;
    }
    assert_true(units_known(hindsight(&day, 13, 13).bound_cost)); /* an hour may be missing */
    log_of_day.seconds[95] = 899;
    assert_false(units_known(hindsight(&day, 13, 13).bound_cost));
    assert_false(units_known(hindsight(&day, 13, 13).even_cost));
    log_of_day.seconds[95] = 900;
    log_of_day.promised_mol = 13;
    log_of_day.lamp_mol = 3;
    assert_false(units_known(hindsight(&day, 13, 13).bound_cost));
    log_of_day.lamp_mol = 13;
    log_of_day.promised_kwh = 1;
    log_of_day.lamp_kwh = 3;
    assert_false(units_known(hindsight(&day, 13, 13).even_cost));
}

/* A quarter hour that nobody saw: no daylight, the whole lamp, the price of the tariff. */
static void an_unseen_quarter_hour(void **state)
{
    (void)state;
    const struct tariff tariff = {.price_per_kwh = 0.31};
    struct plan_slots slots;
    rules.tariff = &tariff;
    log_of_day.seconds[30] = 0;
    log_of_day.price_per_kwh[30] = 0;
    hindsight_slots(&day, &slots);
    assert_near(slots.slot[6].price_per_kwh, 0.31, 0);
    assert_near(slots.slot[6].cap, 1, 0);
    assert_near(slots.slot[7].price_per_kwh, 0.2, 1e-7);
}

/* Under daylight the lamp may stay dark: no need, no cost. Indoors it burns all day. */
static void no_need(void **state)
{
    (void)state;
    assert_near(hindsight(&day, -1, 0).bound_cost, 0.12 * (0.02 + 0.083 + 0.0015) * 3.32, 1e-6);
    rules.sees_daylight = true;
    assert_near(hindsight(&day, -1, 0).bound_cost, 0, 0);
    assert_near(hindsight(&day, -1, 0).even_cost, 0, 0);
}

/* Half of the window under a sun that leaves 100 of 250 µmol of room, or less than the lamp's
 * lowest 30. */
static void the_sun_takes_room_from_the_lamp(void **state)
{
    (void)state;
    for (int i = 24; i < 24 + 32; i++) {
        log_of_day.daylight_umol[i] = 150;
    }
    assert_near(hindsight_room(&day, 300, 1), 1, 0);
    stage.ceiling_umol = 250;
    assert_near(hindsight_room(&day, 300, 1), (250 + 100) / 500.0, 1e-9);
    assert_near(hindsight_room(&day, 300, 0.5), (150 + 100) / 300.0, 1e-9);
    for (int i = 24; i < 24 + 32; i++) {
        log_of_day.daylight_umol[i] = 240;
    }
    assert_near(hindsight_room(&day, 300, 1), 0.5, 1e-9);
}

static void what_there_is_to_say(void **state)
{
    (void)state;
    assert_int_equal(hindsight_word(UNITS_NONE, 1, 0), HINDSIGHT_NOTHING);
    assert_int_equal(hindsight_word(1, UNITS_NONE, 0), HINDSIGHT_NOTHING);
    assert_int_equal(hindsight_word(0.004, -0.004, 0), HINDSIGHT_NOTHING);
    assert_int_equal(hindsight_word(0.004, -0.004, 1), HINDSIGHT_NOTHING);
    assert_int_equal(hindsight_word(1.2, 1, 0.04), HINDSIGHT_RATIO);
    assert_int_equal(hindsight_word(1.2, 1, 0.05), HINDSIGHT_SHORT);
    assert_int_equal(hindsight_word(1.2, 0.004, 0), HINDSIGHT_COSTS);
    assert_int_equal(hindsight_word(1.2, -1, 0), HINDSIGHT_COSTS);
    assert_int_equal(hindsight_word(0, 1, 0), HINDSIGHT_COSTS);
    assert_int_equal(hindsight_word(-1.2, -1.3, 0), HINDSIGHT_COSTS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(slots_are_the_quarter_hours_of_the_window, begin),
        cmocka_unit_test_setup(two_pieces_with_ramps, begin),
        cmocka_unit_test_setup(the_closed_form_of_two_prices, begin),
        cmocka_unit_test_setup(the_lamp_of_that_day, begin),
        cmocka_unit_test_setup(what_is_not_known, begin),
        cmocka_unit_test_setup(an_unseen_quarter_hour, begin),
        cmocka_unit_test_setup(no_need, begin),
        cmocka_unit_test_setup(the_sun_takes_room_from_the_lamp, begin),
        cmocka_unit_test(what_there_is_to_say),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
