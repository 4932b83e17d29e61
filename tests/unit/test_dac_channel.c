/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One output of a converter: from drive to the number and back.
 *
 * Outside values: V = Vref · D / 4096 (Microchip MCP4725 data sheet, equation 4-1); 12-bit values
 * of a 10 V stage by hand: 5 V = 2047.5 of 4095.
 */
#include "dac_channel.h"
#include "err.h"
#include "near.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define DEVICE "platform/soc/i2c-1/1-0060"

static char folder[128];
static struct err err;

static int setup(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s/bus/iio/devices/iio:device0", tmpsysfs_init());
    tmpsysfs_iio(0, DEVICE, "mcp4725", 2);
    memset(&err, 0, sizeof err);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_finish();
    return 0;
}

static void by_measured_full_scale(void **state)
{
    (void)state;
    static const struct {
        double low_v, high_v, drive;
        int64_t raw;
    } cases[] = {
        {0, 10, 0, 0},   {0, 10, 1, 4095}, {0, 10, 0.5, 2048}, {1, 10, 0, 410},   {1, 10, 1, 4095},
        {0, 5, 1, 2047}, {10, 0, 0, 4095}, {10, 0, 1, 0},      {0, 3.3, 1, 1351}, {0, 0.1, 1, 40},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct dac_channel channel = {.bits = 12,
                                      .full_scale_v = 10,
                                      .gain = 1,
                                      .volts_low = cases[i].low_v,
                                      .volts_high = cases[i].high_v};
        assert_int_equal(dac_channel_open(&channel, folder, &err), 0);
        assert_int_equal(dac_channel_raw(&channel, cases[i].drive), cases[i].raw);
        assert_near(dac_channel_drive_of(&channel, cases[i].raw), cases[i].drive, 0.03);
        dac_channel_close(&channel);
    }
}

static void by_the_kernels_scale(void **state)
{
    (void)state;
    /* Vref 3.3 V: 3300 mV / 4096 = 0.805664 mV; D = 2048 → 1.65 V, × 3.03 → 5 V. */
    tmpsysfs_file("bus/iio/devices/iio:device0/out_voltage1_scale", "0.805664062\n");
    struct dac_channel channel = {
        .number = 1, .bits = 12, .gain = 10 / 3.3, .volts_low = 0, .volts_high = 9.99};
    assert_int_equal(dac_channel_open(&channel, folder, &err), 0);
    assert_int_equal(dac_channel_raw(&channel, 5 / 9.99), 2048);
    dac_channel_close(&channel);
    /* A text that is no number is no scale. */
    tmpsysfs_file("bus/iio/devices/iio:device0/out_voltage1_scale", "0,8\n");
    assert_int_equal(dac_channel_open(&channel, folder, &err), -EIO);
    assert_non_null(strstr(err.text, "out_voltage1_scale"));
    tmpsysfs_file("bus/iio/devices/iio:device0/out_voltage1_scale", "0\n");
    assert_int_equal(dac_channel_open(&channel, folder, &err), -EIO);
    assert_false(channel.is_open);
}

static void drives_and_reads_back(void **state)
{
    (void)state;
    double seen = 0;
    struct dac_channel channel = {.bits = 12, .full_scale_v = 10, .volts_high = 10};
    assert_int_equal(dac_channel_drive(&channel, 0, &seen, &err), -ENOTCONN);
    assert_int_equal(dac_channel_open(&channel, folder, &err), 0);
    assert_int_equal(dac_channel_open(&channel, folder, &err), 0); /* twice is fine */
    assert_int_equal(dac_channel_drive(&channel, 0.25, &seen, &err), 0);
    assert_near(seen, 0.25, 0.0002);
    dac_channel_close(&channel);
    dac_channel_close(&channel);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)
    const struct CMUnitTest tests[] = {
        TEST(by_measured_full_scale),
        TEST(by_the_kernels_scale),
        TEST(drives_and_reads_back),
    };
#undef TEST
    return cmocka_run_group_tests(tests, NULL, NULL);
}
