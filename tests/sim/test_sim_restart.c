/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Killed and started again in the middle of days: the same mol, the same plan, no flash of light.
 */
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
#include <stdlib.h>

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

static void begin(uint64_t seed)
{
    const struct rehearsal_options options = {.from_day = SIM_DAY, .step_s = 1, .seed = seed};
    sim_watch_begin(&watch, &sim.config, &options);
}

/* Twenty kills at random moments of three days, each with 1–20 s of absence. */
static void twenty_kills(void **state)
{
    (void)state;
    const unsigned seed = 4711;
    print_message("seed %u\n", seed);
    srand(seed);
    sim_config_init(&sim, 2);
    begin(31);
    double next = 0;
    for (int kill = 0; kill < 20; kill++) {
        next += 3600 + rand() % 18000;
        sim_for(&watch, next - watch.seconds);
        const double before =
            integral_delivered_mol(&rehearsal_view(watch.rehearsal, 0).state->integral);
        sim_restart(&watch, 1 + rand() % 20);
        sim_tick(&watch);
        const struct rehearsal_view view = rehearsal_view(watch.rehearsal, 0);
        if (!view.verdict->day_closed) {
            assert_near(integral_delivered_mol(&view.state->integral), before, 0.001);
        }
        next = watch.seconds;
    }
    sim_until_day(&watch, watch.day_count + 1);
    for (int i = 0; i < watch.day_count; i++) {
        assert_near(watch.days[i].summary.account.delivered_mol, 13, 0.06);
    }
    sim_watch_end(&watch);
}

/* Three hours away at midday. What cannot be made up is charged to not running. */
static void a_long_absence(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.stages[0].target_mol = 20;
    begin(32);
    sim_for(&watch, 12 * 3600);
    sim_restart(&watch, 3 * 3600);
    sim_until_day(&watch, 1);
    const struct day_summary *day = &watch.days[0].summary;
    const double missing = account_missing_mol(&day->account);
    assert_int_equal(watch.events[EVENT_GAP], 1);
    assert_true(missing > 0.5);
    assert_near(day->account.missing_mol[LIMITER_NOT_RUNNING], missing, 0.1 * missing);
    assert_near(day->integral.lost_s, 3 * 3600 - 300, 2);
    sim_watch_end(&watch);
}

/* First start in the middle of a day: the past hours are nobody's but not running's. */
static void first_start_at_noon(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    sim.stages[0].target_mol = 20;
    begin(33);
    rehearsal_set_clock(watch.rehearsal, rehearsal_wall_s(watch.rehearsal) + 14 * 3600,
                        CLOCK_SYNCHRONISED);
    sim_until_day(&watch, 1);
    const struct day_summary *day = &watch.days[0].summary;
    assert_true(day->account.missing_mol[LIMITER_NOT_RUNNING] > 5);
    assert_near(day->account.missing_mol[LIMITER_NOT_RUNNING], account_missing_mol(&day->account),
                0.3);
    sim_watch_end(&watch);
}

/* Down over the beginning of a new light day: the old one closes, the new one opens. */
static void down_over_the_day_change(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(34);
    sim_for(&watch, 21 * 3600);
    sim_restart(&watch, 10 * 3600);
    sim_tick(&watch);
    assert_int_equal(watch.day_count, 1);
    sim_until_day(&watch, 2);
    assert_near(watch.days[1].summary.account.delivered_mol, 13, 0.05);
    sim_watch_end(&watch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(twenty_kills),
        cmocka_unit_test(a_long_absence),
        cmocka_unit_test(first_start_at_noon),
        cmocka_unit_test(down_over_the_day_change),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
