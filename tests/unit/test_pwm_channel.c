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

/* Highest share of high while enabled, how often the channel was found disabled, and how many
 * writes it took, of the duty and of all. */
static struct {
    double high;
    int disabled, writes, duty_writes;
    struct tmpsysfs_pwm last;
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
    bool same = state->period == scope.last.period && state->is_enabled == scope.last.is_enabled &&
                state->is_inversed == scope.last.is_inversed;
    scope.writes++;
    scope.duty_writes += same && state->duty != scope.last.duty;
    scope.last = *state;
}

static void arm_scope(void)
{
    scope.high = -1;
    scope.disabled = scope.writes = scope.duty_writes = 0;
    scope.last = tmpsysfs_pwm_state(channel_path);
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

/* Another chip: its way with polarities, and whether it rounds. Returns its step, 1: it does not.
 */
static int64_t random_chip(struct prng *prng, int64_t polarity, int64_t period_ns)
{
    leave(&(struct tmpsysfs_pwm){0});
    tmpsysfs_fault(TMPSYSFS_NO_POLARITY, polarity == 1);
    tmpsysfs_fault(TMPSYSFS_LATE_POLARITY, polarity == 2);
    int64_t step = prng_int(prng, 0, 1) ? prng_int(prng, 2, period_ns / 3) : 1;
    tmpsysfs_fault(TMPSYSFS_PERIOD_STEP, step > 1 ? (int)step : 0);
    return step;
}

/* A stranger's values, on a chip with that step. */
static void random_stranger(struct prng *prng, int64_t polarity, int64_t step)
{
    int64_t period = step * prng_int(prng, 1, 200000000 / step);
    bool enabled = prng_int(prng, 0, 1);
    bool can_invert = polarity == 0 || (polarity == 2 && !enabled);
    leave(&(struct tmpsysfs_pwm){period, prng_int(prng, 0, period), enabled,
                                 can_invert && prng_int(prng, 0, 1)});
}

static void drive_near(struct pwm_channel *channel, double drive, double share)
{
    arm_scope();
    double seen = -1;
    assert_int_equal(pwm_channel_drive(channel, drive, &seen, &err), 0);
    assert_near(seen, drive, share);
}

/* Any period and duty, changed by strangers in between: the model refuses no step. */
static void random_changes_keep_to_the_rules(void **state)
{
    (void)state;
    struct prng prng = prng_start("changes");
    for (int n = 0; n < 100; n++) {
        int64_t period_ns = llround(1e9 / pow(10, prng_real(&prng, 1, 5)));
        int64_t polarity = prng_int(&prng, 0, 2);
        int64_t step = random_chip(&prng, polarity, period_ns);
        double share =
            step > 1 ? 1.01 / 4096 + 3.0 / (double)period_ns : 0.5 / (double)period_ns + 1e-12;
        struct pwm_channel channel = open_channel(period_ns, prng_int(&prng, 0, 1));
        for (int m = 0; m < 6; m++) {
            if (prng_int(&prng, 0, 2) == 0) {
                random_stranger(&prng, polarity, step);
            }
            struct tmpsysfs_pwm old = tmpsysfs_pwm_state(channel_path);
            drive_near(&channel, prng_real(&prng, 0, 1), share);
            struct tmpsysfs_pwm now = tmpsysfs_pwm_state(channel_path);
            assert_true(now.is_enabled);
            if (old.is_enabled && !old.is_inversed) {
                double most = fmax(pin_share(&old), pin_share(&now));
                assert_true(scope.high <= most + (step > 1 ? share : 0));
            }
            drive_near(&channel, prng_real(&prng, 0, 1), share); /* the period stands */
            assert_true(scope.writes <= 1 && (step > 1 || scope.duty_writes == scope.writes));
        }
        pwm_channel_close(&channel);
    }
}

/* In service nothing is written but the duty, once a change, whatever the chip offers. */
static void a_change_of_drive_is_one_write_of_the_duty(void **state)
{
    (void)state;
    static const double drives[] = {0.5, 0.501, 1, 0.25, 0, 0.75};
    for (int n = 0; n < 8; n++) {
        leave(&(struct tmpsysfs_pwm){0});
        tmpsysfs_fault(TMPSYSFS_NO_POLARITY, n & 1);
        tmpsysfs_fault(TMPSYSFS_PERIOD_STEP, n & 2 ? 163840 : 0);
        struct pwm_channel channel = open_channel(2000000, n & 4);
        double seen = -1;
        assert_int_equal(pwm_channel_drive(&channel, 0.1, &seen, &err), 0);
        for (size_t i = 0; i < sizeof drives / sizeof drives[0]; i++) {
            arm_scope();
            assert_int_equal(pwm_channel_drive(&channel, drives[i], &seen, &err), 0);
            assert_int_equal(scope.writes, 1);
            assert_int_equal(scope.duty_writes, 1);
            assert_near(seen, drives[i], 1.0 / 4096);
        }
        pwm_channel_close(&channel);
    }
}

/* The steps of a PCA9685 (NXP, PCA9685 data sheet, 7.3.5: 4096 counts of a 25 MHz clock). */
static void a_rounded_period_is_no_fault(void **state)
{
    (void)state;
    static const struct {
        int64_t asked_ns, given_ns;
    } cases[] = {
        {2000000, 1966080}, {1000000, 983040}, {5000000, 5079040},
        {733000, 655360},   {163840, 163840},
    };
    tmpsysfs_fault(TMPSYSFS_PERIOD_STEP, 163840);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        leave(&(struct tmpsysfs_pwm){.period = cases[i].given_ns, .is_enabled = true}); /* by us */
        struct pwm_channel channel = open_channel(cases[i].asked_ns, false);
        double seen = -1;
        assert_int_equal(pwm_channel_drive(&channel, 0.3, &seen, &err), 0);
        assert_near(seen, 0.3, 1.0 / 4096);
        assert_int_equal(tmpsysfs_pwm_state(channel_path).period, cases[i].given_ns);
        leave(&(struct tmpsysfs_pwm){.period = 3000000, .is_enabled = true}); /* by a stranger */
        assert_int_equal(pwm_channel_drive(&channel, 1, &seen, &err), 0);
        assert_true(seen == 1);
        assert_int_equal(tmpsysfs_pwm_state(channel_path).period, cases[i].given_ns);
        pwm_channel_close(&channel);
    }
}

static void a_frequency_that_the_chip_cannot_do_is_named(void **state)
{
    (void)state;
    for (int late = 0; late < 2; late++) { /* chips look at once, or when they are enabled */
        leave(&(struct tmpsysfs_pwm){0});
        tmpsysfs_fault(TMPSYSFS_PERIOD_LEAST, 655360);
        tmpsysfs_fault(TMPSYSFS_LATE_PERIOD, late);
        struct pwm_channel channel = open_channel(333333, false);
        double seen = -1;
        assert_int_equal(pwm_channel_drive(&channel, 0.3, &seen, &err), -EINVAL);
        assert_non_null(
            strstr(err.text, "the chip refuses frequency_hz = 3000 (a period of 333333"));
        assert_true(seen == -1 && !tmpsysfs_pwm_state(channel_path).is_enabled);
        leave(&(struct tmpsysfs_pwm){1000000, 900000, true, false});
        assert_int_equal(pwm_channel_drive(&channel, 0, &seen, &err), -EINVAL);
        assert_int_equal(tmpsysfs_pwm_state(channel_path).duty, 0); /* not as it was */
        pwm_channel_close(&channel);
    }
    tmpsysfs_fault(TMPSYSFS_PERIOD_LEAST, 0);
    tmpsysfs_fault(TMPSYSFS_PERIOD_STEP, 163840);
    for (int enabled = 0; enabled < 2; enabled++) {
        leave(&(struct tmpsysfs_pwm){983040, 900000, enabled, false});
        struct pwm_channel channel = open_channel(100000, false);
        double seen = -1;
        assert_int_equal(pwm_channel_drive(&channel, 0.25, &seen, &err), -EPROTO);
        assert_string_equal(err.text, "the chip makes 6103.52 Hz of frequency_hz = 10000");
        assert_near(pin_share(&(struct tmpsysfs_pwm){
                        .period = 163840, .duty = tmpsysfs_pwm_state(channel_path).duty}),
                    0.25, 1.0 / 4096);
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
    tmpsysfs_remove("class");
    assert_int_equal(pwm_channel_open(&channel, chip_path, &err), -ENODEV); /* and no waiting */
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(drives_from_every_state),
        TEST(random_changes_keep_to_the_rules),
        TEST(a_change_of_drive_is_one_write_of_the_duty),
        TEST(a_rounded_period_is_no_fault),
        TEST(a_frequency_that_the_chip_cannot_do_is_named),
        TEST(opens_what_is_exported_and_waits_for_what_is_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
