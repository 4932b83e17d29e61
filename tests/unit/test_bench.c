/* SPDX-License-Identifier: Apache-2.0 */
/* The bench behind driver.h: options, connect, read, write, faults, and the promise of -EIO and a
 * way back. */
#include "bench_model.h"
#include "driver.h"
#include "near.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#define VALUES_MAX 24

static const struct driver *bench;

/* The position of a key in an option table. */
static size_t key(const struct option *table, const char *name)
{
    for (size_t i = 0; table[i].name; i++) {
        if (strcmp(table[i].name, name) == 0) {
            return i;
        }
    }
    fail_msg("no option %s", name);
    return 0;
}

/* Every option at its fallback, as the configuration fills it in. */
static void fallbacks(const struct option *table, struct option_value *values)
{
    assert_true(option_count(table) <= VALUES_MAX);
    for (size_t i = 0; table[i].name; i++) {
        assert_non_null(table[i].fallback);
        assert_non_null(table[i].help);
        values[i] = (struct option_value){.text = table[i].fallback};
        if (table[i].type == OPTION_INT) {
            values[i].integer = strtoll(table[i].fallback, NULL, 10);
        } else if (table[i].type == OPTION_REAL) {
            values[i].real = strtod(table[i].fallback, NULL);
            assert_true(values[i].real >= table[i].low && values[i].real <= table[i].high);
        }
    }
}

static struct bus *create(const char *layout, double pace, const char *script)
{
    struct option_value values[VALUES_MAX];
    fallbacks(bench->bus_options, values);
    values[key(bench->bus_options, "layout")].text = layout;
    values[key(bench->bus_options, "pace")].real = pace;
    values[key(bench->bus_options, "script")].text = script;
    struct bus *bus = NULL;
    struct err err = {.text = ""};
    if (bench->create(values, &bus, &err) < 0) {
        fail_msg("%s", err.text);
    }
    return bus;
}

static int add_sensor(struct bus *bus, enum sensor_kind kind, int unit, int what, struct err *err)
{
    struct option_value values[VALUES_MAX];
    fallbacks(bench->sensor_options, values);
    values[key(bench->sensor_options, "unit")].integer = unit;
    values[key(bench->sensor_options, "what")].integer = what;
    return bench->add_sensor(bus, kind, values, err);
}

static int add_output(struct bus *bus, enum output_kind kind, int unit, struct err *err)
{
    struct option_value values[VALUES_MAX];
    fallbacks(bench->dim_options, values);
    values[key(bench->dim_options, "unit")].integer = unit;
    return bench->add_output(bus, kind, values, err);
}

enum { WHAT_USUAL, WHAT_PPFD, WHAT_HEAT, WHAT_POWER, WHAT_AIR };

/* One fixture over one canopy, all sensors: 0 ppfd, 1 heatsink, 2 power, 3 air, 4 humidity. */
static struct bus *begin(double pace, const char *script)
{
    struct bus *bus = create("1", pace, script);
    assert_int_equal(add_sensor(bus, SENSOR_PPFD, 0, WHAT_USUAL, NULL), 0);
    assert_int_equal(add_sensor(bus, SENSOR_TEMPERATURE, 0, WHAT_USUAL, NULL), 0);
    assert_int_equal(add_sensor(bus, SENSOR_POWER, 0, WHAT_POWER, NULL), 0);
    assert_int_equal(add_sensor(bus, SENSOR_TEMPERATURE, 0, WHAT_AIR, NULL), 0);
    assert_int_equal(add_sensor(bus, SENSOR_HUMIDITY, 0, WHAT_USUAL, NULL), 0);
    assert_int_equal(add_output(bus, OUTPUT_DIM, 0, NULL), 0);
    assert_int_equal(add_output(bus, OUTPUT_SWITCH, 0, NULL), 0);
    return bus;
}

/* Reads until the PPFD lies in [low, high]; bench time runs with the clock, so there is a deadline.
 */
static void await_ppfd(struct bus *bus, double low, double high)
{
    struct sample samples[5];
    int64_t deadline_ns = clock_boot_ns() + 5 * CLOCK_NS_PER_S;
    do {
        assert_int_equal(bench->read(bus, samples, NULL), 0);
        assert_int_equal(samples[0].error, 0);
        if (samples[0].value >= low && samples[0].value <= high) {
            return;
        }
        (void)usleep(2000); /* pacing, not synchronisation */
    } while (clock_boot_ns() < deadline_ns);
    fail_msg("PPFD %g never came to %g … %g", samples[0].value, low, high);
}

static void test_light_and_safe(void **state)
{
    (void)state;
    struct bus *bus = begin(600, "");
    struct sample samples[5];
    double seen = -1;
    assert_int_equal(bench->write(bus, 0, 1, &seen, NULL), -ENOTCONN);
    assert_int_equal(bench->read(bus, samples, NULL), -ENOTCONN);
    assert_int_equal(samples[4].error, -ENOTCONN);
    assert_int_equal(bench->make_safe(bus, NULL), 0);
    assert_int_equal(bench->connect(bus, NULL), 0);

    assert_int_equal(bench->write(bus, 0, 0.55, &seen, NULL), 0);
    assert_near(seen, 0.55, 0);
    assert_int_equal(bench->write(bus, 1, 1, &seen, NULL), 0);
    assert_near(seen, 1, 0);
    await_ppfd(bus, 420 * 0.5, 420 * 0.6);
    assert_int_equal(bench->read(bus, samples, NULL), 0);
    assert_near(samples[2].value, 300 * 0.5418, 5);
    assert_near(samples[3].value, 20, 2);
    assert_near(samples[4].value, 67, 8);
    assert_true(samples[1].value > 19 && samples[1].taken_ns <= clock_boot_ns());

    seen = -1;
    struct err err;
    assert_int_equal(bench->write(bus, 0, (double)NAN, &seen, &err), -EINVAL);
    assert_int_equal(bench->write(bus, 0, 1.01, &seen, &err), -EINVAL);
    assert_int_equal(bench->write(bus, 2, 1, &seen, &err), -EINVAL);
    assert_int_equal(bench->write(bus, -1, 1, &seen, &err), -EINVAL);
    assert_near(seen, -1, 0);

    assert_int_equal(bench->make_safe(bus, NULL), 0);
    await_ppfd(bus, 0, 0);
    bench->disconnect(bus);
    assert_int_equal(bench->read(bus, samples, NULL), -ENOTCONN);
    bench->destroy(bus);
    bench->destroy(NULL);
}

/* Down from the start for an hour of bench time: -EIO, then connect works again by itself. */
static void test_bus_down_and_back(void **state)
{
    (void)state;
    char path[] = "/tmp/lampwarden-script-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(dprintf(fd, "0 1h bus-down 0\n1h 1d ppfd-silent 0\n1h 1d dim-stuck 0\n"), 54);
    close(fd);
    struct bus *bus = begin(3600, path);
    unlink(path);
    struct err err = {.text = ""};
    assert_int_equal(bench->make_safe(bus, &err), -EIO);
    int code = bench->connect(bus, &err);
    assert_int_equal(code, -EIO);
    assert_non_null(strstr(err.text, "bus-down"));
    int64_t deadline_ns = clock_boot_ns() + 10 * CLOCK_NS_PER_S;
    while (code == -EIO && clock_boot_ns() < deadline_ns) {
        (void)usleep(2000);
        code = bench->connect(bus, &err);
    }
    assert_int_equal(code, 0);
    struct sample samples[5];
    assert_int_equal(bench->read(bus, samples, NULL), 0);
    assert_int_equal(samples[0].error, -ETIMEDOUT);
    assert_int_equal(samples[1].error, 0);
    double seen = -1;
    assert_int_equal(bench->write(bus, 0, 0.5, &seen, NULL), 0);
    assert_near(seen, 0, 0); /* stuck: what is read back is not what was told */
    bench->destroy(bus);
}

static void test_refusals(void **state)
{
    (void)state;
    struct err err;
    struct bus *bus = create("2,1", 1, "");
    assert_int_equal(add_sensor(bus, SENSOR_PPFD, 2, WHAT_USUAL, &err), -ERANGE);
    assert_non_null(strstr(err.text, "canopy 2 does not exist (0 … 1"));
    assert_int_equal(add_sensor(bus, SENSOR_POWER, 3, WHAT_USUAL, &err), -ERANGE);
    assert_int_equal(add_sensor(bus, SENSOR_PPFD, 0, WHAT_HEAT, &err), -EINVAL);
    assert_int_equal(add_sensor(bus, SENSOR_HUMIDITY, 0, WHAT_AIR, &err), -EINVAL);
    assert_int_equal(add_output(bus, OUTPUT_DIM, 3, &err), -ERANGE);
    assert_int_equal(add_output(bus, OUTPUT_DIM, 2, &err), 0);
    assert_int_equal(add_output(bus, OUTPUT_DIM, 2, &err), -ENOTUNIQ);
    assert_int_equal(add_output(bus, OUTPUT_SWITCH, 2, &err), 0);
    bench->destroy(bus);

    struct option_value values[VALUES_MAX];
    const char *const bad[] = {"0",    "1,", ",1",  "1,,1", "65",
                               "64,1", "a",  "1 1", "-1",   "99999999999"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        fallbacks(bench->bus_options, values);
        values[key(bench->bus_options, "layout")].text = bad[i];
        bus = NULL;
        err.text[0] = '\0';
        assert_true(bench->create(values, &bus, &err) < 0);
        assert_null(bus);
        assert_non_null(strstr(err.text, "layout"));
    }
    fallbacks(bench->bus_options, values);
    values[key(bench->bus_options, "script")].text = "/nonexistent/script";
    assert_int_equal(bench->create(values, &bus, &err), -ENOENT);
}

static void test_many_points(void **state)
{
    (void)state;
    struct err err;
    struct bus *bus = create("64", 1, "");
    for (int i = 0; i < 512; i++) {
        assert_int_equal(add_sensor(bus, SENSOR_POWER, i % 64, WHAT_USUAL, &err), 0);
    }
    assert_int_equal(add_sensor(bus, SENSOR_POWER, 0, WHAT_USUAL, &err), -ENOSPC);
    assert_int_equal(bench->connect(bus, NULL), 0);
    static struct sample samples[512];
    assert_int_equal(bench->read(bus, samples, NULL), 0);
    assert_int_equal(samples[511].error, 0);
    bench->destroy(bus);
}

static int find(void **state)
{
    (void)state;
    bench = driver_find("bench");
    return bench ? 0 : -1;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_light_and_safe),
        cmocka_unit_test(test_bus_down_and_back),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_many_points),
    };
    return cmocka_run_group_tests(tests, find, NULL);
}
