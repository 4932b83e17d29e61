/* SPDX-License-Identifier: Apache-2.0 */
/* What the plan asks for at a moment: one level, or a level by the price of energy. */
#include "scene.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct scene scene;

#define HOUR INT64_C(3600)

static const struct tariff_rule dear_evening[] = {{0x7f, 0xfff, 16 * 3600, 20 * 3600, 0.40}};
static const struct tariff evening = {
    .civil = {.offset_s = 3600}, .price_per_kwh = 0.16, .rule_count = 1, .rules = dear_evening};
static const struct tariff one_price = {.civil = {.offset_s = 3600}, .price_per_kwh = 0.16};

static double level_at(int64_t second, const struct tariff *tariff)
{
    scene_begin(&scene, 1, second);
    scene.sim.space.rules.tariff = tariff;
    scene_run(&scene, 120);
    return scene.verdict.planned_level;
}

static void one_price_is_one_level(void **state)
{
    (void)state;
    for (int64_t second = 7 * HOUR; second < 21 * HOUR; second += HOUR) {
        assert_near(level_at(second, &one_price), level_at(second, NULL), 1e-12);
    }
}

static void a_dear_hour_gets_less(void **state)
{
    (void)state;
    const double morning = level_at(8 * HOUR, &evening);
    assert_true(morning > level_at(8 * HOUR, NULL) + 0.02);
    const double dear = level_at(17 * HOUR, &evening);
    const double without = level_at(17 * HOUR, NULL);
    assert_true(dear > 0);
    assert_true(dear <= without + 1e-9); /* started so late that all of it may be needed */
}

/* Under the sun of an equinox. A morning twice as bright as a clear sky could be leaves nothing to
 * do for the lamp; a black one leaves it all. */
static void the_sky_decides(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 6 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    for (int i = 0; i < 6 * 60; i++) {
        scene_ppfd(&scene, 1500 + 420 * scene.state.fixtures[0].level);
        scene_tick(&scene, 9);
    }
    assert_near(scene.verdict.planned_level, 0, 1e-12);
    assert_int_equal(scene.verdict.fixtures[0].closed, false);
    assert_true(scene.verdict.forecast_mol > 13);

    scene_begin(&scene, 1, 6 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    for (int i = 0; i < 8 * 360; i++) {
        scene_ppfd(&scene, 420 * scene.state.fixtures[0].level);
        scene_tick(&scene, 9);
    }
    assert_true(scene.verdict.planned_level > 0.3);
    assert_near(scene.state.clearness.daylight_mol, 0, 0.01);
    assert_true(scene.state.clearness.clear_mol > 5);
}

/* The day is over: what it taught is kept, and a restart within a day makes it teach nothing. */
static void a_day_teaches(void **state)
{
    (void)state;
    for (int restarts = 0; restarts < 2; restarts++) {
        scene_begin(&scene, 1, 1);
        scene.sim.space.rules.sees_daylight = true;
        scene_ppfd(&scene, 200);
        for (int i = 0; i < 9800; i++) {
            scene_ppfd(&scene, 200 + 420 * scene.state.fixtures[0].level);
            scene_tick(&scene, 9);
            if (restarts == 1 && i == 4000) {
                space_resume(&scene.state, &scene.sim.space.rules);
            }
        }
        assert_int_equal(scene.state.learned.day_count, 1 - restarts);
    }
}

/* Started at 16:00, under the sun of an equinox: the sun of the morning is over, whatever it was.
 */
static void a_morning_that_is_over_is_not_waited_for(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 16 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    scene_ppfd(&scene, 0);
    scene_run(&scene, 2);
    const struct clearness *today = &scene.state.clearness;
    assert_true(today->is_broken);
    assert_near(today->clear_mol, 0.943 * today->clear_day_mol, 0.005 * today->clear_day_mol);
    assert_true(scene.state.plan.daylight_mol < 1.5);
    scene_begin(&scene, 1, 0);
    scene.sim.space.rules.sees_daylight = true;
    scene_run(&scene, 2);
    assert_false(today->is_broken);
    assert_near(today->clear_mol, 0, 1e-9);
}

/* From six to nine next to nothing came of a sun that was clear yesterday. The lamp has
 * 12.75 h left, a little more than its target needs. */
static bool is_guarded_after(double morning_umol)
{
    scene_begin(&scene, 1, 6 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].target_mol = 1;
    scene.state.learned.yesterday = 1;
    learned_push_day(&scene.state.learned, 1);
    for (int i = 0; i < 180 * 6; i++) {
        scene_ppfd(&scene, morning_umol + 420 * scene.state.fixtures[0].level);
        scene_tick(&scene, 10);
    }
    const double delivered_mol = scene.state.account.delivered_mol;
    scene.sim.stages[0].target_mol = delivered_mol + 0.99 * 400 * 12.75 * 0.0036;
    scene_tick(&scene, 10);
    return scene.state.plan.by_guard;
}

static void a_dark_morning_is_believed(void **state)
{
    (void)state;
    assert_true(is_guarded_after(0));
    assert_false(is_guarded_after(150));
}

/* A sun that nobody sees is not waited for: the lamps burn at the fixed level of the stage. */
static void a_blind_sensor_waits_for_no_sun(void **state)
{
    (void)state;
    for (int blind = 0; blind < 2; blind++) {
        scene_begin(&scene, 1, 6 * HOUR);
        scene.sim.space.rules.sees_daylight = true;
        for (int i = 0; i < 6 * 60; i++) {
            scene_ppfd(&scene, 700 + 420 * scene.state.fixtures[0].level);
            scene_tick(&scene, 9);
        }
        assert_near(scene.verdict.planned_level, 0, 1e-12);
        if (blind == 1) {
            scene_ppfd(&scene, (double)NAN);
            scene.now.ppfd.quality = READING_LOST;
        }
        for (int i = 0; i < 200; i++) {
            scene_tick(&scene, 9);
        }
        assert_int_equal(scene.state.sensor_is_lost, blind == 1);
        assert_int_equal(scene.verdict.level > 0.2, blind == 1);
    }
}

/* Prices that jump every ten minutes, under a grey sky: the contact follows every second jump at
 * most. */
static void trembling_prices_wear_no_contact(void **state)
{
    (void)state;
    static struct tariff_price series[144];
    scene_begin(&scene, 1, 6 * HOUR);
    for (int i = 0; i < 144; i++) {
        series[i] = (struct tariff_price){scene.now.wall_s + i * 600, i % 2 == 0 ? 0.05 : 0.45};
    }
    const struct tariff zigzag = {.price_per_kwh = 0.2,
                                  .series_count = 144,
                                  .series = series,
                                  .series_end_s = scene.now.wall_s + 86400};
    scene.sim.space.rules.tariff = &zigzag;
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].target_mol = 8;
    int turns = 0;
    bool was_closed = false;
    for (int i = 0; i < 17 * 400; i++) {
        scene_ppfd(&scene, 60 + 420 * scene.state.fixtures[0].level);
        scene_tick(&scene, 9);
        turns += scene.verdict.fixtures[0].closed != was_closed;
        was_closed = scene.verdict.fixtures[0].closed;
    }
    print_message("%d turns in the day\n", turns);
    assert_in_range(turns, 2, 40);
    assert_true(scene.state.account.delivered_mol >= 0.99 * 8);
}

/* … and none of its runs and rests is shorter than the stage says, whatever that is. */
static void runs_and_rests_last(void **state)
{
    (void)state;
    static struct tariff_price series[144];
    static const double least_s[][2] = {{3600, 1800}, {1800, 5400}, {0, 0}};
    int turns[3] = {0};
    for (int c = 0; c < 3; c++) {
        scene_begin(&scene, 1, 6 * HOUR);
        for (int i = 0; i < 144; i++) {
            series[i] = (struct tariff_price){scene.now.wall_s + i * 600, i % 2 ? 0.45 : 0.05};
        }
        const struct tariff zigzag = {.price_per_kwh = 0.2,
                                      .series_count = 144,
                                      .series = series,
                                      .series_end_s = scene.now.wall_s + 86400};
        scene.sim.space.rules.tariff = &zigzag;
        scene.sim.space.rules.sees_daylight = true;
        scene.sim.stages[0].target_mol = 8;
        scene.sim.stages[0].shortest_run_s = least_s[c][0];
        scene.sim.stages[0].shortest_rest_s = least_s[c][1];
        double since_s = (double)INFINITY;
        bool was_closed = false;
        int held = 0;
        for (int i = 0; i < 17 * 400; i++) {
            scene_ppfd(&scene, 60 + 420 * scene.state.fixtures[0].level);
            scene_tick(&scene, 9);
            since_s += 9;
            const bool closed = scene.verdict.fixtures[0].closed;
            held += scene.verdict.chain.plan == CHAIN_PLAN_HELD;
            if (closed != was_closed) {
                /* it opens a tick after the plan's word */
                assert_true(scene.state.account.delivered_mol >= 8 || scene.state.plan.by_guard ||
                            since_s >= least_s[c][was_closed ? 0 : 1] - 9);
                since_s = 0;
                was_closed = closed;
                turns[c]++;
            }
        }
        assert_true(scene.state.account.delivered_mol >= 0.98 * 8);
        assert_true(c == 2 ? held == 0 : held > 0); /* and the chain says so */
    }
    assert_true(turns[0] < turns[2] && turns[1] < turns[2]);
}

/* A quarter of an hour before the night, and 0.05 mol are missing: not worth a start, unless a run
 * may be so short. 1 mol is. */
static void no_start_for_less_than_a_run(void **state)
{
    (void)state;
    static const struct {
        double run_s, lack_mol;
        bool starts;
    } cases[] = {{1200, 0.05, false}, {0, 0.05, true}, {600, 0.05, true}, {1200, 1, true}};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        scene_begin(&scene, 1, 6 * HOUR);
        scene.sim.space.rules.sees_daylight = true;
        scene.sim.stages[0].shortest_run_s = cases[c].run_s;
        scene_ppfd(&scene, 0);
        scene_tick(&scene, 1);
        scene.state.integral.daylight_mol = 13 * 1.002 - cases[c].lack_mol;
        scene.state.clearness.clear_mol = scene.state.clearness.clear_day_mol;
        scene.now.wall_s += 15 * HOUR + 45 * 60;
        scene.state.fixtures[0].switching.since_change_s = 3600;
        for (int i = 0; i < 60; i++) {
            scene_ppfd(&scene, 420 * scene.state.fixtures[0].level);
            scene_tick(&scene, 1);
        }
        assert_int_equal(scene.verdict.fixtures[0].closed, cases[c].starts);
    }
}

/* The level under a price of light of so much of the one that lights the lamp. */
static double level_at_price(double share)
{
    const struct lampcurve *lamp = &scene.sim.space.rules.lamp;
    const double lighting = lampcurve_threshold_w(lamp, 400.0 / 420) / (3.6 * 420);
    for (int i = 0; i < 130; i++) { /* down from full, and a rest */
        scene.state.plan.price = (struct plan_price){share * lighting, 1};
        scene.state.plan.planned_ns = scene.now.boot_ns; /* it stands */
        scene.state.plan.planned_wall_s = scene.now.wall_s;
        scene_tick(&scene, 1);
    }
    return scene.verdict.planned_level;
}

/* The price at which a lit lamp goes dark lies below the one at which it was lit. */
static void a_lit_lamp_stays_lit_a_little_longer(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 8 * HOUR);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.space.rules.tariff = NULL; /* energy costs 1 */
    scene.sim.stages[0].target_mol = 4;
    scene.sim.stages[0].shortest_run_s = scene.sim.stages[0].shortest_rest_s = 0;
    scene_tick(&scene, 1);
    assert_near(level_at_price(0.5), 0, 0);
    assert_near(level_at_price(0.995), 0, 0);
    assert_true(level_at_price(1.01) > 0);
    assert_true(scene.state.is_lit);
    assert_true(level_at_price(0.995) > 0);
    assert_near(level_at_price(0.97), 0, 0);
    assert_false(scene.state.is_lit);
}

/* A plan stands for minutes, unless the target, the clock or the lamp moves. */
static void planned_again_when_something_moves(void **state)
{
    (void)state;
    (void)level_at(8 * HOUR, &evening);
    scene_tick(&scene, 1);
    const int64_t first_ns = scene.state.plan.planned_ns;
    assert_true(first_ns != 0);
    scene_run(&scene, 100);
    assert_int_equal(scene.state.plan.planned_ns, first_ns);
    scene_run(&scene, 300);
    assert_true(scene.state.plan.planned_ns > first_ns);

    int64_t before_ns = scene.state.plan.planned_ns;
    scene.now.wall_s += 3 * HOUR;
    scene_tick(&scene, 1);
    assert_true(scene.state.plan.planned_ns > before_ns);

    before_ns = scene.state.plan.planned_ns;
    scene.sim.stages[0].target_mol = 14;
    scene_tick(&scene, 1);
    assert_true(scene.state.plan.planned_ns > before_ns);

    before_ns = scene.state.plan.planned_ns;
    const double cap_before = scene.state.plan.cap;
    scene_heat(&scene, 0, 70);
    scene_run(&scene, 60);
    assert_true(scene.state.plan.planned_ns > before_ns);
    assert_true(scene.state.plan.cap < cap_before - 0.05);

    space_resume(&scene.state, &scene.sim.space.rules);
    assert_int_equal(scene.state.plan.planned_ns, 0);
}

/* More than there is, and less than nothing: prices change neither. */
static void need_comes_before_price(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 17 * HOUR);
    scene.sim.space.rules.tariff = &evening;
    scene.sim.stages[0].target_mol = 30;
    scene_run(&scene, 300);
    assert_near(scene.verdict.planned_level, 400.0 / 420, 1e-9); /* the ceiling */
    assert_int_equal(scene.verdict.limiter == LIMITER_PLAN, 0);
    scene.sim.stages[0].target_mol = 0.01;
    scene_run(&scene, 30);
    assert_near(scene.verdict.planned_level, 0, 1e-12);
}

/* A window over midnight, where the light day begins: after its morning comes its evening, which
 * has no sun under which the ceiling would leave the lamp no room. */
static void the_evening_is_dark(void **state)
{
    (void)state;
    scene_begin(&scene, 1, HOUR);
    scene.sim.space.rules.sees_daylight = true;
    scene.sim.stages[0].window = (struct lightday_window){18 * 3600, 14 * 3600};
    scene.sim.stages[0].target_mol = 20;
    scene_ppfd(&scene, 0);
    scene_tick(&scene, 1);
    scene_tick(&scene, 1);
    assert_near(scene.verdict.planned_level, 0, 1e-12); /* time enough in the evening */
}

/* Two lamps that only switch give all or nothing together; one of them too hot, the other burns. */
static void what_heat_leaves_burns(void **state)
{
    (void)state;
    const double full = 1;
    const double watts = 600;
    for (int under_sun = 0; under_sun < 2; under_sun++) {
        scene_begin(&scene, 2, 17 * HOUR);
        scene.sim.space.rules.sees_daylight = under_sun == 1;
        scene.sim.space.rules.tariff = &evening;
        lampcurve_of(&scene.sim.space.rules.lamp, &full, &watts, 1, 0);
        scene.sim.stages[0].ceiling_umol = 2000;
        scene_heat(&scene, 0, 120);
        scene_ppfd(&scene, 0);
        scene_run(&scene, 120);
        assert_false(scene.verdict.fixtures[0].closed);
        assert_true(scene.verdict.planned_level > 0.5);
        assert_true(scene.verdict.fixtures[1].closed);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_price_is_one_level),
        cmocka_unit_test(a_dear_hour_gets_less),
        cmocka_unit_test(the_sky_decides),
        cmocka_unit_test(a_day_teaches),
        cmocka_unit_test(a_morning_that_is_over_is_not_waited_for),
        cmocka_unit_test(a_dark_morning_is_believed),
        cmocka_unit_test(a_blind_sensor_waits_for_no_sun),
        cmocka_unit_test(trembling_prices_wear_no_contact),
        cmocka_unit_test(runs_and_rests_last),
        cmocka_unit_test(no_start_for_less_than_a_run),
        cmocka_unit_test(a_lit_lamp_stays_lit_a_little_longer),
        cmocka_unit_test(planned_again_when_something_moves),
        cmocka_unit_test(need_comes_before_price),
        cmocka_unit_test(the_evening_is_dark),
        cmocka_unit_test(what_heat_leaves_burns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
