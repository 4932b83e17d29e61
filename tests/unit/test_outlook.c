/* SPDX-License-Identifier: Apache-2.0 */
/* The rest of a day as it is expected, beside the day as it comes. */
#include "outlook.h"

#include "near.h"
#include "prng.h"
#include "scene.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct scene scene;
static struct outlook outlook;

#define HOUR INT64_C(3600)

/* An invented tariff with a cheap night and a dear evening. */
static const struct tariff_rule blocks[] = {{0x7f, 0xfff, 22 * 3600, 8 * 3600, 0.10},
                                            {0x7f, 0xfff, 16 * 3600, 20 * 3600, 0.40}};
static const struct tariff three_prices = {
    .civil = {.offset_s = 3600}, .price_per_kwh = 0.20, .rule_count = 2, .rules = blocks};

static void look(void)
{
    outlook_make(&scene.sim.space.rules, &scene.state, &scene.now, &scene.verdict, &outlook);
}

static void begin(int64_t second, const struct tariff *tariff)
{
    scene_begin(&scene, 1, second);
    scene.sim.space.rules.tariff = tariff;
    scene_run(&scene, 3);
}

/* The row that holds a second of SIM_DAY. */
static const struct outlook_row *row_at(int64_t second)
{
    const int64_t wall_s = lightday_begin(&scene.sim.space.rules.day, SIM_DAY) + second;
    for (int i = 0; i < outlook.row_count; i++) {
        if (outlook.rows[i].from_s <= wall_s && wall_s < outlook.rows[i].to_s) {
            return &outlook.rows[i];
        }
    }
    fail_msg("no row at %.2f h", (double)second / 3600);
    return NULL;
}

static void assert_row(int64_t second, enum limiter limiter, enum outlook_why why)
{
    const struct outlook_row *row = row_at(second);
    if (row->limiter != limiter || row->why != why) {
        fail_msg("at %.2f h: %s %s in place of %s %s", (double)second / 3600,
                 limiter_name(row->limiter), outlook_why_name(row->why), limiter_name(limiter),
                 outlook_why_name(why));
    }
}

/* Rows follow one another without a gap from now to the end of the day, and add up. */
static void assert_whole(int64_t from_s)
{
    struct outlook sum = {0};
    int64_t at_s = from_s;
    for (int i = 0; i < outlook.row_count; i++) {
        const struct outlook_row *row = &outlook.rows[i];
        assert_int_equal(row->from_s, at_s);
        assert_true(row->to_s > row->from_s && row->to_s - row->from_s <= HOUR);
        assert_true(row->level >= 0 && row->level <= 1);
        sum.lamp_mol += row->lamp_mol;
        sum.daylight_mol += row->daylight_mol;
        sum.cost += row->cost;
        at_s = row->to_s;
    }
    assert_int_equal(at_s, lightday_begin(&scene.sim.space.rules.day, outlook.light_day + 1));
    assert_near(sum.lamp_mol, outlook.lamp_mol, 1e-9);
    assert_near(sum.daylight_mol, outlook.daylight_mol, 1e-9);
    assert_near(sum.cost, outlook.cost, 1e-9);
}

static void prices_shape_the_day(void **state)
{
    (void)state;
    begin(HOUR, &three_prices);
    look();
    assert_whole(scene.now.wall_s);
    assert_false(outlook.is_tomorrow);
    assert_row(3 * HOUR, LIMITER_NIGHT, OUTLOOK_BY_LIMITER);
    assert_row(7 * HOUR, LIMITER_LIGHT_CEILING, OUTLOOK_BY_LIMITER); /* cheap: all it may give */
    assert_row(9 * HOUR, LIMITER_PLAN, OUTLOOK_USUAL);
    assert_row(17 * HOUR, LIMITER_PLAN, OUTLOOK_LOWEST);
    assert_row(23 * HOUR, LIMITER_NIGHT, OUTLOOK_BY_LIMITER);
    assert_near(row_at(9 * HOUR)->price_per_kwh, 0.20, 1e-12);
    assert_near(row_at(17 * HOUR)->level, lampcurve_min_level(&scene.sim.space.rules.lamp), 1e-9);
    assert_near(outlook.lamp_mol, 13, 0.01 * 13);
    assert_near(outlook.even_mol, outlook.lamp_mol, 0.01 * 13);
    assert_true(outlook.cost < 0.9 * outlook.even_cost);
    assert_true(isnan(outlook.clearness) && isnan(outlook.skies_cost));
    begin(HOUR, NULL);
    look();
    assert_row(9 * HOUR, LIMITER_PLAN, OUTLOOK_EVEN);
    assert_true(isnan(outlook.even_cost)); /* nothing to compare */
    assert_near(outlook.cost, 0.3 * outlook.energy_kwh, 1e-9);
}

/* The day comes, second by second, as it was shown at its beginning. */
static void the_day_comes_true(void **state)
{
    (void)state;
    begin(HOUR, &three_prices);
    look();
    const struct outlook shown = outlook;
    const double spent = scene.state.cost;
    for (int i = 0; i < shown.row_count; i++) {
        const struct outlook_row *row = &shown.rows[i];
        double level_s = 0;
        while (scene.now.wall_s < row->to_s) {
            level_s += scene.verdict.level;
            scene.now.price_per_kwh = tariff_price(&three_prices, scene.now.wall_s);
            if (scene.now.wall_s + 1 < shown.rows[shown.row_count - 1].to_s) {
                scene_tick(&scene, 1);
            } else {
                scene.now.wall_s++; /* the last one would open the next day */
            }
        }
        const double level = level_s / (double)(row->to_s - row->from_s);
        if (!(fabs(level - row->level) <= 0.01)) {
            fail_msg("row %d: %.4f shown, %.4f came", i, row->level, level);
        }
    }
    const double delivered = integral_delivered_mol(&scene.state.integral);
    assert_near(shown.delivered_mol + shown.lamp_mol, delivered, 0.005 * delivered);
    assert_near(shown.cost, scene.state.cost - spent, 0.01 * shown.cost);
}

/* Lit seconds that are left of the day, ramps left out: the lamp is never below its lowest level.
 */
static double floor_mol(void)
{
    const double lit_s =
        fmin(16 * HOUR,
             (double)(22 * HOUR - lightday_second(&scene.sim.space.rules.day, scene.now.wall_s)));
    return units_mol(420 * lampcurve_min_level(&scene.sim.space.rules.lamp), lit_s);
}

/* Whatever the day was so far: what was delivered and the rows together are the forecast, or what
 * the lowest level alone gives where that is more. */
static void rows_add_up_to_the_forecast(void **state)
{
    (void)state;
    struct prng prng = prng_start("rows_add_up_to_the_forecast");
    for (int i = 0; i < 60; i++) {
        begin(prng_int(&prng, 0, 21 * HOUR + 1800), i % 2 == 0 ? NULL : &three_prices);
        const double target = prng_real(&prng, 4, 26);
        scene.sim.stages[0].target_mol = target;
        scene.state.integral.lamp_mol = prng_real(&prng, 0, 1.05 * target);
        scene_run(&scene, 2);
        look();
        assert_whole(scene.now.wall_s);
        const double sum = outlook.delivered_mol + outlook.lamp_mol;
        const double expected =
            fmax(scene.verdict.forecast_mol, outlook.delivered_mol + floor_mol());
        assert_near(sum, expected, 0.01 * expected + 0.05); /* it takes minutes to rise */
    }
}

/* Under the sun of an equinox, at 06:00 after a bright and after a black yesterday. */
static void the_sky_is_expected_in_the_mean(void **state)
{
    (void)state;
    double lamp_mol[2];
    for (int dark = 0; dark < 2; dark++) {
        scene_begin(&scene, 1, 5 * HOUR);
        scene.sim.space.rules.sees_daylight = true;
        for (int i = 0; i < CLEARNESS_DAYS; i++) {
            learned_push_day(&scene.state.learned, dark == 1 ? 0.15 : 0.6);
        }
        scene_ppfd(&scene, 0);
        scene_run(&scene, 3);
        look();
        assert_whole(scene.now.wall_s);
        struct scenarios scenarios;
        clearness_scenarios(&scene.state.clearness, &scene.state.learned, &scenarios);
        assert_near(outlook.clearness, scenarios.mean, 1e-12);
        assert_near(outlook.daylight_mol, scenarios.mean * scene.state.clearness.clear_day_mol,
                    0.001 * outlook.daylight_mol);
        assert_near(outlook.lamp_mol + outlook.daylight_mol, scene.verdict.forecast_mol,
                    0.01 * scene.verdict.forecast_mol);
        assert_true(isnan(outlook.even_cost));
        assert_true(outlook.bright_cost <= outlook.cost && outlook.cost < outlook.dark_cost);
        assert_true(outlook.skies_cost > outlook.cost); /* Jensen's inequality */
        assert_true(outlook.skies_cost < outlook.dark_cost);
        lamp_mol[dark] = outlook.lamp_mol;
    }
    assert_true(lamp_mol[1] > lamp_mol[0] + 2);
    assert_near(row_at(12 * HOUR)->level, 0, 0.3);
    assert_true(row_at(12 * HOUR)->daylight_mol > row_at(8 * HOUR)->daylight_mol);
}

/* 16:01 under the sun of an equinox that gave so much so far, half of a clear one's share. */
static void begin_afternoon(double delivered_mol)
{
    scene_begin(&scene, 1, 16 * HOUR + 60);
    const struct space_rules *rules = &scene.sim.space.rules;
    double clear_mol = 0;
    for (int64_t second = 0; second < 16 * HOUR; second += 600) {
        const int64_t at_s = lightday_begin(&rules->day, SIM_DAY) + second + 300;
        clear_mol += units_mol(sun_clear_umol(&rules->sun, at_s), 600);
    }
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.space.rules.tariff = &three_prices;
    scene.sim.stages[0].ceiling_umol = 1000;
    scene.sim.stages[0].target_mol = 0; /* the lamp is dark at first */
    scene_ppfd(&scene, 0);
    scene_tick(&scene, 1);
    scene.sim.stages[0].target_mol = 13;
    scene.state.integral.daylight_mol = delivered_mol;
    scene.state.clearness.clear_mol = clear_mol;
    scene.state.clearness.daylight_mol = 0.5 * clear_mol;
    scene.state.plan.planned_ns = 0;
    scene_run(&scene, 3);
    look();
    assert_whole(scene.now.wall_s);
}

static void what_the_plan_waits_for(void **state)
{
    (void)state;
    begin_afternoon(11);
    assert_row(17 * HOUR, LIMITER_PLAN, OUTLOOK_WAITS); /* 20:00 is cheaper, and soon enough */
    assert_row(20 * HOUR + 600, LIMITER_PLAN, OUTLOOK_USUAL);
    assert_near(outlook.delivered_mol + outlook.lamp_mol + outlook.daylight_mol, 13, 0.15);
    begin_afternoon(12.95);
    assert_row(16 * HOUR + 120, LIMITER_PLAN, OUTLOOK_SUN_ENOUGH);
    assert_row(18 * HOUR, LIMITER_TARGET_MET, OUTLOOK_BY_LIMITER);
    begin_afternoon(12.3);
    assert_row(16 * HOUR + 120, LIMITER_PLAN, OUTLOOK_WAITS);
}

/* A need that the usual hours cannot meet: every hour burns, each for its own price. */
static void cheap_and_dear_hours_are_named(void **state)
{
    (void)state;
    begin(HOUR, &three_prices);
    scene.sim.stages[0].ceiling_umol = 1000;
    scene.sim.stages[0].target_mol = 20;
    scene_run(&scene, 2);
    look();
    assert_row(7 * HOUR, LIMITER_PLAN, OUTLOOK_CHEAP);
    assert_row(9 * HOUR, LIMITER_PLAN, OUTLOOK_USUAL);
    assert_row(17 * HOUR, LIMITER_PLAN, OUTLOOK_DEAR);
    assert_true(row_at(17 * HOUR)->level < row_at(9 * HOUR)->level);
}

/* At one price there is no better hour to wait for, but a sun. */
static void the_sun_is_waited_for_and_filled_up(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 5 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].ceiling_umol = 1000;
    for (int i = 0; i < CLEARNESS_DAYS; i++) {
        learned_push_day(&scene.state.learned, 0.5);
    }
    scene_ppfd(&scene, 0);
    scene_run(&scene, 3);
    look();
    assert_row(8 * HOUR, LIMITER_PLAN, OUTLOOK_SUN_DUE);
    assert_near(row_at(8 * HOUR)->level, 0, 1e-9);
    assert_row(16 * HOUR, LIMITER_PLAN, OUTLOOK_FILLS);
    assert_true(row_at(16 * HOUR)->level > 0);
}

/* A dark sky could leave the day short: whatever it costs. */
static void the_guard_is_named(void **state)
{
    (void)state;
    begin_afternoon(3.75);
    assert_true(scene.state.plan.by_guard);
    assert_int_equal(outlook.rows[0].why, OUTLOOK_NEEDED);
    assert_true(outlook.rows[0].level > 0.8);
}

static void a_met_target_ends_the_plan(void **state)
{
    (void)state;
    begin(12 * HOUR, NULL);
    scene.state.integral.lamp_mol = 13.5;
    scene_run(&scene, 2);
    look();
    assert_row(15 * HOUR, LIMITER_TARGET_MET, OUTLOOK_BY_LIMITER);
    assert_near(row_at(15 * HOUR)->level, lampcurve_min_level(&scene.sim.space.rules.lamp), 1e-9);
}

/* A hand lets go within an hour: the row ends there. */
static void a_hand_lets_go(void **state)
{
    (void)state;
    begin(12 * HOUR, NULL);
    scene.state.integral.lamp_mol = 6;
    scene.now.hand = (struct hand){true, 0.25, scene.now.boot_ns + 5400 * UNITS_NS_PER_S, false};
    scene_run(&scene, 2);
    look();
    assert_whole(scene.now.wall_s);
    assert_row(13 * HOUR, LIMITER_BY_HAND, OUTLOOK_BY_LIMITER);
    assert_near(row_at(13 * HOUR)->level, 0.25, 0.01);
    assert_int_equal(row_at(13 * HOUR)->to_s - scene.now.wall_s, 5398);
    assert_row(14 * HOUR, LIMITER_PLAN, OUTLOOK_EVEN);
}

static void out_of_reach(void **state)
{
    (void)state;
    begin(12 * HOUR, &three_prices);
    scene.sim.stages[0].ceiling_umol = 1000;
    scene.sim.stages[0].target_mol = 40;
    scene_run(&scene, 2);
    look();
    assert_row(17 * HOUR, LIMITER_FULL_LIGHT, OUTLOOK_BY_LIMITER);
    assert_near(outlook.lamp_mol, scene.verdict.forecast_mol, 0.01 * outlook.lamp_mol);
}

/* One that tripped cools while it is dark, and lights again; one that nobody can read does not. */
static void heat_passes(void **state)
{
    (void)state;
    for (int blind = 0; blind < 2; blind++) {
        begin(12 * HOUR, NULL);
        scene.state.integral.lamp_mol = 6;
        scene_heat(&scene, 0, 120);
        scene_run(&scene, 200);
        assert_int_equal(scene.verdict.limiter, LIMITER_HEAT_TRIP);
        if (blind == 1) {
            scene_heat(&scene, 0, UNITS_NONE);
            scene_run(&scene, 60);
        }
        look();
        assert_int_equal(row_at(15 * HOUR)->level > 0.3, blind == 0);
        assert_row(15 * HOUR, blind == 0 ? LIMITER_PLAN : LIMITER_HEAT_TRIP,
                   blind == 0 ? OUTLOOK_EVEN : OUTLOOK_BY_LIMITER);
    }
}

/* Heat that was learned holds its hours down, and today's comes on top of it. */
static void heat_is_expected_where_it_was(void **state)
{
    (void)state;
    begin(7 * HOUR, NULL);
    for (int hour = 14; hour < 18; hour++) {
        scene.state.learned.heat_cap[hour] = 0.5F;
    }
    scene.state.integral.lamp_mol = 1;
    scene.sim.stages[0].target_mol = 17;
    scene_run(&scene, 2);
    look();
    assert_row(15 * HOUR, LIMITER_HEAT, OUTLOOK_BY_LIMITER);
    assert_near(row_at(15 * HOUR)->level, 0.5, 0.02);
    assert_true(row_at(10 * HOUR)->level > 0.6 && row_at(19 * HOUR)->level > 0.6);
    scene.state.fixtures[0].heat.cap = 0.8; /* a hot morning already */
    look();
    assert_near(row_at(15 * HOUR)->level, 0.4, 0.02);
    assert_true(row_at(10 * HOUR)->level <= 0.8);
}

/* From 16:00 on the plan of all spaces leaves this one a quarter of its watts, and says why. */
static void a_short_supply_is_named(void **state)
{
    (void)state;
    begin(12 * HOUR, NULL);
    scene.state.integral.lamp_mol = 5;
    const struct fixture_rules *lamp = &scene.sim.space.rules.fixtures[0];
    const double quarter_w = dimcurve_watts(&lamp->curve, dimcurve_drive(&lamp->curve, 0.25));
    scene.now.power = (struct allotment){
        .is_shared = true, .budget_w = 1000, .begin_s = scene.now.wall_s, .count = 20};
    for (int i = 0; i < 20; i++) {
        scene.now.power.slot[i] =
            (struct allotment_slot){i < 8 ? 0 : 0.1, UNITS_NONE, i < 8 ? 1000 : quarter_w};
    }
    scene_run(&scene, 2);
    look();
    assert_whole(scene.now.wall_s);
    assert_row(13 * HOUR, LIMITER_PLAN, OUTLOOK_EVEN);
    assert_true(row_at(13 * HOUR)->level > 0.5);
    assert_row(18 * HOUR, LIMITER_POWER_LIMIT, OUTLOOK_BY_LIMITER);
    assert_near(row_at(18 * HOUR)->level, 0.25, 0.01);
    scene.now.power.slot[12].watts = scene.now.power.slot[13].watts = 1000;
    look();
    assert_row(18 * HOUR + 60, LIMITER_PLAN, OUTLOOK_SUPPLY);
}

static void a_lost_sensor_stays_lost(void **state)
{
    (void)state;
    begin(12 * HOUR, NULL);
    scene_ppfd(&scene, UNITS_NONE);
    scene_run(&scene, 2);
    assert_true(scene.state.sensor_is_lost);
    look();
    assert_row(15 * HOUR, LIMITER_SENSOR_LOST, OUTLOOK_BY_LIMITER);
    scene.sim.space.rules.sees_daylight = true;
    scene.state.integral.lamp_mol = 10;
    scene_run(&scene, 2);
    look();
    assert_row(15 * HOUR, LIMITER_PLAN, OUTLOOK_BLIND);
    assert_near(row_at(15 * HOUR)->daylight_mol, 0, 1e-9); /* nobody counts it */
}

/* The target is met, and the stage wants its least light all the same. */
static void the_floor_is_named(void **state)
{
    (void)state;
    begin_afternoon(12.95);
    scene.sim.stages[0].floor_umol = 100;
    scene_run(&scene, 2);
    look();
    assert_row(20 * HOUR, LIMITER_PLAN, OUTLOOK_FLOOR);
    assert_near(row_at(20 * HOUR)->level, 100.0 / 420, 0.01);
}

/* After lights-off the next day is shown, from its beginning. */
static void the_evening_shows_tomorrow(void **state)
{
    (void)state;
    begin(22 * HOUR + 1800, &three_prices);
    look();
    assert_true(outlook.is_tomorrow);
    assert_int_equal(outlook.light_day, SIM_DAY + 1);
    assert_near(outlook.delivered_mol, 0, 0);
    assert_int_equal(outlook.stage.day, scene.verdict.stage.day + 1);
    assert_whole(lightday_begin(&scene.sim.space.rules.day, SIM_DAY + 1));
    assert_near(outlook.lamp_mol, 13, 0.13);
}

/* What today has too much is taken off tomorrow's target. */
static void tomorrow_knows_what_is_carried_over(void **state)
{
    (void)state;
    begin(22 * HOUR + 1800, NULL);
    scene.sim.stages[0].carry_over_mol = 3;
    scene.state.integral.lamp_mol = 15;
    scene_run(&scene, 2);
    look();
    assert_near(outlook.stage.target_mol, 11, 0.01);
    assert_near(outlook.lamp_mol, 11, 0.11);
}

static void no_light_no_rows(void **state)
{
    (void)state;
    begin(12 * HOUR, NULL);
    scene.sim.space.rules.first_day = SIM_DAY + 2;
    scene_run(&scene, 2);
    look();
    assert_int_equal(outlook.row_count, 0);
    assert_int_equal(outlook.stage.phase, STAGE_WAITING);
    assert_int_equal(outlook.stage.day, 2);
    scene.sim.space.rules.first_day = SIM_DAY + 1; /* tomorrow */
    scene_run(&scene, 2);
    look();
    assert_true(outlook.is_tomorrow && outlook.row_count > 0);

    begin(12 * HOUR, NULL);
    scene.now.clock = CLOCK_UNTRUSTED;
    scene_run(&scene, 2);
    look();
    assert_int_equal(outlook.row_count, 0);
    scene.sim.space.rules.clock_policy = CLOCK_POLICY_CARRY_ON;
    scene_run(&scene, 2);
    look();
    assert_true(outlook.row_count > 0);
}

/* Whoever asks changes nothing. */
static void a_look_changes_nothing(void **state)
{
    (void)state;
    begin(12 * HOUR, &three_prices);
    const struct scene before = scene;
    look();
    const struct outlook first = outlook;
    look();
    assert_memory_equal(&before.state, &scene.state, sizeof scene.state);
    assert_memory_equal(&before.now, &scene.now, sizeof scene.now);
    assert_int_equal(first.row_count, outlook.row_count);
    assert_near(first.cost, outlook.cost, 0);
}

static void every_reason_has_a_name(void **state)
{
    (void)state;
    for (int a = 0; a < OUTLOOK_WHY_COUNT; a++) {
        for (int b = 0; b < a; b++) {
            assert_string_not_equal(outlook_why_name((enum outlook_why)a),
                                    outlook_why_name((enum outlook_why)b));
        }
    }
    assert_string_equal(outlook_why_name(OUTLOOK_WHY_COUNT), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prices_shape_the_day),
        cmocka_unit_test(the_day_comes_true),
        cmocka_unit_test(rows_add_up_to_the_forecast),
        cmocka_unit_test(the_sky_is_expected_in_the_mean),
        cmocka_unit_test(what_the_plan_waits_for),
        cmocka_unit_test(cheap_and_dear_hours_are_named),
        cmocka_unit_test(the_sun_is_waited_for_and_filled_up),
        cmocka_unit_test(the_guard_is_named),
        cmocka_unit_test(a_met_target_ends_the_plan),
        cmocka_unit_test(a_hand_lets_go),
        cmocka_unit_test(out_of_reach),
        cmocka_unit_test(heat_passes),
        cmocka_unit_test(heat_is_expected_where_it_was),
        cmocka_unit_test(a_short_supply_is_named),
        cmocka_unit_test(a_lost_sensor_stays_lost),
        cmocka_unit_test(the_floor_is_named),
        cmocka_unit_test(the_evening_shows_tomorrow),
        cmocka_unit_test(tomorrow_knows_what_is_carried_over),
        cmocka_unit_test(no_light_no_rows),
        cmocka_unit_test(a_look_changes_nothing),
        cmocka_unit_test(every_reason_has_a_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
