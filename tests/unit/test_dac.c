/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The dac driver against a model of a converter's attributes (tmpsysfs.h names the source).
 *
 * Outside values: a 12-bit converter has 4096 steps, V = Vref · D / 4096 (Microchip MCP4725 data
 * sheet, equation 4-1; the kernel's scale for it is Vref in mV / 2^12, drivers/iio/dac/mcp4725.c).
 */
#include "clock.h"
#include "driver.h"
#include "err.h"
#include "near.h"
#include "option_fill.h"
#include "prng.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

extern const struct driver driver_dac;

#define DEVICE       "platform/soc/i2c-1/1-0060"
#define OTHER        "platform/soc/i2c-1/1-0061"
#define FOLDER       "bus/iio/devices/iio:device0"
#define RAW          FOLDER "/out_voltage0_raw"
#define POWER        FOLDER "/out_voltage0_powerdown"
#define SCALE        FOLDER "/out_voltage0_scale"
#define PLAIN        "full_scale_v=10 "
#define a_says(part) assert_non_null(strstr(err.text, part))

static char folder[128];
static struct err err;

static int setup(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s/bus/iio/devices", tmpsysfs_init());
    memset(&err, 0, sizeof err);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_on_read(NULL);
    tmpsysfs_finish();
    return 0;
}

static struct bus *new_bus(const char *chip, const char *device)
{
    struct option_value options[] = {{.text = chip}, {.text = device}, {.text = folder}};
    struct bus *bus = NULL;
    assert_int_equal(driver_dac.create(options, &bus, &err), 0);
    return bus;
}

static int add_dim(struct bus *bus, const char *text)
{
    struct option_fill fill;
    return driver_dac.add_output(bus, OUTPUT_DIM, option_fill(&fill, driver_dac.dim_options, text),
                                 &err);
}

static struct bus *one_channel(const char *text)
{
    struct bus *bus = new_bus("mcp4725", "");
    assert_int_equal(add_dim(bus, text), 0);
    return bus;
}

static void finds_the_device_by_what_it_is(void **state)
{
    (void)state;
    for (int order = 0; order < 2; order++) {
        tmpsysfs_iio(order, DEVICE, "mcp4725", 1);
        tmpsysfs_iio(1 - order, OTHER, "mcp4725", 1);
        struct bus *bus = new_bus("mcp4725", "1-0061");
        assert_int_equal(add_dim(bus, PLAIN "safe=0.5"), 0);
        assert_int_equal(driver_dac.connect(bus, &err), 0);
        char path[80];
        (void)snprintf(path, sizeof path, "bus/iio/devices/iio:device%d/out_voltage0_raw",
                       1 - order);
        assert_int_equal(tmpsysfs_number(path), 2048);
        (void)snprintf(path, sizeof path, "bus/iio/devices/iio:device%d/out_voltage0_raw", order);
        assert_int_equal(tmpsysfs_number(path), 1000); /* the other one was not touched */
        driver_dac.destroy(bus);
        tmpsysfs_remove("bus");
        tmpsysfs_remove("devices");
    }
}

static void refuses_none_and_several(void **state)
{
    (void)state;
    struct bus *bus = one_channel(PLAIN);
    assert_int_equal(driver_dac.connect(bus, &err), -ENODEV);
    tmpsysfs_iio(0, DEVICE, "ads1015", 1);
    assert_int_equal(driver_dac.connect(bus, &err), -ENODEV);
    a_says("ads1015"); /* what there is */
    tmpsysfs_iio(1, OTHER, "mcp4725", 1);
    tmpsysfs_iio(2, "platform/soc/i2c-1/1-0062", "mcp4725", 1);
    assert_int_equal(driver_dac.connect(bus, &err), -ENOTUNIQ);
    driver_dac.destroy(bus);
    /* A converter without a name, as some kernel drivers leave it. */
    tmpsysfs_iio(3, "platform/soc/i2c-1/1-0058", "", 2);
    bus = new_bus("", "1-0058");
    assert_int_equal(add_dim(bus, PLAIN "channel=1"), 0);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    driver_dac.destroy(bus);
    bus = new_bus("", "1-0058");
    assert_int_equal(add_dim(bus, PLAIN "channel=2"), 0);
    assert_int_equal(driver_dac.connect(bus, &err), -ENOENT);
    a_says("channel 2");
    a_says("out_voltage2_raw");
    driver_dac.destroy(bus);
    struct option_value neither[] = {{.text = ""}, {.text = ""}, {.text = folder}};
    assert_int_equal(driver_dac.create(neither, &bus, &err), -EINVAL);
}

static void refuses_what_no_converter_can_do(void **state)
{
    (void)state;
    static const struct {
        const char *options, *says;
    } cases[] = {
        {"full_scale_v=5", "10 V at the terminal is above full_scale_v (0 … 5 V)"},
        {"full_scale_v=10 volts_low=10", "are no range"},
        {"full_scale_v=10 volts_low=4 volts_high=4.05", "are no range"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bus *bus = new_bus("mcp4725", "");
        assert_int_equal(add_dim(bus, cases[i].options), -EINVAL);
        a_says(cases[i].says);
        driver_dac.destroy(bus);
    }
    struct bus *bus = one_channel(PLAIN);
    assert_int_equal(add_dim(bus, PLAIN), -ENOTUNIQ);
    driver_dac.destroy(bus);
}

/* By the kernel's scale: Vref 5.0 V → 5000/4096 = 1.220703125 mV a step; a stage of gain 2. */
static void takes_the_kernels_scale(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    struct bus *bus = one_channel("gain=2 volts_high=9.9");
    assert_int_equal(driver_dac.connect(bus, &err), -ENOTSUP);
    a_says("give full_scale_v");
    tmpsysfs_file(SCALE, "1.220703125\n");
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(driver_dac.write(bus, 0, 0.5, &seen, &err), 0);
    assert_int_equal(tmpsysfs_number(RAW), 2028); /* 4.95 V / 2 / 1.220703125 mV = 2027.5 */
    assert_near(seen, 0.5, 0.0002);
    driver_dac.destroy(bus);
    /* The same stage cannot give 10.5 V: said with what it can. */
    bus = one_channel("gain=2 volts_high=10.5");
    assert_int_equal(driver_dac.connect(bus, &err), -ERANGE);
    a_says("0.00 … 10.50 V at the terminal were asked for");
    a_says("0.00 … 10.00 V");
    driver_dac.destroy(bus);
    /* 9.998 V, the full scale of 4095 steps, passes for 10 V. */
    bus = one_channel("gain=2 volts_high=10.0");
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    driver_dac.destroy(bus);
    /* Shared by all channels, and an offset: −2048 counts of a bipolar stage. */
    tmpsysfs_remove(SCALE);
    tmpsysfs_file(FOLDER "/out_voltage_scale", "10.0\n");
    tmpsysfs_file(FOLDER "/out_voltage_offset", "-2048\n");
    bus = one_channel("volts_high=10.0");
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(tmpsysfs_number(RAW), 2048); /* 0 V */
    assert_int_equal(driver_dac.write(bus, 0, 1, &seen, &err), 0);
    assert_int_equal(tmpsysfs_number(RAW), 3048);
    driver_dac.destroy(bus);
}

/* For any scale and range: never outside the volts, within half a step, back to the same drive. */
static void keeps_within_its_volts(void **state)
{
    (void)state;
    struct prng prng = prng_start("keeps_within_its_volts");
    for (int i = 0; i < 300; i++) {
        tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
        double full_v = 3 + 9 * prng_real(&prng, 0, 1);
        double low_v = floor(full_v * 50 * prng_real(&prng, 0, 1)) / 100;
        double high_v = low_v + 0.1 + (full_v - low_v - 0.1) * prng_real(&prng, 0, 1);
        bool is_inverting = prng_real(&prng, 0, 1) < 0.3;
        char text[120];
        (void)snprintf(text, sizeof text, "full_scale_v=%.6f volts_low=%.6f volts_high=%.6f",
                       full_v, is_inverting ? high_v : low_v, is_inverting ? low_v : high_v);
        struct bus *bus = one_channel(text);
        assert_int_equal(driver_dac.connect(bus, &err), 0);
        for (int k = 0; k < 6; k++) {
            double drive = k < 2 ? k : prng_real(&prng, 0, 1);
            double seen = -1;
            assert_int_equal(driver_dac.write(bus, 0, drive, &seen, &err), 0);
            double volts = full_v * (double)tmpsysfs_number(RAW) / 4095;
            double step_v = full_v / 4095;
            double exact_v =
                is_inverting ? high_v - (high_v - low_v) * drive : low_v + (high_v - low_v) * drive;
            assert_near(volts, exact_v, step_v * 1.001);
            assert_true(volts <= high_v + 1e-5 && volts >= low_v - 1e-5);
            assert_near(seen, drive, 1.001 * step_v / (high_v - low_v));
        }
        driver_dac.destroy(bus);
        tmpsysfs_remove("bus");
        tmpsysfs_remove("devices");
    }
}

/* A converter that wakes must wake at the safe value, not at its last one. */
static void wakes_with_the_safe_value(void **state)
{
    (void)state;
    double seen = -1;
    for (int deaf = 0; deaf < 2; deaf++) {
        tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
        tmpsysfs_file(POWER, "1\n");
        tmpsysfs_fault(TMPSYSFS_DEAF_ASLEEP, deaf);
        struct bus *bus = one_channel(PLAIN);
        assert_int_equal(driver_dac.connect(bus, &err), 0);
        assert_int_equal(tmpsysfs_number(RAW), 0);
        assert_int_equal(tmpsysfs_number(POWER), 0);
        assert_int_equal(driver_dac.write(bus, 0, 1, &seen, &err), 0);
        assert_int_equal(tmpsysfs_number(RAW), 4095);
        driver_dac.destroy(bus);
        tmpsysfs_remove("bus");
        tmpsysfs_remove("devices");
    }
}

static int mute(const char *name)
{
    return strstr(name, "_raw") || strstr(name, "_scale") ? EINVAL : 0;
}

/* drivers/iio/dac/max517.c of Linux gives no raw back, mcp4725.c no scale where the board does not
 * name its supply. */
static void drives_a_chip_that_only_listens(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    tmpsysfs_file(SCALE, "1.220703125\n");
    tmpsysfs_on_read(mute);
    struct bus *bus = one_channel(PLAIN);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(driver_dac.write(bus, 0, 1, &seen, &err), 0);
    assert_true(isnan(seen));
    assert_int_equal(tmpsysfs_number(RAW), 4095);
    assert_int_equal(driver_dac.make_safe(bus, &err), 0);
    assert_int_equal(tmpsysfs_number(RAW), 0);
    driver_dac.destroy(bus);
    bus = one_channel("gain=2 volts_high=9.9");
    assert_int_equal(driver_dac.connect(bus, &err), -ENOTSUP);
    a_says("give full_scale_v");
    driver_dac.destroy(bus);
}

/* Put to sleep by another (a suspend), with a power attribute that all channels share. */
static void wakes_again_in_service(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    tmpsysfs_file(FOLDER "/out_voltage_powerdown", "0\n");
    struct bus *bus = one_channel(PLAIN);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    tmpsysfs_file(FOLDER "/out_voltage_powerdown", "1\n");
    assert_int_equal(driver_dac.write(bus, 0, 0.5, &seen, &err), 0);
    assert_int_equal(tmpsysfs_number(FOLDER "/out_voltage_powerdown"), 0);
    assert_int_equal(tmpsysfs_number(RAW), 2048);
    /* A value that it did not get must not wake it at the old one. */
    static const int errors[] = {EINVAL, EREMOTEIO};
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        tmpsysfs_file(FOLDER "/out_voltage_powerdown", "1\n");
        tmpsysfs_fault(TMPSYSFS_FAIL_ERROR, errors[i]);
        tmpsysfs_fault(TMPSYSFS_FAIL_WRITE, 1);
        assert_int_equal(driver_dac.make_safe(bus, &err), -errors[i]);
        assert_int_equal(tmpsysfs_number(FOLDER "/out_voltage_powerdown"), 1);
    }
    driver_dac.destroy(bus);
}

static void more_bits_than_the_chip_has(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    struct bus *bus = one_channel(PLAIN "bits=16");
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(driver_dac.write(bus, 0, 1, &seen, &err), -EINVAL);
    a_says("bits = 16 may be too many: raw: does not take \"65535\"");
    driver_dac.destroy(bus);
}

static void says_what_failed(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    struct bus *bus = one_channel(PLAIN);
    assert_int_equal(driver_dac.write(bus, 0, 0.5, &seen, &err), -ENOTCONN);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    static const int errors[] = {ENXIO, EIO, ETIMEDOUT, EREMOTEIO};
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        tmpsysfs_fault(TMPSYSFS_FAIL_ERROR, errors[i]);
        tmpsysfs_fault(TMPSYSFS_FAIL_WRITE, 1);
        seen = -1;
        assert_int_equal(driver_dac.write(bus, 0, 0.5, &seen, &err), -errors[i]);
        a_says("channel 0: raw: does not take \"2048\"");
        assert_true(seen == -1);
    }
    assert_int_equal(driver_dac.write(bus, 0, 0.5, &seen, &err), 0); /* and goes on */
    assert_int_equal(driver_dac.write(bus, 0, 1.01, &seen, &err), -EINVAL);
    assert_int_equal(driver_dac.write(bus, 0, (double)NAN, &seen, &err), -EINVAL);
    assert_int_equal(driver_dac.write(bus, 1, 0.5, &seen, &err), -EINVAL);
    /* It takes everything and keeps its own: told by what is read back. */
    tmpsysfs_fault(TMPSYSFS_STUCK, 1);
    assert_int_equal(driver_dac.write(bus, 0, 1.0, &seen, &err), 0);
    assert_near(seen, 0.5, 0.001);
    driver_dac.destroy(bus);
}

static void comes_back(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    struct bus *bus = one_channel(PLAIN);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(driver_dac.write(bus, 0, 0.7, &seen, &err), 0);
    tmpsysfs_remove("bus");
    tmpsysfs_remove("devices");
    assert_int_equal(driver_dac.write(bus, 0, 0.7, &seen, &err), -ENODEV);
    (void)driver_dac.make_safe(bus, NULL);
    driver_dac.disconnect(bus);
    assert_int_equal(driver_dac.connect(bus, &err), -ENODEV);
    tmpsysfs_iio(4, DEVICE, "mcp4725", 1); /* under another number */
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(tmpsysfs_number("bus/iio/devices/iio:device4/out_voltage0_raw"), 0);
    driver_dac.destroy(bus);
}

static void waits_for_udev(void **state)
{
    (void)state;
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    struct bus *bus = one_channel(PLAIN);
    tmpsysfs_fault(TMPSYSFS_DENY_OPENS, 5);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    driver_dac.disconnect(bus);
    tmpsysfs_fault(TMPSYSFS_DENY_OPENS, 1000000);
    int64_t began_ns = clock_boot_ns();
    assert_int_equal(driver_dac.connect(bus, &err), -EACCES);
    assert_true(clock_boot_ns() - began_ns < 2 * CLOCK_NS_PER_S); /* the contract's budget */
    a_says("udev rule");
    driver_dac.destroy(bus);
}

static void one_lost_channel_leaves_the_others(void **state)
{
    (void)state;
    double seen = -1;
    tmpsysfs_iio(0, DEVICE, "ad5696", 1);
    struct bus *bus = new_bus("ad5696", "");
    assert_int_equal(add_dim(bus, PLAIN "channel=3"), 0);
    assert_int_equal(add_dim(bus, PLAIN "channel=0"), 0);
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(driver_dac.write(bus, 0, 0.5, &seen, &err), -ENOENT);
    assert_int_equal(driver_dac.write(bus, 1, 0.5, &seen, &err), 0);
    assert_int_equal(tmpsysfs_number(RAW), 2048);
    assert_int_equal(driver_dac.make_safe(bus, &err), -ENOENT); /* the first error … */
    assert_int_equal(tmpsysfs_number(RAW), 0);                  /* … and all that could be done */
    driver_dac.destroy(bus);
}

static void makes_safe_in_any_state(void **state)
{
    (void)state;
    double seen = -1;
    struct bus *bus = one_channel(PLAIN "safe=0.1");
    assert_int_equal(driver_dac.make_safe(bus, &err), -ENODEV);
    tmpsysfs_iio(0, DEVICE, "mcp4725", 1);
    assert_int_equal(driver_dac.make_safe(bus, &err), 0); /* before any connect */
    assert_int_equal(tmpsysfs_number(RAW), 410);          /* 409.5 */
    assert_int_equal(driver_dac.connect(bus, &err), 0);
    assert_int_equal(driver_dac.write(bus, 0, 1, &seen, &err), 0);
    tmpsysfs_fault(TMPSYSFS_FAIL_ERROR, EIO);
    tmpsysfs_fault(TMPSYSFS_FAIL_WRITE, 1);
    assert_int_equal(driver_dac.make_safe(bus, &err), -EIO);
    assert_int_equal(driver_dac.make_safe(bus, &err), 0);
    assert_int_equal(tmpsysfs_number(RAW), 410);
    driver_dac.disconnect(bus);
    assert_int_equal(driver_dac.make_safe(bus, &err), 0);
    /* Unplugged and back, unnoticed: in the one call that a stop has. */
    tmpsysfs_remove("bus");
    tmpsysfs_remove("devices");
    tmpsysfs_iio(2, DEVICE, "mcp4725", 1);
    assert_int_equal(driver_dac.make_safe(bus, &err), 0);
    assert_int_equal(tmpsysfs_number("bus/iio/devices/iio:device2/out_voltage0_raw"), 410);
    driver_dac.destroy(bus);
    driver_dac.destroy(NULL);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)
    const struct CMUnitTest tests[] = {
        TEST(finds_the_device_by_what_it_is),
        TEST(refuses_none_and_several),
        TEST(refuses_what_no_converter_can_do),
        TEST(takes_the_kernels_scale),
        TEST(keeps_within_its_volts),
        TEST(wakes_with_the_safe_value),
        TEST(drives_a_chip_that_only_listens),
        TEST(wakes_again_in_service),
        TEST(more_bits_than_the_chip_has),
        TEST(says_what_failed),
        TEST(comes_back),
        TEST(waits_for_udev),
        TEST(one_lost_channel_leaves_the_others),
        TEST(makes_safe_in_any_state),
    };
#undef TEST
    return cmocka_run_group_tests(tests, NULL, NULL);
}
