/* SPDX-License-Identifier: Apache-2.0 */
/* Who is there: identity of units, units that come late, and buses that were swapped. */
#include "modbus_setup.h"

#include "clock.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

static const uint16_t serial_number = 4660;

static void set_identity(struct modbus_setup *setup, uint16_t value)
{
    bad_modbus_set_input(setup->bad, 5, 100, value);
}

static void add_points(struct modbus_setup *setup)
{
    modbus_setup_dim(setup, "register=9 full=1000 identity_register=100 identity_function=4 "
                            "identity_value=4660");
    modbus_setup_switch(setup, "coil=2");
    modbus_setup_sensor(setup, "register=20");
}

static void light_up(struct modbus_setup *setup)
{
    bad_modbus_set_holding(setup->bad, 5, 9, 777);
    bad_modbus_set_coil(setup->bad, 5, 2, true);
}

static void assert_not_driven(struct modbus_setup *setup)
{
    assert_int_equal(bad_modbus_holding(setup->bad, 5, 9), 777);
    assert_true(bad_modbus_coil(setup->bad, 5, 2));
}

static void another_device_is_not_driven(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5 timeout_ms=150");
        } else {
            modbus_setup_rtu(&setup, "unit=5 timeout_ms=150");
        }
        add_points(&setup);
        light_up(&setup);
        assert_int_equal(setup.driver->connect(setup.bus, &setup.err), -ENODEV);
        assert_non_null(strstr(setup.err.text, "instead of 4660"));
        assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), -ENODEV);
        bad_modbus_rule(setup.bad, (struct bad_rule){BAD_EXCEPTION, 2, 5, 4, 100, -1});
        setup.driver->disconnect(setup.bus);
        assert_int_equal(setup.driver->connect(setup.bus, &setup.err), -ENODEV);
        assert_not_driven(&setup);
        bad_modbus_forget(setup.bad);
        set_identity(&setup, serial_number);
        setup.driver->disconnect(setup.bus);
        modbus_setup_connect(&setup);
        assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
        assert_false(bad_modbus_coil(setup.bad, 5, 2));
        modbus_setup_end(&setup);
    }
}

/* Two adapters change places, or their names: what comes back under the name is another line. */
static void swapped_serial_lines(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=5 timeout_ms=150");
    add_points(&setup);
    set_identity(&setup, serial_number);
    modbus_setup_connect(&setup);
    modbus_setup_replug(&setup);
    light_up(&setup);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -EIO);
    setup.driver->disconnect(setup.bus);
    assert_int_equal(setup.driver->connect(setup.bus, &setup.err), -ENODEV);
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -EIO);
    assert_not_driven(&setup);
    modbus_setup_end(&setup);
}

/* The driver opens a TCP connection again by itself after trouble: it looks who answers before it
 * writes. */
static void swapped_behind_a_new_connection(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    add_points(&setup);
    modbus_setup_sensor(&setup, "unit=6 register=1");
    set_identity(&setup, serial_number);
    modbus_setup_connect(&setup);
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_SILENT, 0, 6, -1, -1, 1});
    assert_int_equal(modbus_setup_read(&setup), 0); /* unit 6 fails, the connection is given up */
    set_identity(&setup, 1);
    light_up(&setup);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -ENODEV);
    assert_not_driven(&setup);
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -ENOTCONN);
    modbus_setup_end(&setup);
}

/* A reset means that the device may have restarted: run is told, connects anew, and everything is
 * safe first. */
static void reset_connection_is_told(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    add_points(&setup);
    set_identity(&setup, serial_number);
    modbus_setup_connect(&setup);
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_RESET, 0, 5, -1, -1, 1});
    assert_int_equal(modbus_setup_read(&setup), -ENOTCONN);
    assert_int_equal(modbus_setup_read(&setup), -ENOTCONN);
    light_up(&setup);
    setup.driver->disconnect(setup.bus);
    modbus_setup_connect(&setup);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
    assert_int_equal(modbus_setup_read(&setup), 0);
    modbus_setup_end(&setup);
}

/* A unit that is missing at the start does not keep the others dark; when it comes it is made safe
 * unasked. */
static void late_comer_is_made_safe(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
        } else {
            modbus_setup_rtu(&setup, "unit=5 timeout_ms=100 worst_reply_ms=100");
        }
        modbus_setup_dim(&setup, "register=9 full=1000");
        modbus_setup_switch(&setup, "coil=2");
        modbus_setup_switch(&setup, "unit=6 coil=2");
        modbus_setup_sensor(&setup, "unit=6 register=1");
        light_up(&setup);
        bad_modbus_set_coil(setup.bad, 6, 2, true);
        bad_modbus_rule(setup.bad, (struct bad_rule){BAD_SILENT, 0, 5, 6, -1, -1});
        bad_modbus_rule(setup.bad, (struct bad_rule){BAD_SILENT, 0, 5, 5, -1, -1});
        int64_t limit = clock_boot_ns() + 8 * CLOCK_NS_PER_S;
        while (setup.driver->connect(setup.bus, &setup.err) != 0) {
            setup.driver->disconnect(setup.bus); /* as run does */
            assert_true(clock_boot_ns() < limit);
            (void)clock_sleep_until(clock_boot_ns() + 100 * CLOCK_NS_PER_MS, NULL);
        }
        assert_false(bad_modbus_coil(setup.bad, 6, 2));
        double seen;
        int rc = modbus_setup_write(&setup, 0, 0.5, &seen);
        assert_true(rc == -ETIMEDOUT || rc == -EAGAIN);
        light_up(&setup); /* the silent unit did obey: undo that */
        bad_modbus_forget(setup.bad);
        modbus_setup_read_until_good(&setup, 0, 4);
        while (bad_modbus_holding(setup.bad, 5, 9) != 0) {
            assert_true(clock_boot_ns() < limit);
            (void)modbus_setup_read(&setup);
            (void)clock_sleep_until(clock_boot_ns() + 20 * CLOCK_NS_PER_MS, NULL);
        }
        assert_false(bad_modbus_coil(setup.bad, 5, 2));
        assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), 0);
        modbus_setup_end(&setup);
    }
}

static void nobody_there(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5");
        } else {
            modbus_setup_rtu(&setup, "unit=5");
        }
        modbus_setup_sensor(&setup, "register=1"); /* no output: someone must answer all the same */
        bad_modbus_rule(setup.bad, (struct bad_rule){BAD_SILENT, 0, -1, -1, -1, -1});
        int64_t started = clock_boot_ns();
        assert_int_equal(setup.driver->connect(setup.bus, &setup.err), -ETIMEDOUT);
        assert_true(clock_boot_ns() - started < 2200 * CLOCK_NS_PER_MS);
        assert_true(modbus_setup_read(&setup) < 0);
        modbus_setup_end(&setup);
    }
}

/* One output that refuses its safe value is that output's fault alone. */
static void refusing_output(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    modbus_setup_dim(&setup, "register=9 full=1000");
    modbus_setup_dim(&setup, "register=8 full=1000");
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_STUCK, 0, 5, 6, 9, -1});
    modbus_setup_connect(&setup);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -EPROTO);
    assert_non_null(strstr(setup.err.text, "instead of the safe value 0"));
    assert_int_equal(modbus_setup_write(&setup, 1, 0.5, &seen), 0);
    assert_near(seen, 0.5, 1e-9);
    bad_modbus_forget(setup.bad);
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), 0);
    assert_near(seen, 0.5, 1e-9);
    modbus_setup_end(&setup);
}

/* A unit that is busy whenever it is asked who it is, or told to be safe, holds up nobody else. */
static void busy_unit(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "timeout_ms=100");
        } else {
            modbus_setup_rtu(&setup, "timeout_ms=100");
        }
        modbus_setup_sensor(&setup, "unit=5 register=1 identity_register=7 identity_value=1287");
        modbus_setup_switch(&setup, "unit=5 coil=1");
        modbus_setup_switch(&setup, "unit=6 coil=1");
        modbus_setup_switch(&setup, "unit=7 coil=1");
        modbus_setup_sensor(&setup, "unit=7 register=1");
        bad_modbus_set_coil(setup.bad, 6, 1, true);
        bad_modbus_set_coil(setup.bad, 7, 1, true);
        bad_modbus_rule(setup.bad, (struct bad_rule){BAD_EXCEPTION, 6, 5, 3, 7, -1});
        bad_modbus_rule(setup.bad, (struct bad_rule){BAD_EXCEPTION, 5, 6, 5, -1, -1});
        modbus_setup_connect(&setup);
        assert_false(bad_modbus_coil(setup.bad, 7, 1));
        for (int i = 0; i < 3; i++) {
            assert_int_equal(modbus_setup_read(&setup), 0);
            assert_int_equal(setup.samples[0].error, -EAGAIN);
            assert_near(setup.samples[1].value, 0x0701, 0);
        }
        double seen;
        assert_int_equal(modbus_setup_write(&setup, 0, 1, &seen), -EAGAIN);
        assert_non_null(strstr(setup.err.text, "busy"));
        assert_int_equal(modbus_setup_write(&setup, 1, 1, &seen), -EAGAIN);
        assert_int_equal(modbus_setup_write(&setup, 2, 1, &seen), 0);
        assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), -EAGAIN);
        assert_false(bad_modbus_coil(setup.bad, 7, 1));
        bad_modbus_forget(setup.bad);
        assert_int_equal(modbus_setup_write(&setup, 1, 1, &seen), 0);
        assert_int_equal(modbus_setup_read(&setup), 0);
        assert_near(setup.samples[0].value, 0x0501, 0);
        modbus_setup_end(&setup);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(another_device_is_not_driven),
        cmocka_unit_test(swapped_serial_lines),
        cmocka_unit_test(swapped_behind_a_new_connection),
        cmocka_unit_test(reset_connection_is_told),
        cmocka_unit_test(late_comer_is_made_safe),
        cmocka_unit_test(nobody_there),
        cmocka_unit_test(refusing_output),
        cmocka_unit_test(busy_unit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
