/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_setup.h"

#include "clock.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

/* What driver.h allows, with room for a machine that is busy with other tests. */
static const int64_t connect_most_ns = 2300 * CLOCK_NS_PER_MS;
static const int64_t read_most_ns = 2300 * CLOCK_NS_PER_MS;
static const int64_t write_most_ns = 1300 * CLOCK_NS_PER_MS;

static void make_bus(struct modbus_setup *setup, const char *text)
{
    assert_non_null(setup->driver);
    const struct option_value *values =
        option_fill(&setup->bus_options, setup->driver->bus_options, text);
    int rc = setup->driver->create(values, &setup->bus, &setup->err);
    if (rc < 0) {
        fail_msg("create: %s", setup->err.text);
    }
}

void modbus_setup_tcp(struct modbus_setup *setup, const char *options)
{
    *setup =
        (struct modbus_setup){.bad = bad_modbus_start_tcp(), .driver = driver_find("modbus-tcp")};
    assert_non_null(setup->bad);
    char text[240];
    (void)snprintf(text, sizeof text, "host=127.0.0.1 port=%d %s", bad_modbus_port(setup->bad),
                   options);
    make_bus(setup, text);
}

void modbus_setup_rtu(struct modbus_setup *setup, const char *options)
{
    *setup = (struct modbus_setup){.bad = bad_modbus_start_rtu(strstr(options, "echo=true")),
                                   .driver = driver_find("modbus-rtu")};
    assert_non_null(setup->bad);
    (void)snprintf(setup->folder, sizeof setup->folder, "/tmp/modbus.XXXXXX");
    assert_non_null(mkdtemp(setup->folder));
    (void)snprintf(setup->path, sizeof setup->path, "%s/line", setup->folder);
    assert_int_equal(symlink(bad_modbus_device(setup->bad), setup->path), 0);
    char text[240];
    (void)snprintf(text, sizeof text, "device=%s %s", setup->path, options);
    make_bus(setup, text);
}

void modbus_setup_replug(struct modbus_setup *setup)
{
    struct bad_modbus *next =
        bad_modbus_start_rtu(false); /* first: it must not get the same name */
    assert_non_null(next);
    bad_modbus_vanish(setup->bad);
    bad_modbus_stop(setup->bad);
    setup->bad = next;
    assert_int_equal(unlink(setup->path), 0);
    assert_int_equal(symlink(bad_modbus_device(next), setup->path), 0);
}

void modbus_setup_end(struct modbus_setup *setup)
{
    setup->driver->destroy(setup->bus);
    bad_modbus_stop(setup->bad);
    if (setup->path[0]) {
        (void)unlink(setup->path);
        (void)rmdir(setup->folder);
    }
}

void modbus_setup_sensor(struct modbus_setup *setup, const char *options)
{
    const struct option_value *values =
        option_fill(&setup->options, setup->driver->sensor_options, options);
    int rc = setup->driver->add_sensor(setup->bus, SENSOR_PPFD, values, &setup->err);
    if (rc < 0) {
        fail_msg("sensor %s: %s", options, setup->err.text);
    }
}

static void add_output(struct modbus_setup *setup, enum output_kind kind,
                       const struct option *table, const char *options)
{
    const struct option_value *values = option_fill(&setup->options, table, options);
    int rc = setup->driver->add_output(setup->bus, kind, values, &setup->err);
    if (rc < 0) {
        fail_msg("output %s: %s", options, setup->err.text);
    }
}

void modbus_setup_dim(struct modbus_setup *setup, const char *options)
{
    add_output(setup, OUTPUT_DIM, setup->driver->dim_options, options);
}

void modbus_setup_switch(struct modbus_setup *setup, const char *options)
{
    add_output(setup, OUTPUT_SWITCH, setup->driver->switch_options, options);
}

void modbus_setup_connect(struct modbus_setup *setup)
{
    int64_t limit = clock_boot_ns() + 6 * CLOCK_NS_PER_S;
    for (;;) {
        int64_t begin = clock_boot_ns();
        int rc = setup->driver->connect(setup->bus, &setup->err);
        assert_true(clock_boot_ns() - begin < connect_most_ns);
        if (rc == 0) {
            return;
        }
        if (clock_boot_ns() > limit) {
            fail_msg("connect: %d %s", rc, setup->err.text);
        }
        setup->driver->disconnect(setup->bus);
        (void)clock_sleep_until(clock_boot_ns() + 50 * CLOCK_NS_PER_MS, NULL); /* polling period */
    }
}

int modbus_setup_read(struct modbus_setup *setup)
{
    int64_t begin = clock_boot_ns();
    setup->err.text[0] = '\0';
    int rc = setup->driver->read(setup->bus, setup->samples, &setup->err);
    assert_true(clock_boot_ns() - begin < read_most_ns);
    assert_true(rc == 0 || setup->err.text[0] != '\0');
    return rc;
}

int modbus_setup_write(struct modbus_setup *setup, int output, double value, double *ret_seen)
{
    int64_t begin = clock_boot_ns();
    setup->err.text[0] = '\0';
    int rc = setup->driver->write(setup->bus, output, value, ret_seen, &setup->err);
    assert_true(clock_boot_ns() - begin < write_most_ns);
    assert_true(rc == 0 || setup->err.text[0] != '\0');
    return rc;
}

void modbus_setup_read_until_good(struct modbus_setup *setup, int sensor, double limit_s)
{
    int64_t limit = clock_boot_ns() + (int64_t)(limit_s * 1e9);
    while (modbus_setup_read(setup) != 0 || setup->samples[sensor].error != 0) {
        if (clock_boot_ns() > limit) {
            fail_msg("sensor %d still has error %d after %g s: %s", sensor,
                     setup->samples[sensor].error, limit_s, setup->err.text);
        }
        (void)clock_sleep_until(clock_boot_ns() + 20 * CLOCK_NS_PER_MS, NULL); /* polling period */
    }
}
