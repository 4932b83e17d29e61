/* SPDX-License-Identifier: Apache-2.0 */
/* Asking addresses one by one, on a bus whose sensors are read meanwhile. */
#include "modbus_setup.h"

#include "clock.h"
#include "near.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static char words[80];

static int probe(struct modbus_setup *setup, int address)
{
    int64_t begin = clock_boot_ns();
    setup->err.text[0] = '\0';
    (void)snprintf(words, sizeof words, "untouched");
    int rc = setup->driver->probe(setup->bus, address, words, sizeof words, &setup->err);
    assert_true(clock_boot_ns() - begin < 2300 * CLOCK_NS_PER_MS);
    assert_true(rc == 0 || setup->err.text[0] != '\0');
    assert_true(rc == 0 || strcmp(words, "untouched") == 0);
    return rc;
}

static void rule_of(struct modbus_setup *setup, int unit, enum bad_kind kind, int value, int times)
{
    bad_modbus_rule(setup->bad, (struct bad_rule){kind, value, unit, -1, -1, times});
}

static void begin(struct modbus_setup *setup, bool is_tcp)
{
    if (is_tcp) {
        modbus_setup_tcp(setup, "unit=5 timeout_ms=100 worst_reply_ms=500");
    } else {
        modbus_setup_rtu(setup, "unit=5 timeout_ms=100 worst_reply_ms=500");
    }
    modbus_setup_sensor(setup, "register=10 function=4");
    modbus_setup_connect(setup);
    assert_int_equal(modbus_setup_read(setup), 0);
}

static void whoever_answers(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        begin(&setup, is_tcp);
        int before = bad_modbus_requests(setup.bad);
        assert_int_equal(probe(&setup, 9), 0);
        assert_string_equal(words, "register 0 holds 2304 (0x0900)");
        rule_of(&setup, 247, BAD_EXCEPTION, 2, 1);
        assert_int_equal(probe(&setup, 247), 0);
        assert_string_equal(words, "refuses: illegal data address");
        rule_of(&setup, 1, BAD_EXCEPTION, 1, 1);
        assert_int_equal(probe(&setup, 1), 0);
        assert_string_equal(words, "refuses: illegal function");
        rule_of(&setup, 2, BAD_EXCEPTION, 6, 1);
        assert_int_equal(probe(&setup, 2), 0);
        assert_string_equal(words, "refuses: device busy");
        assert_int_equal(probe(&setup, 5), 0); /* ours: what it is always asked */
        assert_string_equal(words, "input register 10 holds 34058 (0x850A)");
        assert_int_equal(bad_modbus_requests(setup.bad), before + 5);
        assert_int_equal(modbus_setup_read(&setup), 0);
        assert_near(setup.samples[0].value, 0x850A, 0);
        modbus_setup_end(&setup);
    }
}

static void no_such_address(void **state)
{
    (void)state;
    static const int wrong[2][3] = {{0, 248, -1}, {-1, 256, 1000}};
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        begin(&setup, is_tcp);
        for (int i = 0; i < 3; i++) {
            assert_int_equal(probe(&setup, wrong[is_tcp][i]), -EINVAL);
            assert_non_null(strstr(setup.err.text, is_tcp ? "(0 … 255)" : "(1 … 247)"));
        }
        modbus_setup_end(&setup);
    }
}

/* Nobody at the address: the line is silent for a while, then the sensors have their turn, and only
 * then the next address. The sensors lose no more than that. */
static void empty_addresses(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        begin(&setup, is_tcp);
        for (int address = 20; address < 23; address++) {
            rule_of(&setup, address, BAD_SILENT, 0, -1);
            int64_t started = clock_boot_ns();
            assert_int_equal(probe(&setup, address), -ETIMEDOUT);
            assert_int_equal(probe(&setup, address + 1), -EAGAIN);
            if (address == 20) {
                (void)clock_sleep_until(started + 700 * CLOCK_NS_PER_MS, NULL); /* silence over */
                assert_int_equal(probe(&setup, address + 1), -EAGAIN);
                assert_non_null(strstr(setup.err.text, "sensors"));
            }
            int rc;
            while ((rc = modbus_setup_read(&setup)) != 0) {
                assert_int_equal(rc, -EAGAIN); /* never a fault of the unit, nor a lost bus */
                assert_true(clock_boot_ns() - started < 2 * CLOCK_NS_PER_S);
                (void)clock_sleep_until(clock_boot_ns() + 10 * CLOCK_NS_PER_MS, NULL);
            }
            assert_int_equal(setup.samples[0].error, 0);
            int64_t least = 600; /* timeout and silence */
            assert_true(clock_boot_ns() - started >= least * CLOCK_NS_PER_MS);
        }
        assert_int_equal(probe(&setup, 9), 0);
        modbus_setup_end(&setup);
    }
}

/* An address that answers after we gave it up: its answer is never the answer of a unit of ours. */
static void late_answer_of_a_stranger(void **state)
{
    (void)state;
    static const int late_ms[] = {120, 300, 450};
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        begin(&setup, is_tcp);
        for (size_t i = 0; i < sizeof late_ms / sizeof *late_ms; i++) {
            rule_of(&setup, 9, BAD_LATE, late_ms[i], 1);
            assert_int_equal(probe(&setup, 9), -ETIMEDOUT);
            int64_t limit = clock_boot_ns() + 3 * CLOCK_NS_PER_S;
            for (int good = 0; good < 5;) {
                (void)modbus_setup_read(&setup);
                if (setup.samples[0].error == 0) {
                    assert_near(setup.samples[0].value, 0x850A, 0);
                    good++;
                } else {
                    assert_int_equal(setup.samples[0].error, -EAGAIN);
                }
                assert_true(clock_boot_ns() < limit);
                (void)clock_sleep_until(clock_boot_ns() + 10 * CLOCK_NS_PER_MS, NULL);
            }
        }
        modbus_setup_end(&setup);
    }
}

/* A gateway that cannot reach the unit is not the unit; the connection stays as it is. */
static void gateway_answers_for_nobody(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin(&setup, true);
    rule_of(&setup, 9, BAD_EXCEPTION, 0x0B, 1);
    assert_int_equal(probe(&setup, 9), -ETIMEDOUT);
    assert_non_null(strstr(setup.err.text, "unit 9: the gateway answers"));
    rule_of(&setup, 10, BAD_EXCEPTION, 0x0A, 1);
    assert_int_equal(probe(&setup, 10), -ETIMEDOUT);
    assert_int_equal(probe(&setup, 11), 0);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(setup.samples[0].error, 0);
    assert_int_equal(bad_modbus_connections(setup.bad), 1);
    modbus_setup_end(&setup);
}

static void garbled_answer(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        begin(&setup, is_tcp);
        rule_of(&setup, 9, BAD_CHECKSUM, 0, 1);
        assert_int_equal(probe(&setup, 9), -EBADMSG);
        assert_non_null(strstr(setup.err.text, "unit 9: "));
        modbus_setup_read_until_good(&setup, 0, 3);
        assert_int_equal(probe(&setup, 9), 0);
        modbus_setup_end(&setup);
    }
}

/* A unit of ours that rests after failures is asked at once; its answer ends the rest. */
static void resting_unit(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    modbus_setup_sensor(&setup, "register=10");
    modbus_setup_sensor(&setup, "unit=6 register=11");
    modbus_setup_connect(&setup);
    rule_of(&setup, 6, BAD_EXCEPTION, 0x0B, 3);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(probe(&setup, 6), -ETIMEDOUT);
    }
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(setup.samples[1].error, -ETIMEDOUT); /* it rests: not asked */
    assert_int_equal(probe(&setup, 6), 0);
    assert_string_equal(words, "register 11 holds 1547 (0x060B)");
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_near(setup.samples[1].value, 0x060B, 0);
    modbus_setup_end(&setup);
}

/* Three requests in a row without an answer make a silent bus; those to empty addresses do not
 * count. */
static void empty_addresses_make_no_silent_bus(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=50");
    modbus_setup_sensor(&setup, "register=10");
    modbus_setup_connect(&setup);
    rule_of(&setup, 5, BAD_EXCEPTION, 0x0B, 1);
    assert_int_equal(modbus_setup_read(&setup), 0); /* from now on it rests for 1 s */
    rule_of(&setup, 9, BAD_SILENT, 0, -1);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(probe(&setup, 9), -ETIMEDOUT);
        assert_int_equal(modbus_setup_read(&setup), -ETIMEDOUT);
    }
    modbus_setup_read_until_good(&setup, 0, 3);
    modbus_setup_end(&setup);
}

/* Nobody answers where the configuration says: that is when one asks around. No output is touched,
 * and the next connection begins as it should. */
static void without_a_connection(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
        } else {
            modbus_setup_rtu(&setup, "unit=5 timeout_ms=100 worst_reply_ms=300");
        }
        modbus_setup_sensor(&setup, "register=10");
        modbus_setup_switch(&setup, "coil=2");
        rule_of(&setup, 5, BAD_EXCEPTION, 2, -1);
        bad_modbus_set_coil(setup.bad, 5, 2, true);
        assert_int_equal(probe(&setup, 9), 0); /* before the first connection */
        rule_of(&setup, 7, BAD_SILENT, 0, 1);
        assert_int_equal(probe(&setup, 7), -ETIMEDOUT);
        int64_t limit = clock_boot_ns() + 3 * CLOCK_NS_PER_S;
        int rc;
        while ((rc = probe(&setup, 9)) != 0) {
            assert_int_equal(rc, -EAGAIN);
            assert_true(clock_boot_ns() < limit);
            (void)clock_sleep_until(clock_boot_ns() + 10 * CLOCK_NS_PER_MS, NULL);
        }
        assert_string_equal(words, "register 0 holds 2304 (0x0900)");
        assert_true(bad_modbus_coil(setup.bad, 5, 2)); /* not ours yet */
        bad_modbus_forget(setup.bad);
        modbus_setup_connect(&setup);
        assert_false(bad_modbus_coil(setup.bad, 5, 2));
        assert_int_equal(modbus_setup_read(&setup), 0);
        modbus_setup_end(&setup);
    }
}

static void lost_line(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        begin(&setup, is_tcp);
        bad_modbus_vanish(setup.bad);
        int rc = probe(&setup, 9);
        if (rc == -ETIMEDOUT) { /* the line's end arrived between the two calls */
            (void)modbus_setup_read(&setup);
            rc = probe(&setup, 9);
        }
        assert_int_equal(rc, is_tcp ? -ENOTCONN : -EIO);
        assert_int_equal(probe(&setup, 9), is_tcp ? -ENOTCONN : -EIO); /* it cannot be opened */
        assert_int_equal(modbus_setup_read(&setup), is_tcp ? -ENOTCONN : -EIO);
        modbus_setup_end(&setup);
    }
}

/* Outputs without a sensor: nothing has to be read in between; coils have words, too. */
static void bus_without_sensors(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    modbus_setup_switch(&setup, "coil=2");
    modbus_setup_connect(&setup);
    rule_of(&setup, 9, BAD_SILENT, 0, 2);
    assert_int_equal(probe(&setup, 9), -ETIMEDOUT);
    assert_int_equal(probe(&setup, 9), -ETIMEDOUT);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 0, 1, &seen), 0);
    assert_int_equal(probe(&setup, 5), 0);
    assert_string_equal(words, "coil 2 is on");
    modbus_setup_end(&setup);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whoever_answers),
        cmocka_unit_test(no_such_address),
        cmocka_unit_test(empty_addresses),
        cmocka_unit_test(late_answer_of_a_stranger),
        cmocka_unit_test(gateway_answers_for_nobody),
        cmocka_unit_test(garbled_answer),
        cmocka_unit_test(resting_unit),
        cmocka_unit_test(empty_addresses_make_no_silent_bus),
        cmocka_unit_test(without_a_connection),
        cmocka_unit_test(lost_line),
        cmocka_unit_test(bus_without_sensors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
