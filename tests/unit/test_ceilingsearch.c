/* SPDX-License-Identifier: Apache-2.0 */
/* The search for a drive ceiling on simulated lamps, guarded as the daemon guards them. */
#include "ceilingsearch.h"

#include "lamprig.h"
#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define LONGEST_S 20000
#define SEEDS     24

static const struct ceilingsearch_rules usual = {
    .from_drive = 0.80,
    .top_drive = 1,
    .step = 0.01,
    .dwell_s = 12,
    .margin = 0.05,
    .lost_s = 30,
    .rounds = 2,
    .trips_most = 2,
};

static struct ceilingsearch search;

static void go_on(struct lamprig *rig, const struct ceilingsearch_rules *rules)
{
    struct lampwish wish = {0};
    struct lampsight sight;
    const double end_s = rig->now_s + LONGEST_S;
    ceilingsearch_begin(&search, rules, rig->now_s);
    while (rig->now_s < end_s && !search.is_done) {
        lamprig_second(rig, &wish, &sight);
        ceilingsearch_look(&search, &sight, &wish);
    }
    assert_true(search.is_done);
}

static void run(struct lamprig *rig, const struct ceilingsearch_rules *rules)
{
    lamprig_start(rig);
    go_on(rig, rules);
    lamprig_stop(rig);
}

static double ceiling(double *heat_c)
{
    if (search.why[0]) {
        fail_msg("given up: %s", search.why);
    }
    return ceilingsearch_ceiling(&search, heat_c);
}

static void warm_up(struct lamprig *rig)
{
    struct lampsight sight;
    for (int s = 0; s < 3600; s++) {
        lamprig_second(rig, &(struct lampwish){.is_closed = true, .drive = 0.75}, &sight);
    }
}

/* One lamp: below 30 °C it trips above 0.87, and warm above 0.93. */
static void cold_and_warm(void **state)
{
    (void)state;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct lamprig rig;
        double heat_c = 0;
        lamprig_defaults(&rig, (uint64_t)seed);
        rig.setup.room_c = 14;
        rig.setup.room_swing_c = 0;
        rig.setup.fixtures[0].trip_drive = 0.87;
        rig.setup.fixtures[0].trip_cold_c = 30;
        rig.has_meter = seed % 2;
        rig.daylight_umol = seed % 3 ? 0 : 60;
        lamprig_start(&rig);
        go_on(&rig, &usual);
        assert_near(ceiling(&heat_c), 0.82, 0.005);
        assert_int_equal(search.round_count, 2);
        assert_int_equal(rig.trips, 2);
        assert_near(search.rounds[0].trip_drive, 0.875, 0.01);
        assert_near(search.rounds[1].held_drive, 0.87, 0.005);
        assert_true(heat_c > 14 && heat_c < 30);
        ceiling_acknowledge(&rig.ceiling, &rig.rules);
        warm_up(&rig);
        const struct bench_fault warm = {rig.now_s, 1e6, BENCH_TRIP, 0, 0.93};
        assert_int_equal(bench_model_add_fault(rig.model, &warm), 0);
        go_on(&rig, &usual);
        assert_near(ceiling(&heat_c), 0.88, 0.005);
        assert_int_equal(rig.trips, 4);
        assert_true(heat_c > 30);
        lamprig_stop(&rig);
    }
}

static void never_more_trips_than_agreed(void **state)
{
    (void)state;
    for (int most = 1; most <= 3; most++) {
        for (int rounds = 1; rounds <= 5; rounds++) {
            for (int trip = 30; trip <= 99; trip += 3) {
                struct lamprig rig;
                double heat_c;
                struct ceilingsearch_rules rules = usual;
                lamprig_defaults(&rig, (uint64_t)trip);
                rig.setup.fixtures[0].trip_drive = trip / 100.0;
                rules.trips_most = most;
                rules.rounds = rounds;
                run(&rig, &rules);
                assert_true(rig.trips <= most && search.trips == rig.trips);
                const double found = ceiling(&heat_c);
                /* below the range that is searched it is not found, and never a wrong one */
                if (trip >= 80) {
                    assert_near(found, trip / 100.0 - 0.05, 0.01);
                } else {
                    assert_true(isnan(found) || found <= trip / 100.0 - 0.04);
                }
            }
        }
    }
}

static void a_lamp_that_holds_everything(void **state)
{
    (void)state;
    struct lamprig rig;
    double heat_c = 0;
    lamprig_defaults(&rig, 3);
    run(&rig, &usual);
    assert_near(ceiling(&heat_c), 1, 1e-9);
    assert_true(isnan(heat_c));
    assert_int_equal(rig.trips, 0);
    double least_s = 0, most_s = 0;
    ceilingsearch_lengths(&usual, 60, &least_s, &most_s);
    assert_true(rig.now_s > 0.8 * least_s && rig.now_s < most_s);
    /* held back at 0.9 by somebody: no further, and no margin where nothing tripped */
    lamprig_defaults(&rig, 3);
    rig.held_drive = 0.9;
    run(&rig, &usual);
    assert_near(ceiling(&heat_c), 0.9, 0.011);
}

/* The guard of a lamp whose configured curve promises next to nothing sees no trip: the switch is
 * opened all the same. */
static void nobody_calls_it_a_trip(void **state)
{
    (void)state;
    struct lamprig rig;
    double heat_c = 0;
    lamprig_defaults(&rig, 4);
    rig.setup.fixtures[0].trip_drive = 0.87;
    rig.rules.collapse = 1e-9;
    run(&rig, &usual);
    assert_int_equal(rig.trips, 0);
    assert_int_equal(search.trips, 2);
    assert_near(ceiling(&heat_c), 0.82, 0.005);
}

static void give_up_with(enum bench_fault_kind kind, double from_s, const char *words)
{
    struct lamprig rig;
    lamprig_defaults(&rig, 5);
    lamprig_start(&rig);
    const struct bench_fault fault = {from_s, 1e6, kind, 0, 0};
    assert_int_equal(bench_model_add_fault(rig.model, &fault), 0);
    go_on(&rig, &usual);
    lamprig_stop(&rig);
    assert_true(rig.trips <= usual.trips_most);
    if (!strstr(search.why, words)) {
        fail_msg("'%s' is not in '%s'", words, search.why);
    }
}

static void gives_up(void **state)
{
    (void)state;
    give_up_with(BENCH_PPFD_SILENT, 60, "no good light reading for 30 s");
    /* the sensor was covered: no light, and all the power */
    give_up_with(BENCH_PPFD_GAIN, 60, "light and power contradict each other");
    struct lamprig rig;
    double heat_c;
    lamprig_defaults(&rig, 6);
    lamprig_start(&rig);
    const struct bench_fault dead = {0, 1e6, BENCH_DEAD, 0, 0};
    assert_int_equal(bench_model_add_fault(rig.model, &dead), 0);
    go_on(&rig, &usual);
    lamprig_stop(&rig);
    assert_true(isnan(ceilingsearch_ceiling(&search, &heat_c)));
    assert_true(search.trips <= usual.trips_most && rig.trips <= usual.trips_most);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cold_and_warm),
        cmocka_unit_test(never_more_trips_than_agreed),
        cmocka_unit_test(a_lamp_that_holds_everything),
        cmocka_unit_test(nobody_calls_it_a_trip),
        cmocka_unit_test(gives_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
