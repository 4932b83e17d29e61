/* SPDX-License-Identifier: Apache-2.0 */
/* Driving outputs of units that misbehave. Unit 5 has a dim at register 9 (0 … 1000) and a switch
 * at coil 2. */
#include "modbus_bus.h"
#include "modbus_setup.h"

#include "clock.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void rule(struct modbus_setup *setup, enum bad_kind kind, int value, int unit, int function)
{
    bad_modbus_rule(setup->bad, (struct bad_rule){kind, value, unit, function, -1, -1});
}

static void rule_once(struct modbus_setup *setup, enum bad_kind kind, int value, int unit,
                      int function)
{
    bad_modbus_rule(setup->bad, (struct bad_rule){kind, value, unit, function, -1, 1});
}

static void begin_tcp(struct modbus_setup *setup, const char *dim_options)
{
    modbus_setup_tcp(setup, "unit=5 timeout_ms=150");
    char text[120];
    (void)snprintf(text, sizeof text, "register=9 full=1000 %s", dim_options);
    modbus_setup_dim(setup, text);
    modbus_setup_switch(setup, "coil=2");
    modbus_setup_connect(setup);
}

static double drive(struct modbus_setup *setup, int output, double value)
{
    double seen = -1;
    int rc = modbus_setup_write(setup, output, value, &seen);
    if (rc < 0) {
        fail_msg("write: %s", setup->err.text);
    }
    return seen;
}

static void absolute_values_read_back(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin_tcp(&setup, "");
    static const double drives[] = {0, 0.001, 0.3, 0.9995, 1};
    static const int raw[] = {0, 1, 300, 1000, 1000};
    for (size_t i = 0; i < sizeof raw / sizeof *raw; i++) {
        assert_near(drive(&setup, 0, drives[i]), raw[i] / 1000.0, 1e-9);
        assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), raw[i]);
    }
    rule(&setup, BAD_STUCK, 0, 5, 6); /* confirmed, but not done */
    assert_near(drive(&setup, 0, 0.2), 1, 1e-9);
    bad_modbus_forget(setup.bad);
    rule(&setup, BAD_STUCK, 0, 5, 5);
    assert_near(drive(&setup, 1, 1), 0, 1e-9);
    modbus_setup_end(&setup);
}

static void without_verification(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin_tcp(&setup, "verify=false write_function=16");
    uint8_t bytes[64];
    (void)bad_modbus_recorded(setup.bad, bytes, sizeof bytes);
    assert_true(isnan(drive(&setup, 0, 0.5)));
    /* Modbus Application Protocol V1.1b3, 6.12: 10 00 09 00 01 02 01 F4 */
    static const uint8_t body[] = {5, 0x10, 0, 9, 0, 1, 2, 0x01, 0xF4};
    assert_int_equal(bad_modbus_recorded(setup.bad, bytes, sizeof bytes), 6 + sizeof body);
    assert_memory_equal(bytes + 6, body, sizeof body);
    modbus_setup_end(&setup);
}

static void inverted_outputs(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=150");
    modbus_setup_dim(&setup, "register=9 full=0 zero=1000 safe=0.1");
    modbus_setup_switch(&setup, "coil=2 inverted=true");
    modbus_setup_connect(&setup);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 900);
    assert_true(bad_modbus_coil(setup.bad, 5, 2)); /* on: the contact is open */
    assert_near(drive(&setup, 0, 1), 1, 1e-9);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
    assert_near(drive(&setup, 1, 1), 1, 1e-9);
    assert_false(bad_modbus_coil(setup.bad, 5, 2));
    assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), 0);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 900);
    assert_true(bad_modbus_coil(setup.bad, 5, 2));
    modbus_setup_end(&setup);
}

static void refused_values(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin_tcp(&setup, "");
    static const struct {
        int output;
        double value;
    } cases[] = {{0, -0.01}, {0, 1.01},        {0, (double)NAN}, {0, (double)INFINITY},
                 {1, 0.5},   {1, (double)NAN}, {1, 2},           {2, 0},
                 {-1, 0}};
    int before = bad_modbus_requests(setup.bad);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double seen = -7;
        assert_int_equal(modbus_setup_write(&setup, cases[i].output, cases[i].value, &seen),
                         -EINVAL);
        assert_near(seen, -7, 0);
    }
    assert_int_equal(bad_modbus_requests(setup.bad), before);
    modbus_setup_end(&setup);
}

static void refusing_units(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin_tcp(&setup, "");
    static const struct {
        int code, error;
    } cases[] = {{1, -EOPNOTSUPP}, {2, -EADDRNOTAVAIL}, {3, -EINVAL},        {4, -EREMOTEIO},
                 {5, -EAGAIN},     {6, -EAGAIN},        {0x0A, -ENETUNREACH}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        bad_modbus_forget(setup.bad);
        rule(&setup, BAD_EXCEPTION, cases[i].code, 5, 6);
        double seen = -7;
        assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), cases[i].error);
        assert_non_null(strstr(setup.err.text, "writing register 9: unit 5 answers \""));
        assert_near(seen, -7, 0);
    }
    modbus_setup_end(&setup);
}

/* Switches open before any dim is touched, also where the dim stands first in the configuration. */
static void safe_order_at_connect(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=150");
    modbus_setup_dim(&setup, "unit=5 register=9 full=1000 safe=0.2 verify=false");
    modbus_setup_dim(&setup, "unit=6 register=9 full=1000 verify=false");
    modbus_setup_switch(&setup, "unit=6 coil=2 verify=false");
    modbus_setup_switch(&setup, "unit=5 coil=2 verify=false");
    bad_modbus_set_coil(setup.bad, 5, 2, true);
    bad_modbus_set_coil(setup.bad, 6, 2, true);
    modbus_setup_connect(&setup);
    uint8_t bytes[128];
    assert_int_equal(bad_modbus_recorded(setup.bad, bytes, sizeof bytes), 4 * 12);
    assert_int_equal(bytes[7], 5);
    assert_int_equal(bytes[12 + 7], 5);
    assert_int_equal(bytes[24 + 7], 6);
    assert_int_equal(bytes[36 + 7], 6);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 200);
    assert_int_equal(bad_modbus_holding(setup.bad, 6, 9), 0);
    assert_false(bad_modbus_coil(setup.bad, 5, 2) || bad_modbus_coil(setup.bad, 6, 2));
    modbus_setup_end(&setup);
}

/* The write was done, its confirmation came too late: an error, and the same write again does no
 * harm. */
static void lost_confirmation(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=5 timeout_ms=100 worst_reply_ms=300");
    modbus_setup_dim(&setup, "register=9 full=1000");
    modbus_setup_connect(&setup);
    rule_once(&setup, BAD_LATE, 250, 5, 6);
    double seen = -7;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -ETIMEDOUT);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 500);
    assert_int_equal(modbus_setup_write(&setup, 0, 0.6, &seen), -EAGAIN);
    assert_near(seen, -7, 0);
    int64_t limit = clock_boot_ns() + 4 * CLOCK_NS_PER_S;
    while (modbus_setup_write(&setup, 0, 0.6, &seen) != 0) {
        assert_true(clock_boot_ns() < limit);
        (void)clock_sleep_until(clock_boot_ns() + 20 * CLOCK_NS_PER_MS, NULL);
    }
    assert_near(seen, 0.6, 1e-9);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 600);
    modbus_setup_end(&setup);
}

/* With the longest timeout a write still ends inside its second (modbus_setup_write checks). */
static void dripping_and_silent_writes(void **state)
{
    (void)state;
    static const struct {
        enum bad_kind kind;
        int value;
    } cases[] = {{BAD_SILENT, 0}, {BAD_DRIP, 200}};
    for (size_t i = 0; i < 2; i++) {
        struct modbus_setup setup;
        modbus_setup_rtu(&setup, "unit=5 timeout_ms=1500");
        modbus_setup_dim(&setup, "register=9 full=1000");
        modbus_setup_connect(&setup);
        rule(&setup, cases[i].kind, cases[i].value, 5, -1);
        double seen;
        assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -ETIMEDOUT);
        modbus_setup_end(&setup);
    }
}

static void make_safe_without_connect(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5");
        } else {
            modbus_setup_rtu(&setup, "unit=5");
        }
        modbus_setup_dim(&setup, "register=9 full=1000");
        modbus_setup_switch(&setup, "coil=2");
        bad_modbus_set_coil(setup.bad, 5, 2, true);
        for (int times = 0; times < 2; times++) {
            assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), 0);
            assert_false(bad_modbus_coil(setup.bad, 5, 2));
            assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
        }
        bad_modbus_vanish(setup.bad);
        assert_true(setup.driver->make_safe(setup.bus, &setup.err) < 0);
        modbus_setup_end(&setup);
    }
}

/* Two of three units are dead: the third is made safe, everything was tried, in two seconds. */
static void make_safe_with_dead_units(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "timeout_ms=800");
        } else {
            modbus_setup_rtu(&setup, "timeout_ms=1000");
        }
        for (int unit = 5; unit < 8; unit++) {
            char text[60];
            (void)snprintf(text, sizeof text, "unit=%d register=9 full=1000", unit);
            modbus_setup_dim(&setup, text);
            (void)snprintf(text, sizeof text, "unit=%d coil=2", unit);
            modbus_setup_switch(&setup, text);
            bad_modbus_set_coil(setup.bad, unit, 2, true);
        }
        rule(&setup, BAD_SILENT, 0, 5, -1); /* it does what it is told, without a word */
        rule(&setup, BAD_SILENT, 0, 6, -1);
        int64_t started = clock_boot_ns();
        assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), -ETIMEDOUT);
        assert_true(clock_boot_ns() - started < 2200 * CLOCK_NS_PER_MS);
        for (int unit = 5; unit < 8; unit++) {
            assert_false(bad_modbus_coil(setup.bad, unit, 2));
            assert_int_equal(bad_modbus_holding(setup.bad, unit, 9), 0);
        }
        modbus_setup_end(&setup);
    }
}

static void make_safe_in_a_quarantine(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=5 timeout_ms=100 worst_reply_ms=5000");
    modbus_setup_sensor(&setup, "unit=6 register=1");
    modbus_setup_dim(&setup, "register=9 full=1000");
    modbus_setup_switch(&setup, "coil=2");
    modbus_setup_connect(&setup);
    (void)drive(&setup, 0, 0.7);
    (void)drive(&setup, 1, 1);
    rule_once(&setup, BAD_CHECKSUM, 0, 6, -1);
    assert_true(modbus_setup_read(&setup) < 0);
    assert_int_equal(modbus_setup_read(&setup), -EAGAIN);
    assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), 0);
    assert_false(bad_modbus_coil(setup.bad, 5, 2));
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
    assert_int_equal(modbus_setup_read(&setup), -EAGAIN); /* the quarantine stands */
    modbus_setup_end(&setup);
}

/* A device that was knocked off by its own contact is not switched on again and again. */
static void adapter_that_vanishes_on_closing(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=5 timeout_ms=100");
    modbus_setup_switch(&setup, "coil=2");
    modbus_setup_switch(&setup, "coil=3");
    modbus_setup_connect(&setup);
    (void)drive(&setup, 0, 1);
    modbus_setup_replug(&setup);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 1, 0, &seen), -EIO);
    setup.driver->disconnect(setup.bus);
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_write(&setup, 0, 1, &seen), -EAGAIN);
    assert_non_null(strstr(setup.err.text, "vanished 1 times right after this switch closed"));
    assert_near(drive(&setup, 0, 0), 0, 0); /* opening is always allowed */
    assert_near(drive(&setup, 1, 1), 1, 0); /* and so are the others */
    modbus_setup_replug(&setup);
    assert_int_equal(modbus_setup_write(&setup, 0, 0, &seen), -EIO);
    setup.driver->disconnect(setup.bus);
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_write(&setup, 1, 1, &seen), -EAGAIN); /* its turn now */
    modbus_setup_end(&setup);
}

static void vanish_after_closing(struct modbus_setup *setup, const char *words)
{
    double seen;
    (void)drive(setup, 0, 1);
    modbus_setup_replug(setup);
    assert_int_equal(modbus_setup_write(setup, 0, 0, &seen), -EIO); /* found out by opening it */
    setup->driver->disconnect(setup->bus);
    modbus_setup_connect(setup);
    assert_int_equal(modbus_setup_write(setup, 0, 1, &seen), -EAGAIN);
    assert_non_null(strstr(setup->err.text, words));
    setup->bus->points.outputs[0].hold_ns = 0; /* as if the hold were over */
}

/* Each mishap in a row doubles the hold; a closing that went well clears the account. */
static void adapter_that_survives_a_closing(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=5 timeout_ms=100");
    modbus_setup_switch(&setup, "coil=2");
    modbus_setup_connect(&setup);
    vanish_after_closing(&setup, "vanished 1 times right after this switch closed: not closed "
                                 "again for 10 s");
    vanish_after_closing(&setup, "vanished 2 times right after this switch closed: not closed "
                                 "again for 20 s");
    (void)drive(&setup, 0, 1);
    (void)clock_sleep_until(clock_boot_ns() + 2100 * CLOCK_NS_PER_MS, NULL); /* the 2 s of grace */
    (void)drive(&setup, 0, 0);
    vanish_after_closing(&setup, "vanished 1 times");
    modbus_setup_end(&setup);
}

/* Many units keep their last value when the line falls silent. The register that changes this is
 * set, and seen. */
static void reaction_to_a_loss(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=150");
    modbus_setup_dim(&setup, "register=9 full=1000 loss_register=40 loss_value=50");
    modbus_setup_switch(&setup, "coil=2");
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_STUCK, 0, 5, 6, 40, -1});
    modbus_setup_connect(&setup);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), -EPROTO);
    assert_non_null(strstr(setup.err.text, "loss register 40 stays at 1320 instead of 50"));
    assert_int_equal(modbus_setup_write(&setup, 1, 1, &seen), -EPROTO);
    assert_near(drive(&setup, 1, 0), 0, 0); /* safe values need no guard */
    assert_near(drive(&setup, 0, 0), 0, 0);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
    bad_modbus_forget(setup.bad);
    assert_near(drive(&setup, 0, 0.5), 0.5, 1e-9);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 40), 50);
    int before = bad_modbus_requests(setup.bad);
    assert_near(drive(&setup, 0, 0.6), 0.6, 1e-9);
    assert_int_equal(bad_modbus_requests(setup.bad), before + 2); /* once a connection is enough */
    modbus_setup_end(&setup);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(absolute_values_read_back),
        cmocka_unit_test(without_verification),
        cmocka_unit_test(inverted_outputs),
        cmocka_unit_test(refused_values),
        cmocka_unit_test(refusing_units),
        cmocka_unit_test(safe_order_at_connect),
        cmocka_unit_test(lost_confirmation),
        cmocka_unit_test(dripping_and_silent_writes),
        cmocka_unit_test(make_safe_without_connect),
        cmocka_unit_test(make_safe_with_dead_units),
        cmocka_unit_test(make_safe_in_a_quarantine),
        cmocka_unit_test(adapter_that_vanishes_on_closing),
        cmocka_unit_test(adapter_that_survives_a_closing),
        cmocka_unit_test(reaction_to_a_loss),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
