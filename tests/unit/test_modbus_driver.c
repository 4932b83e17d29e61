/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_setup.h"

#include "clock.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

/* Registers hold unit × 256 + address, see bad_modbus.h. */
static void read_and_drive(struct modbus_setup *setup)
{
    modbus_setup_sensor(setup, "unit=3 register=1");
    modbus_setup_sensor(setup, "unit=3 register=2 scale=0.1 offset=-1");
    modbus_setup_sensor(setup, "unit=4 register=7 function=4");
    modbus_setup_dim(setup, "unit=5 register=9 full=10000");
    modbus_setup_switch(setup, "unit=5 coil=2");
    bad_modbus_set_coil(setup->bad, 5, 2, true);
    modbus_setup_connect(setup);
    assert_false(bad_modbus_coil(setup->bad, 5, 2));
    assert_int_equal(bad_modbus_holding(setup->bad, 5, 9), 0);

    assert_int_equal(modbus_setup_read(setup), 0);
    assert_near(setup->samples[0].value, 0x0301, 1e-9);
    assert_near(setup->samples[1].value, 0x0302 * 0.1 - 1, 1e-9);
    assert_near(setup->samples[2].value, 0x8407, 1e-9);

    double seen = (double)NAN;
    assert_int_equal(modbus_setup_write(setup, 0, 0.25, &seen), 0);
    assert_near(seen, 0.25, 1e-9);
    assert_int_equal(bad_modbus_holding(setup->bad, 5, 9), 2500);
    assert_int_equal(modbus_setup_write(setup, 1, 1, &seen), 0);
    assert_near(seen, 1, 1e-9);
    assert_true(bad_modbus_coil(setup->bad, 5, 2));

    assert_int_equal(setup->driver->make_safe(setup->bus, &setup->err), 0);
    assert_false(bad_modbus_coil(setup->bad, 5, 2));
    assert_int_equal(bad_modbus_holding(setup->bad, 5, 9), 0);
}

static void tcp_reads_and_drives(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "");
    read_and_drive(&setup);
    modbus_setup_end(&setup);
}

static void rtu_reads_and_drives(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "");
    read_and_drive(&setup);
    modbus_setup_end(&setup);
}

/* A slow unit has its own time; a dead one beside it costs the bus's, not the slow one's. The line
 * then rests as long as the slowest may take. */
static void slow_unit_beside_quick_ones(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "timeout_ms=100 worst_reply_ms=500");
    modbus_setup_sensor(&setup, "unit=3 register=1");
    modbus_setup_sensor(&setup, "unit=4 register=1 unit_timeout_ms=600 unit_worst_reply_ms=900");
    modbus_setup_sensor(&setup, "unit=4 register=2");
    modbus_setup_sensor(&setup, "unit=9 register=1");
    modbus_setup_connect(&setup);
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_LATE, 300, 4, -1, -1, -1});
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_SILENT, 0, 9, -1, -1, 1});
    int64_t started = clock_boot_ns();
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_in_range(clock_boot_ns() - started, 400 * CLOCK_NS_PER_MS, 700 * CLOCK_NS_PER_MS);
    assert_near(setup.samples[0].value, 0x0301, 0);
    assert_near(setup.samples[1].value, 0x0401, 0);
    assert_near(setup.samples[2].value, 0x0402, 0);
    assert_int_equal(setup.samples[3].error, -ETIMEDOUT);
    started = clock_boot_ns();
    modbus_setup_read_until_good(&setup, 0, 3);
    assert_true(setup.samples[0].taken_ns - started > 800 * CLOCK_NS_PER_MS);
    modbus_setup_end(&setup);
}

/* 60 ms between the frames of a unit that asks for it. */
static void unit_that_needs_silence(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=3");
    modbus_setup_sensor(&setup, "register=1 unit_gap_ms=60");
    modbus_setup_sensor(&setup, "register=3");
    modbus_setup_sensor(&setup, "register=5");
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_true(bad_modbus_least_gap_ns(setup.bad) >= 60 * CLOCK_NS_PER_MS);
    modbus_setup_end(&setup);
}

/* The sentence stands in status until the next attempt to connect: it says what was asked in vain,
 * and gives no time at which nothing happens. */
static void a_silent_device_is_told_by_what_was_asked(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=50");
    modbus_setup_switch(&setup, "coil=3");
    modbus_setup_sensor(&setup, "register=10");
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_SILENT, 0, -1, -1, -1, -1});
    assert_int_equal(setup.driver->connect(setup.bus, &setup.err), -ETIMEDOUT);
    assert_non_null(strstr(setup.err.text, "writing coil 3: unit 5: no answer"));
    modbus_setup_end(&setup);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tcp_reads_and_drives),
        cmocka_unit_test(rtu_reads_and_drives),
        cmocka_unit_test(slow_unit_beside_quick_ones),
        cmocka_unit_test(unit_that_needs_silence),
        cmocka_unit_test(a_silent_device_is_told_by_what_was_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
