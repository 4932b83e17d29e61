/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One PWM channel against a model of the kernel's rules (tmpsysfs.h names the source). Every change
 * that the model takes is seen by a watch, as a scope on the pin would see it.
 */
#include "err.h"
#include "near.h"
#include "prng.h"
#include "pwm_channel.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static char chip_path[128], channel_path[160];
static struct err err;

/* Highest share of high while enabled, and how often the channel was found disabled. */
static struct {
    double high;
    int disabled;
} scope;

static double pin_share(const struct tmpsysfs_pwm *state)
{
    double share = (double)state->duty / (double)state->period;
    return state->is_inversed ? 1 - share : share;
}

static void watch(const char *path, const struct tmpsysfs_pwm *state)
{
    (void)path;
    if (state->is_enabled) {
        scope.high = fmax(scope.high, pin_share(state));
    } else {
        scope.disabled++;
    }
}

static void arm_scope(void)
{
    scope.high = -1;
    scope.disabled = 0;
    tmpsysfs_on_change(watch);
}

static int setup(void **state)
{
    (void)state;
    (void)snprintf(chip_path, sizeof chip_path, "%s/class/pwm/pwmchip0", tmpsysfs_init());
    (void)snprintf(channel_path, sizeof channel_path, "%s/pwm1", chip_path);
    tmpsysfs_pwm_chip(0, "platform/soc/fe20c000.pwm", 2);
    memset(&err, 0, sizeof err);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_finish();
    return 0;
}

/* Channel 1, opened. */
static struct pwm_channel open_channel(int64_t period_ns, bool inverted)
{
    struct pwm_channel channel = {.number = 1, .period_ns = period_ns, .is_inverted = inverted};
    assert_int_equal(pwm_channel_open(&channel, chip_path, &err), 0);
    return channel;
}

/* The channel as a stranger left it. */
static void leave(const struct tmpsysfs_pwm *state)
{
    tmpsysfs_pwm_leave("class/pwm/pwmchip0/pwm1", state);
}

/* Whatever was there before: the drive that was asked for, enabled, without disabling the channel
 * on the way and without more high than before or after. */
static void drives_from_every_state(void **state)
{
    (void)state;
    static const struct tmpsysfs_pwm before[] = {
        {0, 0, false, false},
        {1000000, 0, false, true},
        {1000000, 800000, false, false},
        {1000000, 800000, true, false},
        {500000, 400000, true, false},
        {9000000, 8000000, true, false},
        {9000000, 8000000, true, true},
        {9000000, 500000, true, false},
        {500000, 100000, true, true},
        {1000000, 0, true, true},
    };
    static const double drives[] = {0, 0.1, 0.3, 1};
    for (size_t i = 0; i < sizeof before / sizeof before[0] * 24; i++) {
        const struct tmpsysfs_pwm *old = &before[i / 24];
        bool inverted = i & 1;
        bool no_polarity = i / 8 % 3 > 0;
        double drive = drives[i / 2 % 4];
        if (old->is_inversed && no_polarity) {
            continue;
        }
        leave(old);
        tmpsysfs_fault(TMPSYSFS_NO_POLARITY, i / 8 % 3 == 1);
        tmpsysfs_fault(TMPSYSFS_LATE_POLARITY, i / 8 % 3 == 2);
        struct pwm_channel channel = open_channel(1000000, inverted);
        arm_scope();
        double seen = -1;
        assert_int_equal(pwm_channel_drive(&channel, drive, &seen, &err), 0);
        assert_near(seen, drive, 1e-9);
        struct tmpsysfs_pwm now = tmpsysfs_pwm_state(channel_path);
        assert_true(now.is_enabled && now.period == 1000000);
        assert_near(pin_share(&now), inverted ? 1 - drive : drive, 1e-9);
        assert_true(!old->is_enabled || scope.disabled == 0);
        if (!old->is_inversed) {
            double was = old->is_enabled ? pin_share(old) : 0;
            assert_true(scope.high <= fmax(was, pin_share(&now)));
        }
        pwm_channel_close(&channel);
    }
}

/* Any period and duty, changed by strangers in between: the model refuses no step. */
static void random_changes_keep_to_the_rules(void **state)
{
    (void)state;
    struct prng prng = prng_start("changes");
    for (int n = 0; n < 200; n++) {
        int64_t period_ns = llround(1e9 / pow(10, prng_real(&prng, 1, 5)));
        int64_t polarity = prng_int(&prng, 0, 2);
        leave(&(struct tmpsysfs_pwm){0}); /* another chip */
        tmpsysfs_fault(TMPSYSFS_NO_POLARITY, polarity == 1);
        tmpsysfs_fault(TMPSYSFS_LATE_POLARITY, polarity == 2);
        struct pwm_channel channel = open_channel(period_ns, prng_int(&prng, 0, 1));
        for (int m = 0; m < 10; m++) {
            if (prng_int(&prng, 0, 2) == 0) {
                int64_t period = prng_int(&prng, 1, 200000000);
                bool enabled = prng_int(&prng, 0, 1);
                bool can_invert = polarity == 0 || (polarity == 2 && !enabled);
                leave(&(struct tmpsysfs_pwm){period, prng_int(&prng, 0, period), enabled,
                                             can_invert && prng_int(&prng, 0, 1)});
            }
            struct tmpsysfs_pwm old = tmpsysfs_pwm_state(channel_path);
            arm_scope();
            double drive = prng_real(&prng, 0, 1);
            double seen = -1;
            assert_int_equal(pwm_channel_drive(&channel, drive, &seen, &err), 0);
            assert_near(seen, drive, 0.5 / (double)period_ns + 1e-12);
            struct tmpsysfs_pwm now = tmpsysfs_pwm_state(channel_path);
            assert_true(now.is_enabled);
            if (old.is_enabled && !old.is_inversed) {
                assert_true(scope.high <= fmax(pin_share(&old), pin_share(&now)));
            }
        }
        pwm_channel_close(&channel);
    }
}

static void opens_what_is_exported_and_waits_for_what_is_late(void **state)
{
    (void)state;
    struct pwm_channel channel = {.number = 1, .period_ns = 1000};
    for (int fault = TMPSYSFS_DENY_OPENS; fault <= TMPSYSFS_HIDE_OPENS; fault++) {
        tmpsysfs_fault((enum tmpsysfs_fault)fault, 1);
        assert_int_equal(pwm_channel_open(&channel, chip_path, &err), -EAGAIN);
        assert_false(channel.is_open);
        assert_int_equal(pwm_channel_open(&channel, chip_path, &err), 0);
        assert_int_equal(pwm_channel_open(&channel, chip_path, &err), 0); /* once is enough */
        pwm_channel_close(&channel);
        pwm_channel_close(&channel);
    }
    channel.number = 2;
    assert_int_equal(pwm_channel_open(&channel, chip_path, &err), -ENODEV);
    assert_non_null(strstr(err.text, "export: does not take \"2\""));
    double seen;
    assert_int_equal(pwm_channel_drive(&channel, 0, &seen, &err), -ENOTCONN);
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(drives_from_every_state),
        TEST(random_changes_keep_to_the_rules),
        TEST(opens_what_is_exported_and_waits_for_what_is_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
