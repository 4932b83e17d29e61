/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The pwm driver against a model of the kernel's rules for PWM attributes (tmpsysfs.h names the
 * source). Every change that the model takes is seen by a watch, as a scope on the pin would see
 * it.
 */
#include "clock.h"
#include "driver.h"
#include "err.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

extern const struct driver driver_pwm;

#define CHIP   "class/pwm/pwmchip0"
#define DEVICE "platform/soc/fe20c000.pwm"

static char folder[128], channel_path[128];
static struct err err;

static int setup(void **state)
{
    (void)state;
    const char *root = tmpsysfs_init();
    (void)snprintf(folder, sizeof folder, "%s/class/pwm", root);
    (void)snprintf(channel_path, sizeof channel_path, "%s/" CHIP "/pwm1", root);
    memset(&err, 0, sizeof err);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_finish();
    return 0;
}

static struct bus *new_bus(const char *device, int channels)
{
    struct option_value options[] = {{.text = device}, {.integer = channels}, {.text = folder}};
    struct bus *bus = NULL;
    assert_int_equal(driver_pwm.create(options, &bus, &err), 0);
    return bus;
}

static int add_dim(struct bus *bus, int channel, double hz, bool inverted, double safe)
{
    struct option_value options[] = {
        {.integer = channel}, {.real = hz}, {.flag = inverted}, {.real = safe}};
    return driver_pwm.add_output(bus, OUTPUT_DIM, options, &err);
}

/* A bus with one output on channel 1. */
static struct bus *one_channel(double hz, bool inverted, double safe)
{
    struct bus *bus = new_bus(DEVICE, 0);
    assert_int_equal(add_dim(bus, 1, hz, inverted, safe), 0);
    return bus;
}

/* The channel as a stranger left it. */
static void leave(int64_t period, int64_t duty, bool enabled, bool inversed)
{
    tmpsysfs_pwm_leave(CHIP "/pwm1", &(struct tmpsysfs_pwm){period, duty, enabled, inversed});
}

static int write_dim(struct bus *bus, double drive, double *ret_seen)
{
    *ret_seen = -1;
    return driver_pwm.write(bus, 0, drive, ret_seen, &err);
}

#define assert_says(part) assert_non_null(strstr(err.text, part))

static void finds_the_chip_by_its_device(void **state)
{
    (void)state;
    struct bus *bus = new_bus("fe20c000.pwm", 0);
    assert_int_equal(add_dim(bus, 1, 1000, false, 0), 0);
    assert_int_equal(driver_pwm.connect(bus, &err), -ENODEV); /* no class at all */
    for (int order = 0; order < 2; order++) {
        tmpsysfs_pwm_chip(order ? 2 : 0, DEVICE, 2);
        tmpsysfs_pwm_chip(order ? 0 : 2, "platform/soc/1f00098000.pwm", 4); /* drives a fan */
        assert_int_equal(driver_pwm.connect(bus, &err), 0);
        assert_true(tmpsysfs_exists(order ? "class/pwm/pwmchip2/pwm1" : "class/pwm/pwmchip0/pwm1"));
        assert_false(
            tmpsysfs_exists(order ? "class/pwm/pwmchip0/pwm1" : "class/pwm/pwmchip2/pwm1"));
        driver_pwm.disconnect(bus);
        tmpsysfs_remove("class");
        tmpsysfs_remove("devices");
    }
    driver_pwm.destroy(bus);
}

static void refuses_what_is_not_that_one_chip(void **state)
{
    (void)state;
    static const struct {
        const char *device;
        int channels, channel, error;
        const char *says;
    } cases[] = {
        {"soc/fe20c000.pwm", 2, 1, 0, ""},
        {"fe20c000", 0, 1, -ENODEV, "no entry fits device \"fe20c000\"; there is: "},
        {"soc", 0, 1, -ENOTUNIQ, "several entries fit"},
        {DEVICE, 4, 1, -ENOENT, "has 2 channels, not 4"},
        {DEVICE, 0, 2, -ENOENT, "channel 2 is out of range (0 … 1)"},
    };
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    tmpsysfs_pwm_chip(1, "platform/soc/1f00098000.pwm", 4);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bus *bus = new_bus(cases[i].device, cases[i].channels);
        assert_int_equal(add_dim(bus, cases[i].channel, 1000, false, 0), 0);
        err.text[0] = '\0';
        assert_int_equal(driver_pwm.connect(bus, &err), cases[i].error);
        assert_says(cases[i].says);
        driver_pwm.destroy(bus);
    }
    struct bus *bus = one_channel(1000, false, 0);
    assert_int_equal(add_dim(bus, 1, 500, false, 0), -ENOTUNIQ);
    struct option_value none[5] = {{.text = ""}};
    assert_int_equal(driver_pwm.add_output(bus, OUTPUT_SWITCH, none, &err), -ENOTSUP);
    assert_int_equal(driver_pwm.add_sensor(bus, SENSOR_POWER, none, &err), -ENOTSUP);
    driver_pwm.destroy(bus);
}

static void waits_for_udev_and_goes_on_at_the_next_connect(void **state)
{
    (void)state;
    for (int fault = TMPSYSFS_DENY_OPENS; fault <= TMPSYSFS_HIDE_OPENS; fault++) {
        tmpsysfs_pwm_chip(0, DEVICE, 2);
        struct bus *bus = one_channel(1000, false, 0);
        tmpsysfs_fault((enum tmpsysfs_fault)fault, 3);
        assert_int_equal(driver_pwm.connect(bus, &err), 0);
        driver_pwm.disconnect(bus);

        tmpsysfs_fault((enum tmpsysfs_fault)fault, 78); /* looks; one call has 75 at most */
        int64_t begin_ns = clock_boot_ns();
        assert_int_equal(driver_pwm.connect(bus, &err), -EAGAIN);
        assert_true(clock_boot_ns() - begin_ns < 2 * CLOCK_NS_PER_S);
        assert_int_equal(driver_pwm.connect(bus, &err), 0);
        driver_pwm.destroy(bus);
        tmpsysfs_remove("class");
        tmpsysfs_remove("devices");
    }
}

static void gives_up_waiting_after_five_seconds(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    struct bus *bus = one_channel(1000, false, 0);
    tmpsysfs_fault(TMPSYSFS_DENY_OPENS, INT32_MAX);
    int64_t begin_ns = clock_boot_ns();
    int rc = -EAGAIN;
    for (int calls = 0; rc == -EAGAIN && calls < 10; calls++) {
        int64_t call_ns = clock_boot_ns();
        rc = driver_pwm.connect(bus, &err);
        assert_true(clock_boot_ns() - call_ns < 2 * CLOCK_NS_PER_S);
    }
    assert_int_equal(rc, -EACCES);
    assert_says("udev");
    assert_says("channel 1: ");
    assert_true(clock_boot_ns() - begin_ns >= 4900 * CLOCK_NS_PER_MS);
    assert_true(clock_boot_ns() - begin_ns < 7 * CLOCK_NS_PER_S);
    begin_ns = clock_boot_ns();
    assert_int_equal(driver_pwm.connect(bus, &err), -EACCES); /* later tries do not wait again */
    assert_true(clock_boot_ns() - begin_ns < CLOCK_NS_PER_S);
    tmpsysfs_fault(TMPSYSFS_DENY_OPENS, 0);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    driver_pwm.destroy(bus);
}

/* A fan, a backlight: the kernel says EBUSY and shows no channel, for ever. */
static void a_channel_of_a_kernel_driver_is_said_so_and_spares_the_others(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    tmpsysfs_fault(TMPSYSFS_TAKEN, 1);
    struct bus *bus = one_channel(1000, false, 0.25);
    assert_int_equal(add_dim(bus, 0, 1000, false, 0.25), 0);
    int rc = -EAGAIN;
    for (int calls = 0; rc == -EAGAIN && calls < 10; calls++) {
        rc = driver_pwm.make_safe(bus, &err);
        assert_int_equal(tmpsysfs_number(CHIP "/pwm0/duty_cycle"), 250000);
        assert_int_equal(tmpsysfs_number(CHIP "/pwm0/enable"), 1); /* does not rest for that */
    }
    assert_int_equal(rc, -EACCES);
    assert_says("channel 1: in use by a driver of the kernel");
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    double seen;
    assert_int_equal(write_dim(bus, 0.5, &seen), -EAGAIN);
    assert_int_equal(driver_pwm.write(bus, 1, 0.5, &seen, &err), 0);
    tmpsysfs_fault(TMPSYSFS_TAKEN, 0);
    assert_int_equal(write_dim(bus, 0.5, &seen), 0);
    driver_pwm.destroy(bus);
}

static void an_exported_channel_is_taken_over(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    leave(1000000, 900000, true, false);
    struct bus *bus = one_channel(1000, false, 0);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    assert_int_equal(tmpsysfs_number(CHIP "/pwm1/duty_cycle"), 0);
    driver_pwm.destroy(bus);
}

/* A killed program leaves its duty standing; the stop step is a new program with the same list. */
static void make_safe_works_in_every_state(void **state)
{
    (void)state;
    struct bus *bus = one_channel(1000, true, 0);
    assert_int_equal(driver_pwm.make_safe(bus, &err), -ENODEV); /* no chip */
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    assert_int_equal(driver_pwm.make_safe(bus, &err), 0); /* never connected, not exported */
    struct tmpsysfs_pwm now = tmpsysfs_pwm_state(channel_path);
    assert_true(now.is_enabled && now.is_inversed && now.duty == 0);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    double seen;
    assert_int_equal(write_dim(bus, 0.8, &seen), 0);
    driver_pwm.destroy(bus);
    assert_int_equal(tmpsysfs_number(CHIP "/pwm1/duty_cycle"), 800000);

    bus = one_channel(1000, true, 0);
    assert_int_equal(driver_pwm.make_safe(bus, &err), 0);
    assert_int_equal(driver_pwm.make_safe(bus, &err), 0);
    assert_int_equal(tmpsysfs_number(CHIP "/pwm1/duty_cycle"), 0);
    assert_int_equal(tmpsysfs_number(CHIP "/pwm1/enable"), 1);
    driver_pwm.disconnect(bus);
    driver_pwm.disconnect(bus);
    assert_int_equal(driver_pwm.make_safe(bus, &err), 0);
    driver_pwm.destroy(bus);
    driver_pwm.destroy(NULL);
}

static void a_failed_write_goes_back_to_safe(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    struct bus *bus = one_channel(1000, false, 0);
    double seen;
    assert_int_equal(write_dim(bus, 0.5, &seen), -ENOTCONN);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    assert_int_equal(write_dim(bus, 0.5, &seen), 0);
    tmpsysfs_fault(TMPSYSFS_FAIL_ERROR, EINVAL);
    tmpsysfs_fault(TMPSYSFS_FAIL_WRITE, 1);
    assert_int_equal(write_dim(bus, 0.7, &seen), -EINVAL);
    assert_says("channel 1: duty_cycle: does not take \"700000\"");
    assert_true(seen == -1);
    assert_int_equal(tmpsysfs_number(CHIP "/pwm1/duty_cycle"), 0);
    assert_int_equal(write_dim(bus, 0.7, &seen), 0);

    leave(500000, 0, true, false); /* another channel's period on a chip that has but one */
    tmpsysfs_fault(TMPSYSFS_FAIL_ERROR, EBUSY);
    tmpsysfs_fault(TMPSYSFS_FAIL_WRITE, 1);
    assert_int_equal(write_dim(bus, 0.7, &seen), -EBUSY);
    assert_says("the same frequency_hz");

    tmpsysfs_file(CHIP "/pwm1/duty_cycle", "seven\n");
    assert_int_equal(write_dim(bus, 0.7, &seen), -EIO);
    assert_says("duty_cycle: ");
    tmpsysfs_file(CHIP "/pwm1/duty_cycle", "0\n");
    tmpsysfs_file(CHIP "/pwm1/polarity", "sideways\n");
    assert_int_equal(write_dim(bus, 0.7, &seen), -EIO);
    assert_says("sideways");
    driver_pwm.destroy(bus);
}

static void finds_the_chip_again_after_a_replug(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    struct bus *bus = one_channel(1000, false, 0);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    tmpsysfs_remove("class");
    tmpsysfs_remove("devices");
    double seen;
    assert_int_equal(write_dim(bus, 0.5, &seen), -ENODEV);
    driver_pwm.disconnect(bus);
    tmpsysfs_pwm_chip(3, DEVICE, 2);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    assert_int_equal(write_dim(bus, 0.5, &seen), 0);
    assert_int_equal(tmpsysfs_number("class/pwm/pwmchip3/pwm1/duty_cycle"), 500000);
    driver_pwm.destroy(bus);
}

/* Nobody disconnected: the stop step may come between the replug and the next write. */
static void the_stop_step_finds_a_chip_that_was_replugged(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    struct bus *bus = one_channel(1000, true, 0);
    double seen;
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    assert_int_equal(write_dim(bus, 0.5, &seen), 0);
    tmpsysfs_remove("class");
    tmpsysfs_remove("devices");
    tmpsysfs_pwm_chip(3, DEVICE, 2);
    assert_int_equal(driver_pwm.make_safe(bus, &err), 0);
    assert_int_equal(tmpsysfs_number("class/pwm/pwmchip3/pwm1/enable"), 1);
    driver_pwm.destroy(bus);
}

/* One channel that the kernel keeps does not stop the other. */
static void one_lost_channel_spares_the_others(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    struct bus *bus = one_channel(1000, false, 0);
    assert_int_equal(add_dim(bus, 0, 1000, false, 0), 0);
    tmpsysfs_file(CHIP "/pwm0/period", "never\n");
    tmpsysfs_file(CHIP "/pwm0/duty_cycle", "0\n");
    tmpsysfs_file(CHIP "/pwm0/enable", "0\n");
    tmpsysfs_file(CHIP "/pwm0/polarity", "normal\n");
    assert_int_equal(driver_pwm.make_safe(bus, &err), -EIO);
    assert_says("channel 0: period");
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    double seen = -1;
    assert_int_equal(driver_pwm.write(bus, 1, 0.5, &seen, &err), -EIO);
    assert_int_equal(driver_pwm.write(bus, 0, 0.5, &seen, &err), 0);
    driver_pwm.destroy(bus);
}

/* Three channels of a chip with one period for all, the first so many inverted. */
static struct bus *shared_chip(double hz, int inverted)
{
    struct bus *bus = new_bus(DEVICE, 0);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(add_dim(bus, i, hz, i < inverted, 0), 0);
    }
    return bus;
}

static struct tmpsysfs_pwm state_of(int channel)
{
    char path[128];
    (void)snprintf(path, sizeof path, "%.*s%d", (int)strlen(channel_path) - 1, channel_path,
                   channel);
    return tmpsysfs_pwm_state(path);
}

static void one_period_for_all_channels(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 17);
    tmpsysfs_fault(TMPSYSFS_SHARED_PERIOD, 163840);
    tmpsysfs_fault(TMPSYSFS_NO_POLARITY, 1);
    struct bus *bus = shared_chip(1000, 1);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(state_of(i).period, 1000000);
        assert_int_equal(state_of(i).duty, i < 1 ? 1000000 : 0);
        double seen = -1;
        assert_int_equal(driver_pwm.write(bus, i, 0.25, &seen, &err), 0);
        assert_int_equal(state_of(i).duty, i < 1 ? 750000 : 250000);
        assert_true(fabs(seen - 0.25) < 1e-9);
    }
    driver_pwm.destroy(bus);
}

/* A channel of somebody else keeps the chip at its frequency: ours rest, and it is said why. */
static void a_strangers_channel_keeps_the_period(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 17);
    tmpsysfs_fault(TMPSYSFS_NO_POLARITY, 1);
    tmpsysfs_fault(TMPSYSFS_SHARED_PERIOD, 163840);
    struct bus *bus = shared_chip(1000, 0);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    driver_pwm.destroy(bus);

    bus = new_bus(DEVICE, 0);
    assert_int_equal(add_dim(bus, 0, 500, false, 0), 0);
    assert_int_equal(add_dim(bus, 1, 500, false, 0), 0);
    assert_int_equal(driver_pwm.connect(bus, &err), -EBUSY);
    assert_says("channel 0: period: the chip has one for all channels");
    assert_says("restart the computer");
    assert_int_equal(state_of(0).duty, 0);
    assert_true(state_of(2).is_enabled && state_of(2).period == 1000000);
    driver_pwm.destroy(bus);
}

/* A frequency that was changed in the configuration finds the channels as the last one left them.
 */
static void another_frequency_for_a_shared_chip(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 17);
    tmpsysfs_fault(TMPSYSFS_NO_POLARITY, 1);
    for (int inverted = 0; inverted < 3; inverted += 2) {
        tmpsysfs_fault(TMPSYSFS_SHARED_PERIOD, 163840);
        struct bus *bus = shared_chip(1000, inverted);
        assert_int_equal(driver_pwm.connect(bus, &err), 0);
        double seen;
        for (int i = 0; i < 3; i++) {
            assert_int_equal(driver_pwm.write(bus, i, 0.25, &seen, &err), 0);
        }
        driver_pwm.destroy(bus);

        for (int hz = 500; hz <= 2000; hz *= 4) {
            bus = shared_chip(hz, inverted);
            int rc = driver_pwm.connect(bus, &err);
            for (int i = 0; i < 3; i++) { /* safe in any case */
                assert_int_equal(state_of(i).duty, i < inverted ? state_of(i).period : 0);
            }
            if (inverted) {
                assert_int_equal(rc, -EBUSY);
                assert_says("restart the computer");
            } else {
                assert_int_equal(rc, 0);
                assert_int_equal(state_of(2).period, 1000000000 / hz);
                assert_true(state_of(2).is_enabled);
            }
            driver_pwm.destroy(bus);
        }
        tmpsysfs_remove(CHIP "/pwm0");
        tmpsysfs_remove(CHIP "/pwm1");
        tmpsysfs_remove(CHIP "/pwm2");
    }
}

static void refuses_values_that_are_no_drive(void **state)
{
    (void)state;
    tmpsysfs_pwm_chip(0, DEVICE, 2);
    struct bus *bus = one_channel(1000, false, 0);
    assert_int_equal(driver_pwm.read(bus, NULL, &err), -ENOTCONN);
    assert_int_equal(driver_pwm.connect(bus, &err), 0);
    assert_int_equal(driver_pwm.read(bus, NULL, &err), 0);
    static const double values[] = {(double)NAN, -0.001, 1.001, (double)INFINITY};
    double seen;
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        assert_int_equal(write_dim(bus, values[i], &seen), -EINVAL);
    }
    assert_int_equal(driver_pwm.write(bus, 1, 0.5, &seen, &err), -EINVAL);
    assert_int_equal(tmpsysfs_number(CHIP "/pwm1/duty_cycle"), 0);
    assert_int_equal(write_dim(bus, 1, &seen), 0);
    assert_true(seen == 1);
    driver_pwm.destroy(bus);
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(finds_the_chip_by_its_device),
        TEST(refuses_what_is_not_that_one_chip),
        TEST(waits_for_udev_and_goes_on_at_the_next_connect),
        TEST(gives_up_waiting_after_five_seconds),
        TEST(a_channel_of_a_kernel_driver_is_said_so_and_spares_the_others),
        TEST(an_exported_channel_is_taken_over),
        TEST(make_safe_works_in_every_state),
        TEST(a_failed_write_goes_back_to_safe),
        TEST(finds_the_chip_again_after_a_replug),
        TEST(the_stop_step_finds_a_chip_that_was_replugged),
        TEST(one_lost_channel_spares_the_others),
        TEST(one_period_for_all_channels),
        TEST(another_frequency_for_a_shared_chip),
        TEST(a_strangers_channel_keeps_the_period),
        TEST(refuses_values_that_are_no_drive),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
