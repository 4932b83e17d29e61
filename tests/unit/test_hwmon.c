/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Units as in the kernel's Documentation/hwmon/sysfs-interface.rst: millidegree Celsius,
 * milli-percent, microwatt. What 1-Wire probes say: drivers/w1/slaves/w1_therm.c (750 ms for a
 * conversion of 12 bits; −55 … 125 °C; 127.937 with too little power), and Maxim's DS18B20 data
 * sheet (85 °C at power-on). Reads and time are the test's own, so that slowness costs none.
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
#include <string.h>

#include <cmocka.h>

extern const struct driver driver_hwmon;

static char folder[128];
static struct err err;

static int64_t now_ns;        /* this program's boot and real time … */
static int64_t read_takes_ns; /* … of which each read of a value takes so much */
static int read_error;        /* and fails with this errno; 0: it reads */

int64_t __wrap_clock_boot_ns(void);
int64_t __wrap_clock_boot_ns(void)
{
    return now_ns;
}

int64_t __wrap_clock_real_ns(void);
int64_t __wrap_clock_real_ns(void)
{
    return now_ns;
}

static int read_of(const char *name)
{
    bool is_value = strstr(name, "_input");
    now_ns += is_value ? read_takes_ns : 0;
    return is_value ? read_error : 0;
}

static int setup(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s/class/hwmon", tmpsysfs_init());
    memset(&err, 0, sizeof err);
    now_ns = 1000 * CLOCK_NS_PER_S;
    read_takes_ns = read_error = 0;
    tmpsysfs_on_read(read_of);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_finish();
    return 0;
}

static struct bus *new_bus(void)
{
    struct option_value options[] = {{.text = folder}};
    struct bus *bus = NULL;
    assert_int_equal(driver_hwmon.create(options, &bus, &err), 0);
    return bus;
}

static int add(struct bus *bus, enum sensor_kind kind, const char *chip, const char *device,
               const char *channel)
{
    struct option_value options[] = {
        {.text = chip}, {.text = device}, {.text = channel}, {.real = 1}, {.real = 0}};
    return driver_hwmon.add_sensor(bus, kind, options, &err);
}

#define assert_says(part) assert_non_null(strstr(err.text, part))
#define assert_value(s, wanted)                                                                    \
    assert_true((s).error == 0 && fabs((s).value - (wanted)) < 1e-9 && (s).taken_ns > 0)

static void reads_every_kind_in_its_unit(void **state)
{
    (void)state;
    tmpsysfs_hwmon(0, "platform/soc/i2c-1/1-0044", "sht3x");
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "23500\n");
    tmpsysfs_file("class/hwmon/hwmon0/humidity1_input", "61200\n");
    tmpsysfs_hwmon(1, "platform/soc/i2c-1/1-0040", "ina219");
    tmpsysfs_file("class/hwmon/hwmon1/power1_input", "148200000\n");
    struct bus *bus = new_bus();
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, "sht3x", "", "temp1"), 0);
    assert_int_equal(add(bus, SENSOR_HUMIDITY, "sht3x", "", "humidity1"), 0);
    assert_int_equal(add(bus, SENSOR_POWER, "ina219", "", "power1"), 0);
    struct option_value corrected[] = {
        {.text = "sht3x"}, {.text = ""}, {.text = "temp1"}, {.real = 2}, {.real = -0.75}};
    assert_int_equal(driver_hwmon.add_sensor(bus, SENSOR_TEMPERATURE, corrected, &err), 0);
    struct sample samples[4];
    assert_int_equal(driver_hwmon.read(bus, samples, &err), -ENOTCONN);
    assert_true(samples[2].error == -ENOTCONN && isnan(samples[2].value));
    assert_int_equal(driver_hwmon.connect(bus, &err), 0);
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_value(samples[0], 23.5);
    assert_value(samples[1], 61.2);
    assert_value(samples[2], 148.2);
    assert_value(samples[3], 46.25);
    assert_string_equal(samples[2].raw, "148200000"); /* as the device said it */
    assert_string_equal(samples[3].raw, "23500");
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "-10062\n");
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_value(samples[0], -10.062);
    assert_string_equal(samples[0].raw, "-10062");
    driver_hwmon.destroy(bus);
}

static void refuses_channels_of_another_kind(void **state)
{
    (void)state;
    struct bus *bus = new_bus();
    static const char *const bad[] = {"humidity1",   "temp",     "temp0",
                                      "temp1_input", "temp1/..", "Temp1"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(add(bus, SENSOR_TEMPERATURE, "sht3x", "", bad[i]), -EINVAL);
        assert_says(bad[i]);
    }
    assert_int_equal(add(bus, SENSOR_POWER, "sht3x", "", "temp1"), -EINVAL);
    assert_int_equal(add(bus, SENSOR_PPFD, "sht3x", "", "temp1"), -ENOTSUP);
    assert_int_equal(driver_hwmon.add_output(bus, OUTPUT_DIM, NULL, &err), -ENOTSUP);
    driver_hwmon.destroy(bus);
}

/* Two probes of one name swap their numbers: the device's path keeps them apart. */
static void tells_probes_apart_by_device(void **state)
{
    (void)state;
    for (int order = 0; order < 2; order++) {
        tmpsysfs_hwmon(order ? 5 : 3, "w1_bus_master1/28-000005e2fdc3", "w1_slave_temp");
        tmpsysfs_hwmon(order ? 3 : 5, "w1_bus_master1/28-000005e2aa01", "w1_slave_temp");
        tmpsysfs_file("devices/w1_bus_master1/28-000005e2fdc3/hwmon/hwmon3/temp1_input", "41000\n");
        tmpsysfs_file("devices/w1_bus_master1/28-000005e2fdc3/hwmon/hwmon5/temp1_input", "41000\n");
        tmpsysfs_file("devices/w1_bus_master1/28-000005e2aa01/hwmon/hwmon3/temp1_input", "19000\n");
        tmpsysfs_file("devices/w1_bus_master1/28-000005e2aa01/hwmon/hwmon5/temp1_input", "19000\n");
        struct bus *bus = new_bus();
        assert_int_equal(add(bus, SENSOR_TEMPERATURE, "w1_slave_temp", "28-000005e2fdc3", "temp1"),
                         0);
        assert_int_equal(add(bus, SENSOR_TEMPERATURE, "w1_slave_temp", "", "temp1"), 0);
        assert_int_equal(driver_hwmon.connect(bus, &err), 0); /* one of two is enough to run */
        struct sample samples[2];
        assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
        assert_value(samples[0], 41);
        assert_int_equal(samples[1].error, -ENOTUNIQ);
        driver_hwmon.destroy(bus);

        bus = new_bus();
        assert_int_equal(add(bus, SENSOR_TEMPERATURE, "w1_slave_temp", "", "temp1"), 0);
        assert_int_equal(driver_hwmon.connect(bus, &err), -ENOTUNIQ);
        assert_says("w1_slave_temp temp1_input: ");
        assert_says("28-000005e2aa01");
        driver_hwmon.destroy(bus);
        tmpsysfs_remove("class");
        tmpsysfs_remove("devices");
    }
}

static void garbage_is_an_error_of_that_sensor_alone(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "", "\n", "U\n", "23.5\n", "nan\n", "23500 m\n", "99999999999999999\n"};
    tmpsysfs_hwmon(0, "i2c-1/1-0048", "lm75");
    tmpsysfs_hwmon(1, "i2c-1/1-0044", "sht3x");
    tmpsysfs_file("class/hwmon/hwmon1/temp1_input", "20000\n");
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "20000\n");
    struct bus *bus = new_bus();
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, "lm75", "", "temp1"), 0);
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, "sht3x", "", "temp1"), 0);
    assert_int_equal(driver_hwmon.connect(bus, &err), 0);
    struct sample samples[2];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        tmpsysfs_file("class/hwmon/hwmon0/temp1_input", bad[i]);
        assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
        assert_int_equal(samples[0].error, -EIO);
        assert_true(isnan(samples[0].value));
        assert_string_equal(samples[0].raw, "");
        assert_value(samples[1], 20);
    }
    tmpsysfs_file("class/hwmon/hwmon0/temp1_fault", "1\n"); /* an open probe looks cold */
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "-40000\n");
    driver_hwmon.disconnect(bus);
    assert_int_equal(driver_hwmon.connect(bus, &err), 0);
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_int_equal(samples[0].error, -EIO);
    assert_value(samples[1], 20);
    tmpsysfs_file("class/hwmon/hwmon0/temp1_fault", "0\n");
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "85000\n"); /* judged elsewhere */
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_value(samples[0], 85);
    driver_hwmon.destroy(bus);
}

/* One sensor of one chip with one value. */
static struct sample one(const char *chip, const char *text)
{
    struct sample sample;
    tmpsysfs_hwmon(0, "w1_bus_master1/28-000005e2fdc3", chip);
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", text);
    struct bus *bus = new_bus();
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, chip, "", "temp1"), 0);
    assert_int_equal(driver_hwmon.connect(bus, &err), 0);
    assert_int_equal(driver_hwmon.read(bus, &sample, &err), 0);
    driver_hwmon.destroy(bus);
    tmpsysfs_remove("class");
    tmpsysfs_remove("devices");
    return sample;
}

static void what_a_probe_cannot_measure_is_an_error(void **state)
{
    (void)state;
    static const struct {
        const char *chip, *text;
        bool is_error;
    } rows[] = {
        {"w1_slave_temp", "127937", true},  /* too little power */
        {"w1_slave_temp", "-127000", true}, /* no probe */
        {"w1_slave_temp", "0", true},       /* line shorted: all zeros, and their CRC is right */
        {"w1_slave_temp", "62", false},
        {"w1_slave_temp", "-62", false},
        {"w1_slave_temp", "85000", false}, /* perhaps: judged in its context */
        {"w1_slave_temp", "125000", false},
        {"w1_slave_temp", "-55000", false},
        {"lm75", "0", false},
        {"lm75", "127937", false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct sample sample = one(rows[i].chip, rows[i].text);
        assert_int_equal(sample.error, rows[i].is_error ? -EIO : 0);
        assert_true(isnan(sample.value) == rows[i].is_error);
        assert_string_equal(sample.raw, rows[i].text); /* shown all the same */
    }
    struct option_value probe[] = {
        {.text = "w1_slave_temp"}, {.text = ""}, {.text = "temp1"}, {.real = 1}, {.real = -0.5}};
    assert_true(driver_hwmon.power_on_c(probe) == 84.5); /* as it arrives, corrected */
    probe[0].text = "lm75";
    assert_true(isnan(driver_hwmon.power_on_c(probe)));
}

static void slow_probes_take_turns(void **state)
{
    (void)state;
    enum { PROBES = 5 };
    struct bus *bus = new_bus();
    for (int i = 0; i < PROBES; i++) {
        char device[48];
        char path[80];
        (void)snprintf(device, sizeof device, "w1_bus_master1/28-%012d", i);
        tmpsysfs_hwmon(i, device, "w1_slave_temp");
        (void)snprintf(path, sizeof path, "class/hwmon/hwmon%d/temp1_input", i);
        tmpsysfs_file(path, "30000\n");
    }
    static const char *const ids[PROBES] = {"28-000000000000", "28-000000000001", "28-000000000002",
                                            "28-000000000003", "28-000000000004"};
    for (int i = 0; i < PROBES; i++) {
        assert_int_equal(add(bus, SENSOR_TEMPERATURE, "w1_slave_temp", ids[i], "temp1"), 0);
    }
    assert_int_equal(driver_hwmon.connect(bus, &err), 0);
    read_takes_ns = 750 * CLOCK_NS_PER_MS;
    struct sample samples[PROBES];
    for (int turn = 0; turn < 6; turn++) {
        int64_t began_ns = now_ns;
        int fresh = 0;
        assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
        assert_true(now_ns - began_ns <= 2 * CLOCK_NS_PER_S); /* the contract's time */
        for (int i = 0; i < PROBES; i++) {
            fresh += samples[i].taken_ns > began_ns;
            bool had_a_turn = turn * 2 + 2 > i;
            assert_int_equal(samples[i].error, had_a_turn ? 0 : -EAGAIN);
        }
        assert_int_equal(fresh, 2);
    }
    driver_hwmon.destroy(bus);
}

/* What the kernel says when a probe is wet, unplugged or its bus hangs. */
static void errors_of_a_read_are_samples_with_a_way_back(void **state)
{
    (void)state;
    static const struct {
        int error, seen;
        bool is_looked_for;
    } rows[] = {
        {EIO, -EIO, false},      {ETIMEDOUT, -ETIMEDOUT, false}, {EAGAIN, -EAGAIN, false},
        {ENODEV, -ENODEV, true}, {ENXIO, -ENODEV, true},
    };
    tmpsysfs_hwmon(0, "i2c-1/1-0048", "lm75");
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "30000\n");
    struct bus *bus = new_bus();
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, "lm75", "", "temp1"), 0);
    assert_int_equal(driver_hwmon.connect(bus, &err), 0);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct sample sample;
        read_error = rows[i].error;
        /* A bus of which everything is gone says so itself. */
        assert_int_equal(driver_hwmon.read(bus, &sample, &err),
                         rows[i].is_looked_for ? -ENODEV : 0);
        assert_int_equal(sample.error, rows[i].seen);
        assert_true(isnan(sample.value) && sample.raw[0] == '\0');
        read_error = 0;
        assert_int_equal(driver_hwmon.read(bus, &sample, &err), 0);
        assert_value(sample, 30);
    }
    driver_hwmon.destroy(bus);
}

static void finds_a_device_again_under_another_number(void **state)
{
    (void)state;
    struct bus *bus = new_bus();
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, "lm75", "", "temp1"), 0);
    assert_int_equal(add(bus, SENSOR_TEMPERATURE, "sht3x", "", "temp1"), 0);
    assert_int_equal(driver_hwmon.connect(bus, &err), -ENODEV); /* no class at all */
    tmpsysfs_hwmon(0, "i2c-1/1-0048", "lm75");
    tmpsysfs_file("class/hwmon/hwmon0/temp1_input", "30000\n");
    assert_int_equal(driver_hwmon.connect(bus, &err), 0); /* one of two */
    struct sample samples[2];
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_value(samples[0], 30);
    assert_int_equal(samples[1].error, -ENODEV);
    tmpsysfs_hwmon(7, "i2c-1/1-0044", "sht3x"); /* comes late */
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_int_equal(samples[1].error, -ENODEV); /* its name is there before its values */
    tmpsysfs_file("class/hwmon/hwmon7/temp1_input", "21000\n");
    assert_int_equal(driver_hwmon.read(bus, samples, &err), 0);
    assert_value(samples[1], 21);
    driver_hwmon.disconnect(bus);
    tmpsysfs_remove("class");
    assert_int_equal(driver_hwmon.connect(bus, &err), -ENODEV);
    assert_int_equal(driver_hwmon.make_safe(bus, &err), 0);
    driver_hwmon.destroy(bus);
    driver_hwmon.destroy(NULL);
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(reads_every_kind_in_its_unit),
        TEST(refuses_channels_of_another_kind),
        TEST(tells_probes_apart_by_device),
        TEST(garbage_is_an_error_of_that_sensor_alone),
        TEST(what_a_probe_cannot_measure_is_an_error),
        TEST(slow_probes_take_turns),
        TEST(errors_of_a_read_are_samples_with_a_way_back),
        TEST(finds_a_device_again_under_another_number),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
