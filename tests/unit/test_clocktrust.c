/* SPDX-License-Identifier: Apache-2.0 */
/* Boards without a battery clock start at 1970, at the last saved time, or at a build's time; time
 * servers have been seen to say the year 2160: cases reported for other programs, the dates are
 * ours. */
#include "clocktrust.h"

#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const int64_t build_s = 1790000000;
static const int64_t day_s = 86400;
static const int64_t ns = 1000000000;

struct look {
    const char *what;
    bool holds_over;
    int64_t latest_s, wall_s;
    enum clock_sync sync;
    enum clock_trust want;
};

static void first_looks(void **state)
{
    (void)state;
    const int64_t later = build_s + 100 * day_s;
    const struct look looks[] = {
        {"1970", true, 0, 0, CLOCK_SYNC_NO, CLOCK_UNTRUSTED},
        {"1970 although synchronised", true, 0, 5, CLOCK_SYNC_YES, CLOCK_UNTRUSTED},
        {"before 1970", true, 0, -5, CLOCK_SYNC_YES, CLOCK_UNTRUSTED},
        {"2160 although synchronised", true, 0, 6000000000, CLOCK_SYNC_YES, CLOCK_UNTRUSTED},
        {"synchronised", false, 0, later, CLOCK_SYNC_YES, CLOCK_SYNCHRONISED},
        {"synchronised behind the journal", false, later + day_s, later, CLOCK_SYNC_YES,
         CLOCK_SYNCHRONISED},
        {"not synchronised", false, 0, later, CLOCK_SYNC_NO, CLOCK_UNTRUSTED},
        {"cannot be asked", false, 0, later, CLOCK_SYNC_UNKNOWN, CLOCK_UNTRUSTED},
        {"held over, empty journal", true, 0, later, CLOCK_SYNC_NO, CLOCK_HELD_OVER},
        {"held over, later", true, later - 1, later, CLOCK_SYNC_UNKNOWN, CLOCK_HELD_OVER},
        {"a year later", true, later - 365 * day_s, later, CLOCK_SYNC_NO, CLOCK_HELD_OVER},
        {"more than a year later", true, later - 365 * day_s - 1, later, CLOCK_SYNC_NO,
         CLOCK_UNTRUSTED},
        {"ten years later", true, later, later + 3650 * day_s, CLOCK_SYNC_NO, CLOCK_UNTRUSTED},
        {"ten years later, vouched for", true, later, later + 3650 * day_s, CLOCK_SYNC_YES,
         CLOCK_SYNCHRONISED},
        {"earlier than the journal", true, later + 1, later, CLOCK_SYNC_NO, CLOCK_UNTRUSTED},
    };
    for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++) {
        const struct look *look = &looks[i];
        const struct clocktrust_rules rules = {build_s, look->latest_s, look->holds_over};
        struct clocktrust trust;
        clocktrust_init(&trust, false, 0);
        struct clocktrust_change change =
            clocktrust_step(&rules, &trust, 20 * ns, look->wall_s * ns, look->sync);
        if (trust.trust != look->want) {
            print_error("%s: %s (%s)\n", look->what, clocktrust_name(trust.trust), trust.reason);
        }
        assert_int_equal(trust.trust, look->want);
        assert_false(change.stepped);
        assert_int_equal(change.trust_changed, look->want != CLOCK_UNTRUSTED);
        assert_non_null(trust.reason);
    }
}

static void says_that_the_journal_is_ahead(void **state)
{
    (void)state;
    const int64_t wall_s = build_s + day_s;
    struct clocktrust trust;
    clocktrust_init(&trust, false, 0);
    struct clocktrust_rules rules = {build_s, wall_s + 3500, false};
    (void)clocktrust_step(&rules, &trust, ns, wall_s * ns, CLOCK_SYNC_YES);
    assert_false(trust.is_behind_journal); /* within the hour: a slow clock put right */
    rules.latest_s = wall_s + 3700;
    (void)clocktrust_step(&rules, &trust, 2 * ns, (wall_s + 1) * ns, CLOCK_SYNC_YES);
    assert_true(trust.is_behind_journal);
}

static void steps_are_noticed(void **state)
{
    (void)state;
    const struct clocktrust_rules rules = {build_s, 0, false};
    const int64_t wall_s = build_s + day_s;
    struct clocktrust trust;
    struct clocktrust_change change;
    clocktrust_init(&trust, false, 0);
    (void)clocktrust_step(&rules, &trust, 10 * ns, wall_s * ns, CLOCK_SYNC_YES);
    change = clocktrust_step(&rules, &trust, 11 * ns, (wall_s + 2) * ns, CLOCK_SYNC_YES);
    assert_false(change.stepped); /* one second off: slewing and jitter */
    change = clocktrust_step(&rules, &trust, 12 * ns, (wall_s + 3603) * ns, CLOCK_SYNC_YES);
    assert_true(change.stepped);
    assert_true(change.from_s == wall_s + 3 && change.to_s == wall_s + 3603);
    change = clocktrust_step(&rules, &trust, 13 * ns, (wall_s + 4) * ns, CLOCK_SYNC_YES);
    assert_true(change.stepped);
    /* An hour without a tick is no step: boot time went on as well. */
    change = clocktrust_step(&rules, &trust, 3613 * ns, (wall_s + 3604) * ns, CLOCK_SYNC_YES);
    assert_false(change.stepped);
}

/* The network goes away: the clock stays good for as long as nobody sets it. */
static void synchronisation_is_remembered(void **state)
{
    (void)state;
    const struct clocktrust_rules rules = {build_s, 0, false};
    const int64_t wall_s = build_s + day_s;
    struct clocktrust trust;
    clocktrust_init(&trust, false, 0);
    (void)clocktrust_step(&rules, &trust, 10 * ns, wall_s * ns, CLOCK_SYNC_YES);
    for (int64_t i = 1; i < 100000; i++) { /* a quartz that drifts by 50 ppm, 5 s in all */
        (void)clocktrust_step(&rules, &trust, (10 + i) * ns, (wall_s + i) * ns + i * 50000,
                              CLOCK_SYNC_NO);
        assert_int_equal(trust.trust, CLOCK_HELD_OVER);
    }
    (void)clocktrust_step(&rules, &trust, 100010 * ns, (wall_s + 200000) * ns, CLOCK_SYNC_NO);
    assert_int_equal(trust.trust, CLOCK_UNTRUSTED);
    (void)clocktrust_step(&rules, &trust, 100011 * ns, (wall_s + 100001) * ns, CLOCK_SYNC_YES);
    assert_int_equal(trust.trust, CLOCK_SYNCHRONISED);
}

/* A program that runs for years without a network has seen its own entries pass. */
static void years_of_running_are_believed(void **state)
{
    (void)state;
    const int64_t wall_s = build_s + day_s;
    const struct clocktrust_rules rules = {build_s, wall_s, true};
    struct clocktrust trust;
    clocktrust_init(&trust, false, 0);
    for (int64_t day = 0; day < 800; day++) {
        (void)clocktrust_step(&rules, &trust, (10 + day * day_s) * ns, (wall_s + day * day_s) * ns,
                              CLOCK_SYNC_NO);
        assert_int_equal(trust.trust, CLOCK_HELD_OVER);
    }
    (void)clocktrust_step(&rules, &trust, (10 + 800 * day_s) * ns,
                          (wall_s + (800 + 3650) * day_s) * ns, CLOCK_SYNC_NO);
    assert_int_equal(trust.trust, CLOCK_UNTRUSTED); /* set by hand to ten years later */
}

static void a_restart_in_the_same_boot_remembers(void **state)
{
    (void)state;
    const struct clocktrust_rules rules = {build_s, 0, false};
    const int64_t wall_s = build_s + day_s;
    struct clocktrust trust;
    clocktrust_init(&trust, true, (wall_s - 10) * ns);
    (void)clocktrust_step(&rules, &trust, 10 * ns, wall_s * ns, CLOCK_SYNC_NO);
    assert_int_equal(trust.trust, CLOCK_HELD_OVER);
    clocktrust_init(&trust, true, (wall_s - 10) * ns);
    (void)clocktrust_step(&rules, &trust, 10 * ns, (wall_s + 60) * ns, CLOCK_SYNC_NO);
    assert_int_equal(trust.trust, CLOCK_UNTRUSTED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(first_looks),
        cmocka_unit_test(says_that_the_journal_is_ahead),
        cmocka_unit_test(steps_are_noticed),
        cmocka_unit_test(synchronisation_is_remembered),
        cmocka_unit_test(years_of_running_are_believed),
        cmocka_unit_test(a_restart_in_the_same_boot_remembers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
