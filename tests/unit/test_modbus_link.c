/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_link.h"

#include "bad_modbus.h"
#include "clock.h"
#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

struct link_test {
    struct bad_modbus *bad;
    struct modbus_link link;
    struct modbus_reply reply;
    struct err err;
};

static int64_t in_ms(int ms)
{
    return clock_boot_ns() + ms * CLOCK_NS_PER_MS;
}

static void begin(struct link_test *test, bool is_tcp, int worst_reply_ms)
{
    *test =
        (struct link_test){.bad = is_tcp ? bad_modbus_start_tcp() : bad_modbus_start_rtu(false)};
    assert_non_null(test->bad);
    test->link.setup = (struct modbus_port_setup){
        .is_tcp = is_tcp,
        .host = "127.0.0.1",
        .tcp_port = bad_modbus_port(test->bad),
        .device = bad_modbus_device(test->bad),
        .baud = 19200,
        .parity = 'E',
        .stop_bits = 1,
    };
    if (is_tcp) {
        modbus_line_tcp(&test->link.line.timing, 100, worst_reply_ms);
    } else {
        modbus_line_serial(&test->link.line.timing, 19200, 11, 100, worst_reply_ms);
    }
    assert_int_equal(modbus_link_open(&test->link, in_ms(1000), &test->err), 0);
}

static void end(struct link_test *test)
{
    modbus_link_close(&test->link);
    bad_modbus_stop(test->bad);
}

static int ask(struct link_test *test, int unit, int address)
{
    struct modbus_request request = {(uint8_t)unit, 3, (uint16_t)address, 1, 0};
    return modbus_link_exchange(&test->link, &request, in_ms(1000), &test->reply, &test->err);
}

static void rule(struct link_test *test, enum bad_kind kind, int value)
{
    bad_modbus_rule(test->bad, (struct bad_rule){kind, value, -1, -1, -1, 1});
}

/* Modbus over Serial Line V1.02, 2.5.1.1: at least 3.5 characters, here of 11 bits at 19200 Bd;
 * with a unit that was in trouble, 10 ms. */
static void gaps_are_kept(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, false, 500);
    for (int i = 0; i < 20; i++) {
        assert_int_equal(ask(&test, 1, i), 0);
    }
    assert_true(bad_modbus_least_gap_ns(test.bad) >= 2005200);
    end(&test);
    begin(&test, false, 500);
    test.link.line.is_wary[2] = true;
    for (int i = 0; i < 20; i++) {
        assert_int_equal(ask(&test, 1 + i % 2, i), 0);
    }
    assert_true(bad_modbus_least_gap_ns(test.bad) >= 10 * CLOCK_NS_PER_MS);
    end(&test);
}

static void trouble_on_a_serial_line(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, false, 600);
    rule(&test, BAD_LATE, 400);
    assert_int_equal(ask(&test, 1, 1), -ETIMEDOUT);
    assert_int_equal(ask(&test, 1, 2), -EAGAIN); /* nothing is sent */
    assert_int_equal(bad_modbus_requests(test.bad), 1);
    int64_t started = clock_boot_ns();
    while (modbus_link_ready(&test.link, in_ms(100), &test.err) == -EAGAIN) {
        assert_true(clock_boot_ns() - started < 5 * CLOCK_NS_PER_S);
        (void)clock_sleep_until(in_ms(10), NULL);
    }
    /* the answer came 300 ms after the timeout, and 600 ms of silence after that */
    assert_true(clock_boot_ns() - started > 850 * CLOCK_NS_PER_MS);
    assert_int_equal(ask(&test, 1, 3), 0);
    assert_int_equal(modbus_pdu_word(&test.reply, 0), 0x0103);
    end(&test);
}

static void stray_bytes(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, false, 500);
    rule(&test, BAD_TWICE, 0); /* an answer too many: the next request would take it for its own */
    assert_int_equal(ask(&test, 1, 1), 0);
    assert_int_equal(ask(&test, 1, 2), -EAGAIN);
    assert_non_null(strstr(test.err.text, "7 bytes"));
    assert_int_equal(test.link.line.state, MODBUS_QUARANTINE);
    end(&test);

    begin(&test, true, 0);
    rule(&test, BAD_TWICE, 0);
    assert_int_equal(ask(&test, 1, 1), 0);
    int rc = ask(&test, 1, 2);
    assert_true(rc == -EAGAIN ||
                rc == -EBADMSG); /* seen before sending, or told by its transaction */
    assert_null(test.link.port);
    assert_int_equal(modbus_link_ready(&test.link, in_ms(500), &test.err), 0);
    assert_int_equal(ask(&test, 1, 3), 0);
    assert_int_equal(modbus_pdu_word(&test.reply, 0), 0x0103);
    end(&test);
}

static void trouble_on_tcp(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, true, 0);
    unsigned generation = test.link.generation;
    rule(&test, BAD_LATE, 150);
    assert_int_equal(ask(&test, 1, 1), -ETIMEDOUT);
    assert_int_equal(ask(&test, 1, 2),
                     -EAGAIN); /* closed: must be opened, and its units recognised */
    assert_int_equal(modbus_link_ready(&test.link, in_ms(500), &test.err), 0);
    assert_true(test.link.generation != generation);
    /* the device sends the old answer on the new connection: its transaction number betrays it */
    rule(&test, BAD_LATE, 90);
    int rc = ask(&test, 1, 3);
    assert_true(rc == -EBADMSG || (rc == 0 && modbus_pdu_word(&test.reply, 0) == 0x0103));
    end(&test);
}

static void rest_for_a_gateway(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, true, 300);
    rule(&test, BAD_SILENT, 0);
    assert_int_equal(ask(&test, 1, 1), -ETIMEDOUT);
    int64_t failed = clock_boot_ns();
    assert_int_equal(modbus_link_ready(&test.link, in_ms(500), &test.err), 0);
    assert_int_equal(ask(&test, 1, 2), -EAGAIN);
    assert_non_null(strstr(test.err.text, "rests"));
    while (ask(&test, 1, 2) == -EAGAIN) {
        assert_true(clock_boot_ns() - failed < 3 * CLOCK_NS_PER_S);
        (void)clock_sleep_until(in_ms(10), NULL);
    }
    assert_true(clock_boot_ns() - failed > 290 * CLOCK_NS_PER_MS);
    end(&test);
}

static void what_is_gone_is_closed(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, true, 0);
    rule(&test, BAD_RESET, 0);
    assert_int_equal(ask(&test, 1, 1), -ENOTCONN);
    assert_null(test.link.port);
    bad_modbus_vanish(test.bad);
    assert_int_equal(modbus_link_ready(&test.link, in_ms(500), &test.err), -ENOTCONN);
    end(&test);
    begin(&test, false, 500);
    bad_modbus_vanish(test.bad);
    int rc = ask(&test, 1, 1);
    assert_int_equal(rc, -EIO);
    assert_int_equal(modbus_link_ready(&test.link, in_ms(500), &test.err), -EIO);
    end(&test);
    assert_true(modbus_link_is_gone(-EIO));
    assert_true(modbus_link_is_gone(-ENOTCONN));
    assert_false(modbus_link_is_gone(-ETIMEDOUT));
    assert_false(modbus_link_is_gone(0));
}

static void no_time_left(void **state)
{
    (void)state;
    struct link_test test;
    begin(&test, false, 500);
    struct modbus_request request = {1, 3, 1, 1, 0};
    assert_int_equal(modbus_link_exchange(&test.link, &request, in_ms(5), &test.reply, &test.err),
                     -EAGAIN);
    assert_int_equal(bad_modbus_requests(test.bad), 0);
    assert_int_equal(test.link.line.state, MODBUS_UP);
    end(&test);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gaps_are_kept),      cmocka_unit_test(trouble_on_a_serial_line),
        cmocka_unit_test(stray_bytes),        cmocka_unit_test(trouble_on_tcp),
        cmocka_unit_test(rest_for_a_gateway), cmocka_unit_test(what_is_gone_is_closed),
        cmocka_unit_test(no_time_left),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
