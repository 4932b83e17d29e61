/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Clocks that step, lie or are not known. Instants of civil clock changes: IANA tz database (New
 * York, Berlin, Lord Howe); a light day runs on a fixed offset, so they must not show at all.
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

#include <cmocka.h>

static struct sim_config sim;
static struct sim_watch watch;

#define HOUR INT64_C(3600)

static void begin(int64_t day)
{
    const struct rehearsal_options options = {.from_day = day, .step_s = 1, .seed = 21};
    sim.space.rules.first_day = day;
    sim_watch_begin(&watch, &sim.config, &options);
}

/* The civil clock changes inside the second of three days: every day has its 16 h, its mol, its two
 * operations. */
static void civil_clock_changes(void **state)
{
    (void)state;
    static const struct {
        const char *where;
        int32_t standard_offset_s;
        int64_t instant_s;
    } changes[] = {
        {"New York, spring", -5 * 3600, 1710054000}, {"New York, autumn", -5 * 3600, 1730613600},
        {"Berlin, spring", 3600, 1711846800},        {"Berlin, autumn", 3600, 1729990800},
        {"Lord Howe, autumn", 37800, 1712415600},    {"Lord Howe, spring", 37800, 1728142200},
    };
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) {
        sim_config_init(&sim, 1);
        sim.space.rules.day.utc_offset_s = changes[i].standard_offset_s;
        const int64_t day = lightday_of(&sim.space.rules.day, changes[i].instant_s);
        begin(day - 1);
        sim_until_day(&watch, 3);
        for (int k = 0; k < 3; k++) {
            const struct day_summary *summary = &watch.days[k].summary;
            assert_int_equal(summary->lights_off_s - summary->lights_on_s, 16 * HOUR);
            assert_near(summary->account.delivered_mol, 13, 0.05);
            assert_int_equal(summary->switch_operations, 2);
        }
        sim_watch_end(&watch);
    }
}

static void step_by(int64_t seconds)
{
    rehearsal_set_clock(watch.rehearsal, rehearsal_wall_s(watch.rehearsal) + seconds,
                        CLOCK_SYNCHRONISED);
    watch.truth_is_partial = true;
}

/* An hour forward, an hour back, in the middle of the light and on both sides of the day's
 * beginning: no day is opened twice, switching keeps its minimum times (the watch checks), the
 * account adds up. */
static void steps_of_an_hour(void **state)
{
    (void)state;
    static const int64_t at_s[] = {3 * HOUR,         6 * HOUR + 30,    12 * HOUR,
                                   21 * HOUR + 1800, 23 * HOUR + 1800, 24 * HOUR + 1200};
    for (size_t i = 0; i < sizeof at_s / sizeof *at_s; i++) {
        for (int sign = -1; sign <= 1; sign += 2) {
            sim_config_init(&sim, 1);
            begin(SIM_DAY);
            sim_for(&watch, (double)at_s[i]);
            step_by(sign * HOUR);
            sim_for(&watch, 10);
            const struct rehearsal_view view = rehearsal_view(watch.rehearsal, 0);
            if (view.verdict->place.is_lit && view.state->light_day == SIM_DAY) {
                assert_true(view.verdict->planned_level > 0);
            }
            sim_until_day(&watch, 3);
            assert_near(watch.days[1].summary.account.delivered_mol, 13, 0.1);
            assert_int_equal(watch.days[2].summary.light_day - watch.days[0].summary.light_day, 2);
            sim_watch_end(&watch);
        }
    }
}

/* To 1970 and back, the clock being untrusted meanwhile: dark by policy, then the same day goes on.
 */
static void back_to_1970(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(SIM_DAY);
    sim_for(&watch, 12 * 3600);
    const int64_t right_s = rehearsal_wall_s(watch.rehearsal);
    rehearsal_set_clock(watch.rehearsal, 100, CLOCK_UNTRUSTED);
    sim_for(&watch, 5);
    assert_false(rehearsal_view(watch.rehearsal, 0).verdict->fixtures[0].closed);
    assert_int_equal(rehearsal_view(watch.rehearsal, 0).verdict->limiter, LIMITER_CLOCK_UNTRUSTED);
    sim_for(&watch, 1795);
    rehearsal_set_clock(watch.rehearsal, right_s + 1800, CLOCK_SYNCHRONISED);
    sim_until_day(&watch, 1);
    assert_int_equal(watch.events[EVENT_CLOCK_UNTRUSTED], 1);
    assert_int_equal(watch.events[EVENT_CLOCK_TRUSTED], 1);
    assert_int_equal(watch.days[0].summary.light_day, SIM_DAY);
    assert_near(watch.days[0].summary.account.delivered_mol, 13, 0.05);
    sim_watch_end(&watch);
}

static void policies_without_a_clock(void **state)
{
    (void)state;
    static const struct {
        enum clock_policy policy;
        bool is_lit;
    } cases[] = {
        {CLOCK_POLICY_DARK, false}, {CLOCK_POLICY_LOW, true}, {CLOCK_POLICY_CARRY_ON, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        sim_config_init(&sim, 1);
        sim.stages[0].protects_night = false;
        sim.space.rules.clock_policy = cases[i].policy;
        begin(SIM_DAY);
        watch.night_may_break = true;
        rehearsal_set_clock(watch.rehearsal, rehearsal_wall_s(watch.rehearsal), CLOCK_UNTRUSTED);
        sim_for(&watch, 3 * 3600); /* 03:00, if the clock could be believed */
        const struct fixture_verdict *fixture =
            &rehearsal_view(watch.rehearsal, 0).verdict->fixtures[0];
        assert_int_equal(fixture->closed, cases[i].is_lit);
        if (cases[i].is_lit) {
            assert_near(fixture->level, dimcurve_min_level(&sim.rules[0].curve), 1e-9);
        }
        sim_watch_end(&watch);
    }
}

/* A clock that was years ahead, believed, and then corrected: the right day is opened anew. */
static void years_ahead(void **state)
{
    (void)state;
    sim_config_init(&sim, 1);
    begin(SIM_DAY);
    sim_for(&watch, 3600);
    step_by(3650 * 24 * HOUR);
    sim_for(&watch, 3600);
    step_by(-3650 * 24 * HOUR);
    sim_for(&watch, 3600);
    assert_int_equal(rehearsal_view(watch.rehearsal, 0).state->light_day, SIM_DAY);
    const int closed_early = watch.day_count;
    sim_until_day(&watch, closed_early + 1);
    assert_near(watch.days[closed_early].summary.account.delivered_mol, 13, 0.05);
    sim_watch_end(&watch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(civil_clock_changes), cmocka_unit_test(steps_of_an_hour),
        cmocka_unit_test(back_to_1970),        cmocka_unit_test(policies_without_a_clock),
        cmocka_unit_test(years_ahead),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
