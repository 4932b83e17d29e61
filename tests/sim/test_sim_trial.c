/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Days on which somebody moves outputs by hand, at any moment and to any value: every invariant of
 * sim_day.c holds as on any other day.
 */
#include "sim_config.h"
#include "sim_day.h"

#include "prng.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

static struct trial random_trial(struct prng *prng, double value, bool may_break_night)
{
    const int64_t now_ns = rehearsal_view(watch.rehearsal, 0).now->boot_ns;
    return (struct trial){
        .is_active = prng_int(prng, 0, 2) > 0,
        .value = value,
        .until_ns = now_ns + prng_int(prng, 1, 600) * UNITS_NS_PER_S,
        .breaks_night = may_break_night && prng_int(prng, 0, 1),
    };
}

static void try_something(struct prng *prng, bool may_break_night)
{
    const int fixture = (int)prng_int(prng, 0, sim.space.rules.fixture_count - 1);
    const struct trial drive = random_trial(prng, prng_real(prng, 0, 1), may_break_night);
    const struct trial contact = random_trial(prng, (double)prng_int(prng, 0, 1), may_break_night);
    rehearsal_try(watch.rehearsal, 0, fixture, &drive, &contact);
}

static void tried_day(struct prng *prng, bool may_break_night)
{
    const struct rehearsal_options options = {
        .from_day = SIM_DAY, .step_s = 1, .seed = (uint64_t)prng_int(prng, 1, 1000)};
    sim_config_init(&sim, (int)prng_int(prng, 1, 3));
    sim.rules[0].has_switch = prng_int(prng, 0, 4) > 0;
    sim.stages[0].ceiling_umol = prng_real(prng, 250, 500);
    sim_watch_begin(&watch, &sim.config, &options);
    watch.night_may_break = may_break_night;
    const struct bench_fault hot = {10 * 3600, 4 * 3600, BENCH_HEAT_STEP, 0,
                                    prng_real(prng, 0, 40)};
    assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &hot), 0);
    while (watch.day_count < 1) {
        sim_for(&watch, (double)prng_int(prng, 1, 900));
        try_something(prng, may_break_night);
    }
    assert_true(watch.events[EVENT_TRY_DRIVE] > 10);
    assert_true(watch.events[EVENT_TRY_CONTACT] > 10);
    if (!may_break_night) {
        assert_int_equal(watch.events[EVENT_NIGHT_BREAK], 0);
    }
    sim_watch_end(&watch);
}

static void days_with_trials(void **state)
{
    (void)state;
    struct prng prng = prng_start("days_with_trials");
    for (int turn = 0; turn < 12; turn++) {
        tried_day(&prng, false);
    }
}

static void nights_with_the_words(void **state)
{
    (void)state;
    struct prng prng = prng_start("nights_with_the_words");
    int breaks = 0;
    for (int turn = 0; turn < 4; turn++) {
        tried_day(&prng, true);
        breaks += watch.events[EVENT_NIGHT_BREAK];
    }
    assert_true(breaks > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_with_trials),
        cmocka_unit_test(nights_with_the_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
