/* SPDX-License-Identifier: Apache-2.0 */
/* Counters of a space: they grow through the end of a day and never fall. */
#include "tally.h"

#include "near.h"
#include "scene.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct scene scene;
static struct tally tally;

static void run(int seconds)
{
    for (int i = 0; i < seconds; i++) {
        const struct tally_before before = tally_look(&scene.state);
        scene_tick(&scene, 1);
        tally_step(&tally, &before, &scene.state, &scene.verdict, 1);
    }
}

static int begin(void **state)
{
    (void)state;
    tally = (struct tally){0};
    scene_begin(&scene, 1, 21 * 3600); /* an hour before lights-off */
    return 0;
}

static void sums_are_those_of_the_day(void **state)
{
    (void)state;
    run(1800);
    assert_true(scene.state.energy_kwh > 0.01);
    assert_near(tally.energy_j, scene.state.energy_kwh * 3.6e6, 1e-6);
    assert_near(tally.cost, scene.state.cost, 1e-12);
    assert_near(tally.lamp_mol, scene.state.integral.lamp_mol, 1e-12);
    assert_int_equal(tally.fixtures[0].switch_operations, 1);
    double seconds = 0;
    for (int i = 0; i < LIMITER_COUNT; i++) {
        seconds += tally.limiter_s[i];
    }
    assert_near(seconds, 1800, 1e-9);
}

static void the_end_of_a_day_takes_nothing_away(void **state)
{
    (void)state;
    double closed_j = 0;
    double before_j = 0;
    for (int i = 0; i < 4 * 3600; i++) {
        run(1);
        assert_true(tally.energy_j >= before_j);
        before_j = tally.energy_j;
        if (scene.verdict.day_closed) {
            closed_j = scene.verdict.closed.energy_kwh * 3.6e6;
        }
    }
    assert_true(closed_j > 0);
    assert_near(tally.energy_j, closed_j + scene.state.energy_kwh * 3.6e6, 1e-6);
}

/* What an earlier run left in the state is not counted a second time. */
static void it_begins_at_nothing(void **state)
{
    (void)state;
    scene.state.energy_kwh = 7;
    scene.state.fixtures[0].switching.operations_total = 4000;
    run(10);
    assert_true(tally.energy_j < 0.1 * 3.6e6);
    assert_true(tally.fixtures[0].switch_operations <= 1);
}

static void a_cost_below_nothing_is_left_out(void **state)
{
    (void)state;
    run(600);
    const double cost = tally.cost;
    scene.sim.config.site.tariff.price_per_kwh = -0.2;
    run(600);
    assert_true(scene.state.cost < cost);
    assert_true(tally.cost >= cost);
}

static void trips_by_their_events(void **state)
{
    (void)state;
    const enum core_event trips[] = {EVENT_HEAT_TRIP, EVENT_HEAT_BLIND, EVENT_HEAT_LATCHED,
                                     EVENT_DRIVER_TRIP, EVENT_DRIVER_GAVE_UP};
    for (size_t i = 0; i < sizeof trips / sizeof trips[0]; i++) {
        const struct decide_event event = {.kind = trips[i], .fixture = 1};
        tally_event(&tally, &event, JOURNAL_ALARM);
    }
    tally_event(&tally, &(struct decide_event){.kind = EVENT_NIGHT_BREAK, .fixture = -1},
                JOURNAL_ALARM);
    assert_int_equal(tally.fixtures[1].heat_trips, 3);
    assert_int_equal(tally.fixtures[1].driver_trips, 2);
    assert_int_equal(tally.night_breaks, 1);
    assert_int_equal(tally.events[JOURNAL_ALARM], 6);
}

static void a_fixture_keeps_its_counts_in_another_place(void **state)
{
    (void)state;
    static struct sim_config before;
    static struct sim_config after;
    sim_config_init(&before, 2);
    sim_config_init(&after, 2);
    after.space.fixtures[0] = 1;
    after.space.fixtures[1] = 0;
    (void)strcpy(after.fixtures[0].name, "new");
    tally.fixtures[0].heat_trips = 5;
    tally.fixtures[1].heat_trips = 9;
    tally_carry(&tally, &before.config, 0, &after.config, 0);
    assert_int_equal(tally.fixtures[0].heat_trips, 9);
    assert_int_equal(tally.fixtures[1].heat_trips, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(sums_are_those_of_the_day, begin),
        cmocka_unit_test_setup(the_end_of_a_day_takes_nothing_away, begin),
        cmocka_unit_test_setup(it_begins_at_nothing, begin),
        cmocka_unit_test_setup(a_cost_below_nothing_is_left_out, begin),
        cmocka_unit_test_setup(trips_by_their_events, begin),
        cmocka_unit_test_setup(a_fixture_keeps_its_counts_in_another_place, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
