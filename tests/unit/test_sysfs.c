/* SPDX-License-Identifier: Apache-2.0 */
#include "err.h"
#include "sysfs.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const char *root;
static struct err err;

static int setup(void **state)
{
    (void)state;
    root = tmpsysfs_init();
    memset(&err, 0, sizeof err);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_finish();
    return 0;
}

static void reads_whole_numbers_and_nothing_else(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int rc;
        int64_t value;
    } cases[] = {
        {"23500\n", 0, 23500},
        {"-10000\n", 0, -10000},
        {"0", 0, 0},
        {"", -EIO, 0},
        {"\n", -EIO, 0},
        {"12 34\n", -EIO, 0},
        {"1e3\n", -EIO, 0},
        {"0x10\n", -EIO, 0},
        {"23500 mC\n", -EIO, 0},
        {"nan\n", -EIO, 0},
        {"100001\n", -EIO, 0},
        {"99999999999999999999\n", -EIO, 0},
        {"1\n2\n", -EIO, 0},
        {"00000000000000000000000000000000000000000000000000000000000000000000001\n", -EMSGSIZE, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        tmpsysfs_file("value", cases[i].text);
        int64_t value = 77;
        err.text[0] = '\0';
        assert_int_equal(sysfs_get_int(root, "value", -100000, 100000, &value, &err), cases[i].rc);
        assert_int_equal(value, cases[i].rc ? 77 : cases[i].value);
        assert_true(cases[i].rc == 0 || strstr(err.text, "/value: "));
    }
}

static void keeps_text_inside_its_buffer(void **state)
{
    (void)state;
    char text[8];
    tmpsysfs_file("name", "sensor\n"); /* 7 bytes and the NUL would fit, but could also be cut */
    assert_int_equal(sysfs_get_text(root, "name", text, sizeof text, &err), -EMSGSIZE);
    tmpsysfs_file("name", "senso\n");
    assert_int_equal(sysfs_get_text(root, "name", text, sizeof text, &err), 0);
    assert_string_equal(text, "senso");
    assert_int_equal(sysfs_get_text(root, "absent", text, sizeof text, &err), -ENOENT);
    assert_non_null(strstr(err.text, "/absent: No such file or directory"));
    assert_int_equal(sysfs_get_text(root, ".", text, sizeof text, &err), -EISDIR);
}

static void reads_an_open_attribute_again_from_its_beginning(void **state)
{
    (void)state;
    tmpsysfs_file("value", "1\n");
    int fd = sysfs_open(root, "value", O_RDWR, &err);
    assert_true(fd >= 0);
    assert_int_equal(fcntl(fd, F_GETFD) & FD_CLOEXEC, FD_CLOEXEC);
    int64_t value = 0;
    assert_int_equal(sysfs_read_int(fd, 0, 9, &value, &err), 0);
    assert_int_equal(sysfs_write_int(fd, 2, &err), 0);
    assert_int_equal(sysfs_read_int(fd, 0, 9, &value, &err), 0);
    assert_int_equal(value, 2);
    (void)close(fd);
    assert_int_equal(sysfs_put_int(root, "value", 3, &err), 0);
    assert_int_equal(tmpsysfs_number("value"), 3);
}

static void compares_paths_by_whole_names(void **state)
{
    (void)state;
    static const char path[] = "/sys/devices/platform/soc/fe20c000.pwm";
    static const struct {
        const char *part;
        bool has;
    } cases[] = {
        {"", true},
        {"/", true},
        {"fe20c000.pwm", true},
        {"soc/fe20c000.pwm", true},
        {"/soc/fe20c000.pwm/", true},
        {"/sys/devices/platform/soc/fe20c000.pwm", true},
        {"platform/soc", true},
        {"20c000.pwm", false},
        {"fe20c000", false},
        {"so/fe20c000.pwm", false},
        {"soc/fe20c000.pwm/pwm", false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(sysfs_path_has(path, cases[i].part), cases[i].has);
    }
}

static void finds_one_device_or_says_what_there_is(void **state)
{
    (void)state;
    char folder[128];
    char path[SYSFS_PATH_MAX] = "untouched";
    (void)snprintf(folder, sizeof folder, "%s/class/hwmon", root);
    struct sysfs_query query = {.folder = folder, .prefix = "hwmon", .name = "sht3x", .device = ""};
    assert_int_equal(sysfs_find(&query, path, &err), -ENODEV);
    tmpsysfs_hwmon(0, "soc/i2c-1/1-0048", "lm75");
    tmpsysfs_file("class/hwmon/hwmonitor/name", "sht3x\n"); /* no digits: not of the class */
    assert_int_equal(sysfs_find(&query, path, &err), -ENODEV);
    assert_non_null(strstr(err.text, "hwmon0 lm75 at "));
    tmpsysfs_hwmon(1, "soc/i2c-1/1-0044", "sht3x");
    assert_int_equal(sysfs_find(&query, path, &err), 0);
    assert_non_null(strstr(path, "/class/hwmon/hwmon1"));
    tmpsysfs_hwmon(2, "soc/i2c-1/1-0045", "sht3x");
    assert_int_equal(sysfs_find(&query, path, &err), -ENOTUNIQ);
    assert_non_null(strstr(path, "/class/hwmon/hwmon1"));
    query.device = "1-0045";
    assert_int_equal(sysfs_find(&query, path, &err), 0);
    assert_non_null(strstr(path, "/class/hwmon/hwmon2"));
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(reads_whole_numbers_and_nothing_else),
        TEST(keeps_text_inside_its_buffer),
        TEST(reads_an_open_attribute_again_from_its_beginning),
        TEST(compares_paths_by_whole_names),
        TEST(finds_one_device_or_says_what_there_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
