/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A year of one space under the invariants, with daylight, stages that follow one another, heat in
 * summer and a fault now and then. Ten-second ticks: the rules are the same, the year is ten times
 * shorter.
 */
#include "invented_sun.h"
#include "sim_config.h"
#include "sim_day.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

static void add_faults(int days)
{
    static const enum bench_fault_kind kinds[] = {BENCH_PPFD_SILENT, BENCH_HEAT_STEP,
                                                  BENCH_BUS_DOWN, BENCH_HEAT_SILENT, BENCH_TRIP};
    static const double values[] = {0, 20, 0, 0, 0.85};
    for (int day = 5; day < days; day += 9) {
        const size_t k = (size_t)(day / 9) % (sizeof kinds / sizeof *kinds);
        const struct bench_fault fault = {day * 86400.0 + (day * 7919) % 86400, 1800, kinds[k], 0,
                                          values[k]};
        assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &fault), 0);
    }
}

static void begin(double step_s, struct daylight *sun)
{
    const struct rehearsal_options options = {
        .from_day = SIM_DAY, .step_s = step_s, .seed = 365, .daylight = sun};
    sim_watch_begin(&watch, &sim.config, &options);
}

static void indoors(void **state)
{
    (void)state;
    sim_config_init(&sim, 2);
    sim.stages[1] = sim.stages[0];
    sim.stages[0].days = 30;
    sim.stages[1].target_mol = 17;
    sim.space.rules.stage_count = 2;
    begin(10, NULL);
    sim_until_day(&watch, 365);
    double least = 99;
    for (int i = 0; i < 365; i++) {
        const struct day_summary *day = &watch.days[i].summary;
        const double target = day->account.target_mol;
        assert_true(day->is_feasible);
        assert_int_equal(day->switch_operations, 4);
        assert_true(day->account.delivered_mol >= 0.98 * target);
        assert_true(day->account.surplus_mol < 0.02 * target);
        assert_true(day->night_breaks == 0);
        assert_true(day->lamp_cost < 1.01 * day->bound_cost && day->bound_cost > 0);
        least = fmin(least, day->account.delivered_mol / target);
    }
    print_message("365 days, least delivered %.4f of the target\n", least);
    assert_int_equal(watch.events[EVENT_STAGE_BEGINS], 2);
    sim_watch_end(&watch);
}

static void under_the_sun_with_faults(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.space.rules.sees_daylight = true;
    sim.stages[0].ceiling_umol = 900;
    struct daylight *sun = invented_sun((SIM_DAY - 1) * UNITS_S_PER_DAY, 368);
    begin(10, sun);
    watch.light_may_lie = true;   /* while the sensor is silent the sun is guessed */
    watch.night_may_break = true; /* while the bus is down nobody can open the contact */
    add_faults(365);
    sim_until_day(&watch, 365);
    int short_days = 0;
    int unexplained = 0;
    int compared = 0;
    for (int i = 0; i < 365; i++) {
        const struct account *account = &watch.days[i].summary.account;
        short_days += account->delivered_mol < 0.98 * account->target_mol;
        compared += units_known(watch.days[i].summary.bound_cost);
        unexplained += watch.days[i].truth_mol < 0.96 * account->target_mol &&
                       account->delivered_mol >= 0.98 * account->target_mol;
    }
    print_message("365 days with faults, %d short, %d short in truth only\n", short_days,
                  unexplained);
    assert_true(short_days == 0);
    assert_true(compared > 350); /* the others had no light sensor for more than an hour */
    assert_true(unexplained <= 2);
    daylight_free(sun);
    sim_watch_end(&watch);
}

/* A tick a minute gives the mol and the energy of a tick a second, hot afternoons included. */
static void coarse_ticks(void **state)
{
    (void)state;
    static struct day_summary fine[3];
    static const struct bench_fault warm = {30 * 3600, 12 * 3600, BENCH_HEAT_STEP, 0, 25};
    for (int coarse = 0; coarse < 2; coarse++) {
        sim_config_init(&sim, 2);
        begin(coarse ? 60 : 1, NULL);
        assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &warm), 0);
        sim_until_day(&watch, 3);
        for (int i = 0; i < 3; i++) {
            const struct day_summary *day = &watch.days[i].summary;
            const double mol = fine[i].account.delivered_mol;
            if (coarse) {
                assert_near(day->account.delivered_mol, mol, 2e-3 * mol);
                assert_near(day->energy_kwh, fine[i].energy_kwh, 5e-3 * fine[i].energy_kwh);
                assert_int_equal(day->switch_operations, fine[i].switch_operations);
                assert_int_equal(day->night_breaks, 0);
            }
            fine[i] = *day;
        }
        assert_int_equal(watch.events[EVENT_GAP], 0);
        sim_watch_end(&watch);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coarse_ticks),
        cmocka_unit_test(indoors),
        cmocka_unit_test(under_the_sun_with_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
