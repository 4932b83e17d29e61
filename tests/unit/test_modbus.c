/* SPDX-License-Identifier: Apache-2.0 */
/* The port of modbus.c against a device that misbehaves. */
#include "bad_modbus.h"
#include "clock.h"
#include "err.h"
#include "modbus_port.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/select.h>
#include <unistd.h>

#include <cmocka.h>

static const int timeout_ms = 150;

struct port_test {
    struct bad_modbus *bad;
    struct modbus_port *port;
    struct modbus_reply reply;
    struct err err;
};

static struct modbus_port_setup setup_of(const struct bad_modbus *bad, bool is_tcp)
{
    return (struct modbus_port_setup){
        .is_tcp = is_tcp,
        .host = "127.0.0.1",
        .tcp_port = bad_modbus_port(bad),
        .device = bad_modbus_device(bad),
        .baud = 19200,
        .parity = 'E',
        .stop_bits = 1,
    };
}

static void begin(struct port_test *test, bool is_tcp, bool has_echo)
{
    *test =
        (struct port_test){.bad = is_tcp ? bad_modbus_start_tcp() : bad_modbus_start_rtu(has_echo)};
    assert_non_null(test->bad);
    struct modbus_port_setup setup = setup_of(test->bad, is_tcp);
    setup.has_echo = has_echo;
    int rc = modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &test->port, &test->err);
    if (rc < 0) {
        fail_msg("open: %s", test->err.text);
    }
}

static void end(struct port_test *test)
{
    modbus_port_close(test->port);
    bad_modbus_stop(test->bad);
}

static int ask(struct port_test *test, struct modbus_request request)
{
    return modbus_port_exchange(test->port, &request,
                                clock_boot_ns() + timeout_ms * CLOCK_NS_PER_MS, &test->reply,
                                &test->err);
}

/* What a request looks like on the wire. The bodies are examples of the Modbus Application Protocol
 * V1.1b3, section 6; the CRCs were calculated with the algorithm of Modbus over Serial Line
 * V1.02, 6.2. */
static void bytes_on_the_serial_wire(void **state)
{
    (void)state;
    static const struct {
        struct modbus_request request;
        uint8_t bytes[11];
        size_t size;
    } cases[] = {
        {{0x11, 3, 0x6B, 3, 0}, {0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87}, 8},
        {{0x01, 3, 0x6B, 3, 0}, {0x01, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x74, 0x17}, 8},
        {{0x11, 4, 8, 1, 0}, {0x11, 0x04, 0x00, 0x08, 0x00, 0x01, 0xB2, 0x98}, 8},
        {{0x01, 3, 0, 10, 0}, {0x01, 0x03, 0x00, 0x00, 0x00, 0x0A, 0xC5, 0xCD}, 8},
        {{0x01, 3, 0, 2, 0}, {0x01, 0x03, 0x00, 0x00, 0x00, 0x02, 0xC4, 0x0B}, 8},
        {{0x01, 6, 1, 1, 3}, {0x01, 0x06, 0x00, 0x01, 0x00, 0x03, 0x98, 0x0B}, 8},
        {{0x01, 5, 172, 1, 1}, {0x01, 0x05, 0x00, 0xAC, 0xFF, 0x00, 0x4C, 0x1B}, 8},
    };
    struct port_test test;
    begin(&test, false, false);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(ask(&test, cases[i].request), 0);
        uint8_t bytes[32];
        assert_int_equal(bad_modbus_recorded(test.bad, bytes, sizeof bytes), cases[i].size);
        assert_memory_equal(bytes, cases[i].bytes, cases[i].size);
    }
    end(&test);
}

/* The device's own CRC, checked apart: Modbus over Serial Line V1.02, 6.2.2 prints 1241h for 02 07
 * (sent 41 12); 4B37h is the check value of this CRC over "123456789" (common practice). */
static void crc_of_the_device(void **state)
{
    (void)state;
    assert_int_equal(bad_modbus_crc16((const uint8_t *)"\x02\x07", 2), 0x1241);
    assert_int_equal(bad_modbus_crc16((const uint8_t *)"123456789", 9), 0x4B37);
}

/* Modbus Messaging on TCP/IP Implementation Guide V1.0b: read register 5 of unit FFh; the
 * transaction is ours. */
static void bytes_on_the_tcp_wire(void **state)
{
    (void)state;
    struct port_test test;
    begin(&test, true, false);
    uint8_t first[12], second[12];
    assert_int_equal(ask(&test, (struct modbus_request){0xFF, 3, 4, 1, 0}), 0);
    assert_int_equal(bad_modbus_recorded(test.bad, first, sizeof first), 12);
    static const uint8_t expected[] = {0x00, 0x00, 0x00, 0x06, 0xFF, 0x03, 0x00, 0x04, 0x00, 0x01};
    assert_memory_equal(first + 2, expected, sizeof expected);
    assert_int_equal(ask(&test, (struct modbus_request){0xFF, 3, 4, 1, 0}), 0);
    assert_int_equal(bad_modbus_recorded(test.bad, second, sizeof second), 12);
    assert_memory_equal(second + 2, expected, sizeof expected);
    assert_int_equal((uint16_t)(second[0] << 8 | second[1]),
                     (uint16_t)((first[0] << 8 | first[1]) + 1));
    end(&test);
}

struct trouble {
    enum bad_kind kind;
    int value, expected;
};

static void check_troubles(bool is_tcp, const struct trouble *troubles, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct port_test test;
        begin(&test, is_tcp, false);
        bad_modbus_rule(test.bad, (struct bad_rule){.kind = troubles[i].kind,
                                                    .value = troubles[i].value,
                                                    .unit = -1,
                                                    .function = -1,
                                                    .address = -1,
                                                    .times = 1});
        int64_t started = clock_boot_ns();
        int rc = ask(&test, (struct modbus_request){7, 3, 2, 2, 0});
        if (rc != troubles[i].expected) {
            fail_msg("%s, kind %d: %d instead of %d (%s)", is_tcp ? "TCP" : "RTU",
                     (int)troubles[i].kind, rc, troubles[i].expected, test.err.text);
        }
        assert_true(clock_boot_ns() - started < 2 * timeout_ms * CLOCK_NS_PER_MS);
        if (rc == 0 && test.reply.body[1] == 3) {
            assert_int_equal(modbus_pdu_word(&test.reply, 0), 0x0702);
            assert_int_equal(modbus_pdu_word(&test.reply, 1), 0x0703);
        }
        end(&test);
    }
}

static void serial_troubles(void **state)
{
    (void)state;
    static const struct trouble troubles[] = {
        {BAD_SILENT, 0, -ETIMEDOUT}, {BAD_LATE, 100, 0},        {BAD_LATE, 400, -ETIMEDOUT},
        {BAD_DRIP, 50, -ETIMEDOUT},  {BAD_DRIP, 5, 0},          {BAD_UNIT, 0, -EBADMSG},
        {BAD_SHORT, 0, -EBADMSG},    {BAD_LONG, 0, -EBADMSG},   {BAD_CHECKSUM, 0, -EBADMSG},
        {BAD_EXCEPTION, 2, 0},       {BAD_HALF, 0, -ETIMEDOUT}, {BAD_FUNCTION, 0, -EBADMSG},
        {BAD_NOISE, 2, -ETIMEDOUT},  {BAD_TWICE, 0, 0},
    };
    check_troubles(false, troubles, sizeof troubles / sizeof *troubles);
}

static void tcp_troubles(void **state)
{
    (void)state;
    static const struct trouble troubles[] = {
        {BAD_SILENT, 0, -ETIMEDOUT},    {BAD_LATE, 100, 0},        {BAD_LATE, 400, -ETIMEDOUT},
        {BAD_DRIP, 50, -ETIMEDOUT},     {BAD_DRIP, 5, 0},          {BAD_UNIT, 0, -EBADMSG},
        {BAD_SHORT, 0, -EBADMSG},       {BAD_LONG, 0, -EBADMSG},   {BAD_CHECKSUM, 0, -EBADMSG},
        {BAD_EXCEPTION, 6, 0},          {BAD_HALF, 0, -ETIMEDOUT}, {BAD_FUNCTION, 0, -EBADMSG},
        {BAD_TRANSACTION, 0, -EBADMSG}, {BAD_RESET, 0, -ENOTCONN}, {BAD_TWICE, 0, 0},
    };
    check_troubles(true, troubles, sizeof troubles / sizeof *troubles);
}

static void writes_confirmed_wrongly(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct port_test test;
        begin(&test, is_tcp, false);
        bad_modbus_rule(test.bad, (struct bad_rule){BAD_ECHO, 0, -1, -1, -1, 1});
        assert_int_equal(ask(&test, (struct modbus_request){7, 6, 2, 1, 40}), -EBADMSG);
        assert_non_null(strstr(test.err.text, "another address or value"));
        end(&test);
    }
}

static void own_echo_is_thrown_away(void **state)
{
    (void)state;
    struct port_test test;
    begin(&test, false, true);
    assert_int_equal(ask(&test, (struct modbus_request){7, 3, 2, 2, 0}), 0);
    assert_int_equal(modbus_pdu_word(&test.reply, 1), 0x0703);
    assert_int_equal(ask(&test, (struct modbus_request){7, 6, 2, 1, 40}), 0);
    bad_modbus_rule(test.bad, (struct bad_rule){BAD_SILENT, 0, -1, -1, -1, 1});
    /* the echo of a write looks like its confirmation: it must not pass for one */
    assert_int_equal(ask(&test, (struct modbus_request){7, 6, 2, 1, 41}), -ETIMEDOUT);
    end(&test);
}

/* A port that does not expect an echo takes none of it for an answer to a read. */
static void unexpected_echo_is_trouble(void **state)
{
    (void)state;
    struct port_test test = {.bad = bad_modbus_start_rtu(true)};
    assert_non_null(test.bad);
    struct modbus_port_setup setup = setup_of(test.bad, false);
    assert_int_equal(
        modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &test.port, &test.err), 0);
    assert_int_equal(ask(&test, (struct modbus_request){7, 3, 2, 2, 0}), -EBADMSG);
    end(&test);
}

static void vanished_devices(void **state)
{
    (void)state;
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct port_test test;
        begin(&test, is_tcp, false);
        assert_int_equal(ask(&test, (struct modbus_request){7, 3, 2, 2, 0}), 0);
        bad_modbus_vanish(test.bad);
        int64_t started = clock_boot_ns();
        int expected = is_tcp ? -ENOTCONN : -EIO;
        int rc = ask(&test, (struct modbus_request){7, 3, 2, 2, 0});
        if (rc == -ETIMEDOUT) { /* the line's end arrived between the two calls */
            rc = ask(&test, (struct modbus_request){7, 3, 2, 2, 0});
        }
        assert_int_equal(rc, expected);
        assert_non_null(strstr(test.err.text, "gone"));
        size_t bytes;
        assert_int_equal(modbus_port_discard(test.port, 0, &bytes, &test.err), expected);
        assert_true(clock_boot_ns() - started < CLOCK_NS_PER_S);
        end(&test);
    }
}

static void second_owner_is_refused(void **state)
{
    (void)state;
    struct port_test test;
    begin(&test, false, false);
    struct modbus_port_setup setup = setup_of(test.bad, false);
    struct modbus_port *second = NULL;
    /* root passes the kernel's exclusive mode, but not the lock */
    assert_int_equal(modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &second, &test.err),
                     -EBUSY);
    assert_null(second);
    modbus_port_close(test.port);
    assert_int_equal(
        modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &test.port, &test.err), 0);
    assert_int_equal(ask(&test, (struct modbus_request){7, 3, 2, 2, 0}), 0);
    end(&test);
}

static void discarding_counts_and_ends(void **state)
{
    (void)state;
    struct port_test test;
    begin(&test, false, false);
    bad_modbus_rule(test.bad, (struct bad_rule){BAD_TWICE, 0, -1, -1, -1, 1});
    assert_int_equal(ask(&test, (struct modbus_request){7, 3, 2, 2, 0}), 0);
    size_t bytes;
    int64_t started = clock_boot_ns();
    assert_int_equal(
        modbus_port_discard(test.port, started + 50 * CLOCK_NS_PER_MS, &bytes, &test.err), 0);
    assert_int_equal(bytes, 9); /* unit, function, count, 4 bytes, CRC */
    assert_in_range(clock_boot_ns() - started, 50 * CLOCK_NS_PER_MS, 500 * CLOCK_NS_PER_MS);
    assert_int_equal(modbus_port_discard(test.port, 0, &bytes, &test.err), 0);
    assert_int_equal(bytes, 0);
    end(&test);
}

/* select() of libmodbus would abort the process on such a descriptor. */
static void descriptors_beyond_select(void **state)
{
    (void)state;
    struct rlimit before, more = {FD_SETSIZE + 64, FD_SETSIZE + 64};
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    more.rlim_max = before.rlim_max;
    if (setrlimit(RLIMIT_NOFILE, &more) != 0) {
        skip();
    }
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        struct port_test test = {.bad =
                                     is_tcp ? bad_modbus_start_tcp() : bad_modbus_start_rtu(false)};
        assert_non_null(test.bad);
        int descriptors[FD_SETSIZE], count = 0, last;
        do {
            last = open("/dev/null", O_RDONLY | O_CLOEXEC);
            assert_true(last >= 0);
            descriptors[count++] = last;
        } while (last < FD_SETSIZE - 1);
        struct modbus_port_setup setup = setup_of(test.bad, is_tcp);
        assert_int_equal(
            modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &test.port, &test.err),
            -EMFILE);
        assert_non_null(strstr(test.err.text, "out of range (0 … 1023)"));
        while (count > 0) {
            (void)close(descriptors[--count]);
        }
        end(&test);
    }
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
}

static void descriptors_do_not_leak(void **state)
{
    (void)state;
    struct port_test test;
    begin(&test, true, false);
    /* The device answers, so it has taken its own descriptor of the connection. */
    assert_int_equal(ask(&test, (struct modbus_request){0x01, 3, 0, 2, 0}), 0);
    int before = open("/dev/null", O_RDONLY | O_CLOEXEC);
    (void)close(before);
    struct modbus_port_setup wrong[] = {setup_of(test.bad, true), setup_of(test.bad, false)};
    wrong[0].host = "not-an-address";
    wrong[1].device = "/dev/null";
    for (int i = 0; i < 200; i++) {
        struct modbus_port *port;
        assert_true(modbus_port_open(&wrong[i % 2], clock_boot_ns(), &port, &test.err) < 0);
    }
    int after = open("/dev/null", O_RDONLY | O_CLOEXEC);
    (void)close(after);
    assert_int_equal(after, before);
    end(&test);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bytes_on_the_serial_wire),
        cmocka_unit_test(crc_of_the_device),
        cmocka_unit_test(bytes_on_the_tcp_wire),
        cmocka_unit_test(serial_troubles),
        cmocka_unit_test(tcp_troubles),
        cmocka_unit_test(writes_confirmed_wrongly),
        cmocka_unit_test(own_echo_is_thrown_away),
        cmocka_unit_test(unexpected_echo_is_trouble),
        cmocka_unit_test(vanished_devices),
        cmocka_unit_test(second_owner_is_refused),
        cmocka_unit_test(discarding_counts_and_ends),
        cmocka_unit_test(descriptors_beyond_select),
        cmocka_unit_test(descriptors_do_not_leak),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
