/* SPDX-License-Identifier: Apache-2.0 */
/* Reading a bus whose units misbehave. Registers hold unit × 256 + address (bad_modbus.h): a value
 * that belongs to another question shows at once. */
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

static void rule_at(struct modbus_setup *setup, int unit, int address, struct bad_rule rule)
{
    rule.unit = unit;
    rule.address = address;
    rule.function = -1;
    bad_modbus_rule(setup->bad, rule);
}

static void pause_ms(int ms)
{
    (void)clock_sleep_until(clock_boot_ns() + ms * CLOCK_NS_PER_MS, NULL);
}

/* Every sample without an error must be the one that was asked for. Returns how many were good. */
static int check_values(const struct modbus_setup *setup, const double *expected, int count)
{
    int good = 0;
    for (int i = 0; i < count; i++) {
        if (setup->samples[i].error == 0) {
            assert_near(setup->samples[i].value, expected[i], 1e-9);
            good++;
        }
    }
    return good;
}

struct late_case {
    bool is_tcp;
    int late_ms, times;
    struct modbus_setup setup;
    int all_good; /* reads in a row */
};

static void begin_late(struct late_case *one)
{
    struct modbus_setup *setup = &one->setup;
    if (one->is_tcp) {
        modbus_setup_tcp(setup, "timeout_ms=200");
    } else {
        modbus_setup_rtu(setup, "timeout_ms=200 worst_reply_ms=600");
    }
    modbus_setup_sensor(setup, "unit=5 register=1");
    modbus_setup_sensor(setup, "unit=5 register=3");
    modbus_setup_sensor(setup, "unit=5 register=5");
    modbus_setup_sensor(setup, "unit=6 register=7");
    modbus_setup_connect(setup);
    assert_int_equal(modbus_setup_read(setup), 0);
    rule_at(setup, 5, 1,
            (struct bad_rule){.kind = BAD_LATE, .value = one->late_ms, .times = one->times});
    /* the others take a moment too: longer than the gap, so that a shift by one answer would stay
     */
    rule_at(setup, -1, -1, (struct bad_rule){.kind = BAD_LATE, .value = 40, .times = -1});
}

/* The answer comes 0.8, 1.2 or 3 times the timeout after the request: never a wrong value, and
 * every bus recovers. Without the quarantine each later answer would be one too old. */
static void late_answers(void **state)
{
    (void)state;
    static const double expected[] = {0x0501, 0x0503, 0x0505, 0x0607};
    enum { CASES = 6 };
    struct late_case cases[CASES] = {{false, 160, 3, .all_good = 0}, {false, 240, 1, .all_good = 0},
                                     {false, 600, 1, .all_good = 0}, {true, 160, 3, .all_good = 0},
                                     {true, 240, 1, .all_good = 0},  {true, 600, 1, .all_good = 0}};
    for (int i = 0; i < CASES; i++) {
        begin_late(&cases[i]);
    }
    int64_t limit = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    int recovered = 0;
    while (recovered < CASES) {
        recovered = 0;
        for (int i = 0; i < CASES; i++) {
            struct late_case *one = &cases[i];
            (void)modbus_setup_read(&one->setup);
            bool is_good = check_values(&one->setup, expected, 4) == 4;
            one->all_good = is_good ? one->all_good + 1 : 0;
            recovered += one->all_good >= 2;
        }
        assert_true(clock_boot_ns() < limit);
    }
    for (int i = 0; i < CASES; i++) {
        modbus_setup_end(&cases[i].setup);
    }
}

static void during_a_quarantine(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "timeout_ms=100 worst_reply_ms=500");
    modbus_setup_sensor(&setup, "unit=5 register=1");
    modbus_setup_sensor(&setup, "unit=6 register=1");
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_read(&setup), 0);
    rule_at(&setup, 6, 1, (struct bad_rule){.kind = BAD_CHECKSUM, .times = 1});
    assert_int_equal(modbus_setup_read(&setup), 0); /* unit 5 had answered before the trouble */
    assert_int_equal(setup.samples[0].error, 0);
    assert_int_equal(setup.samples[1].error, -EBADMSG);
    int requests = bad_modbus_requests(setup.bad);
    int64_t started = clock_boot_ns();
    assert_int_equal(modbus_setup_read(&setup), -EAGAIN);
    assert_true(clock_boot_ns() - started < 100 * CLOCK_NS_PER_MS); /* not slept out */
    assert_int_equal(setup.samples[0].error, -EAGAIN);
    assert_int_equal(setup.samples[1].error, -EAGAIN);
    assert_non_null(strstr(setup.err.text, "quarantine"));
    assert_int_equal(bad_modbus_requests(setup.bad), requests);
    modbus_setup_read_until_good(&setup, 0, 3);
    modbus_setup_read_until_good(&setup, 1, 3);
    modbus_setup_end(&setup);
}

/* A byte every 100 ms keeps a byte timeout happy for a minute: the whole answer has its time, and
 * no more. */
static void dripping_unit(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "timeout_ms=300");
        } else {
            modbus_setup_rtu(&setup, "timeout_ms=300 worst_reply_ms=500");
        }
        for (int i = 0; i < 60; i++) {
            char text[40];
            (void)snprintf(text, sizeof text, "unit=5 register=%d", i);
            modbus_setup_sensor(&setup, text);
        }
        modbus_setup_connect(&setup);
        assert_int_equal(modbus_setup_read(&setup), 0);
        rule_at(&setup, 5, -1, (struct bad_rule){.kind = BAD_DRIP, .value = 100, .times = -1});
        int64_t started = clock_boot_ns();
        assert_true(modbus_setup_read(&setup) < 0);
        assert_true(clock_boot_ns() - started < 700 * CLOCK_NS_PER_MS);
        modbus_setup_end(&setup);
    }
}

/* A dead unit costs its neighbours one timeout (serial: and a quarantine) at 1, 2, 4 … s, not one
 * in every read. */
static void one_of_three_is_dead(void **state)
{
    (void)state;
    static const double expected[] = {0x0501, 0x0601, 0x0701};
    struct modbus_setup buses[2];
    int good[2] = {0};
    modbus_setup_tcp(&buses[0], "timeout_ms=100");
    modbus_setup_rtu(&buses[1], "timeout_ms=100 worst_reply_ms=100");
    for (int i = 0; i < 2; i++) {
        modbus_setup_sensor(&buses[i], "unit=5 register=1");
        modbus_setup_sensor(&buses[i], "unit=6 register=1");
        modbus_setup_sensor(&buses[i], "unit=7 register=1");
        rule_at(&buses[i], 6, -1, (struct bad_rule){.kind = BAD_SILENT, .times = -1});
        modbus_setup_connect(&buses[i]);
    }
    int64_t started = clock_boot_ns();
    int reads = 0;
    for (; clock_boot_ns() - started < 2000 * CLOCK_NS_PER_MS; reads++) {
        for (int i = 0; i < 2; i++) {
            (void)modbus_setup_read(&buses[i]);
            assert_int_not_equal(buses[i].samples[1].error, 0);
            good[i] += check_values(&buses[i], expected, 3);
        }
        pause_ms(50);
    }
    /* 2 s: the dead unit was asked at about 0 and 1 s; serial: 0.6 s lost each time */
    print_message("%d reads, good samples: TCP %d, RTU %d\n", reads, good[0], good[1]);
    assert_true(good[0] >= 2 * reads * 9 / 10);
    assert_true(good[1] >= 2 * reads * 2 / 10);
    for (int i = 0; i < 2; i++) {
        bad_modbus_forget(buses[i].bad);
        modbus_setup_read_until_good(&buses[i], 1, 6);
        assert_int_equal(check_values(&buses[i], expected, 3), 3);
        modbus_setup_end(&buses[i]);
    }
}

static void neighbours_in_one_request(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 gap_registers=1");
    modbus_setup_sensor(&setup, "register=12 type=u32");
    modbus_setup_sensor(&setup, "register=10");
    modbus_setup_sensor(&setup, "register=15 type=u32 order=cdab"); /* 14 lies between */
    modbus_setup_sensor(&setup, "register=11");
    modbus_setup_connect(&setup);
    int before = bad_modbus_requests(setup.bad);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(bad_modbus_requests(setup.bad), before + 1);
    assert_near(setup.samples[0].value, 0x050C050D, 0);
    assert_near(setup.samples[1].value, 0x050A, 0);
    assert_near(setup.samples[2].value, 0x0510050F, 0);
    assert_near(setup.samples[3].value, 0x050B, 0);
    for (int i = 0; i < 4; i++) {
        assert_true(setup.samples[i].taken_ns <= clock_boot_ns());
        assert_int_equal(setup.samples[i].taken_ns, setup.samples[0].taken_ns);
    }
    modbus_setup_end(&setup);
}

/* What the device said, beside what was made of it: in the order on the wire, also for "no
 * reading"; nothing where it said nothing. */
static void raw_registers(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5");
    modbus_setup_sensor(&setup, "register=10 scale=0.1");
    modbus_setup_sensor(&setup, "register=11 type=u32 order=dcba");
    modbus_setup_sensor(&setup, "register=20");
    modbus_setup_sensor(&setup, "register=256"); /* does not exist */
    bad_modbus_set_holding(setup.bad, 5, 20, 0x8000);
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_string_equal(setup.samples[0].raw, "0x050A");
    assert_string_equal(setup.samples[1].raw, "0x050B 0x050C");
    assert_string_equal(setup.samples[2].raw, "0x8000");
    assert_true(isnan(setup.samples[2].value));
    assert_string_equal(setup.samples[3].raw, "");
    rule_at(&setup, 5, 20, (struct bad_rule){.kind = BAD_EXCEPTION, .value = 4, .times = 1});
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_string_equal(setup.samples[2].raw, ""); /* not that of the read before */
    modbus_setup_end(&setup);
}

static void refused_merge_is_split_for_good(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 gap_registers=1");
    modbus_setup_sensor(&setup, "register=10");
    modbus_setup_sensor(&setup, "register=12");
    modbus_setup_sensor(&setup, "register=13");
    rule_at(&setup, 5, 11, (struct bad_rule){.kind = BAD_EXCEPTION, .value = 2, .times = -1});
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_read(&setup), 0);
    static const double expected[] = {0x050A, 0x050C, 0x050D};
    assert_int_equal(check_values(&setup, expected, 3), 3); /* already in the same read */
    int before = bad_modbus_requests(setup.bad);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(check_values(&setup, expected, 3), 3);
    assert_int_equal(bad_modbus_requests(setup.bad), before + 3);
    modbus_setup_end(&setup);
}

static void refusals_concern_their_sensor(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "unit=5 timeout_ms=300");
    modbus_setup_sensor(&setup, "register=10");
    modbus_setup_sensor(&setup, "register=20");
    modbus_setup_sensor(&setup, "register=30");
    modbus_setup_sensor(&setup, "register=256"); /* does not exist */
    rule_at(&setup, 5, 20, (struct bad_rule){.kind = BAD_EXCEPTION, .value = 6, .times = 1});
    rule_at(&setup, 5, 30, (struct bad_rule){.kind = BAD_EXCEPTION, .value = 4, .times = -1});
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(setup.samples[0].error, 0);
    assert_int_equal(setup.samples[1].error, -EAGAIN); /* busy */
    assert_int_equal(setup.samples[2].error, -EREMOTEIO);
    assert_int_equal(setup.samples[3].error, -EADDRNOTAVAIL);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(setup.samples[1].error, 0);
    modbus_setup_end(&setup);
}

/* The unit behind a gateway is dead, the gateway is not: no new connection, and the unit rests. */
static void gateway_without_its_unit(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "timeout_ms=300");
    modbus_setup_sensor(&setup, "unit=5 register=10");
    modbus_setup_sensor(&setup, "unit=6 register=10");
    rule_at(&setup, 6, -1, (struct bad_rule){.kind = BAD_EXCEPTION, .value = 0x0B, .times = 1});
    modbus_setup_connect(&setup);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(setup.samples[0].error, 0);
    assert_int_equal(setup.samples[1].error, -EHOSTUNREACH);
    int before = bad_modbus_requests(setup.bad);
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(bad_modbus_requests(setup.bad), before + 1);
    assert_int_equal(setup.samples[1].error, -ETIMEDOUT);
    modbus_setup_read_until_good(&setup, 1, 3);
    assert_int_equal(bad_modbus_connections(setup.bad), 1);
    modbus_setup_end(&setup);
}

/* 24 answers of 100 ms do not fit into one read: the next one goes on where it stopped, and what
 * was not reached only grows older. */
static void slow_bus_goes_round(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=300");
    double expected[24];
    for (int i = 0; i < 24; i++) {
        char text[40];
        (void)snprintf(text, sizeof text, "register=%d", 2 * i);
        modbus_setup_sensor(&setup, text);
        expected[i] = 0x0500 + 2 * i;
    }
    modbus_setup_connect(&setup);
    rule_at(&setup, 5, -1, (struct bad_rule){.kind = BAD_LATE, .value = 100, .times = -1});
    assert_int_equal(modbus_setup_read(&setup), 0);
    int good = check_values(&setup, expected, 24);
    assert_in_range(good, 8, 20);
    assert_int_equal(setup.samples[23].error, -EAGAIN); /* never read yet */
    int64_t first = setup.samples[good - 1].taken_ns;
    assert_int_equal(modbus_setup_read(&setup), 0);
    assert_int_equal(check_values(&setup, expected, 24), 24);
    assert_int_equal(setup.samples[good - 1].taken_ns, first);
    modbus_setup_end(&setup);
}

/* Nobody answers: the bus is lost after three requests, so that run connects anew. */
static void silent_bus(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5 timeout_ms=50");
        } else {
            modbus_setup_rtu(&setup, "unit=5 timeout_ms=50 worst_reply_ms=100");
        }
        modbus_setup_sensor(&setup, "unit=5 register=10");
        modbus_setup_sensor(&setup, "unit=6 register=10");
        modbus_setup_sensor(&setup, "unit=7 register=10");
        modbus_setup_connect(&setup);
        rule_at(&setup, -1, -1, (struct bad_rule){.kind = BAD_SILENT, .times = -1});
        int before = bad_modbus_requests(setup.bad);
        int rc, lost = is_tcp ? -ENOTCONN : -EIO;
        int64_t limit = clock_boot_ns() + 6 * CLOCK_NS_PER_S;
        while ((rc = modbus_setup_read(&setup)) != lost) {
            assert_true(rc == -ETIMEDOUT || rc == -EAGAIN);
            assert_int_equal(setup.samples[0].error, rc);
            assert_true(clock_boot_ns() < limit);
            pause_ms(50);
        }
        assert_int_equal(bad_modbus_requests(setup.bad), before + 3);
        assert_int_equal(modbus_setup_read(&setup), lost); /* until it is connected again */
        bad_modbus_forget(setup.bad);
        setup.driver->disconnect(setup.bus);
        while (setup.driver->connect(setup.bus, &setup.err) != 0) {
            assert_true(clock_boot_ns() < limit);
            pause_ms(50);
        }
        modbus_setup_read_until_good(&setup, 0, 3);
        modbus_setup_end(&setup);
    }
}

static void vanished_bus(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct modbus_setup setup;
        if (is_tcp) {
            modbus_setup_tcp(&setup, "unit=5 timeout_ms=50");
        } else {
            modbus_setup_rtu(&setup, "unit=5 timeout_ms=50");
        }
        modbus_setup_sensor(&setup, "register=10");
        modbus_setup_connect(&setup);
        bad_modbus_vanish(setup.bad);
        int lost = is_tcp ? -ENOTCONN : -EIO;
        assert_int_equal(modbus_setup_read(&setup), lost);
        assert_int_equal(setup.samples[0].error, lost);
        setup.driver->disconnect(setup.bus);
        assert_true(setup.driver->connect(setup.bus, &setup.err) < 0);
        assert_int_equal(modbus_setup_read(&setup), lost);
        modbus_setup_end(&setup);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(late_answers),
        cmocka_unit_test(during_a_quarantine),
        cmocka_unit_test(dripping_unit),
        cmocka_unit_test(one_of_three_is_dead),
        cmocka_unit_test(neighbours_in_one_request),
        cmocka_unit_test(raw_registers),
        cmocka_unit_test(refused_merge_is_split_for_good),
        cmocka_unit_test(refusals_concern_their_sensor),
        cmocka_unit_test(gateway_without_its_unit),
        cmocka_unit_test(slow_bus_goes_round),
        cmocka_unit_test(silent_bus),
        cmocka_unit_test(vanished_bus),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
