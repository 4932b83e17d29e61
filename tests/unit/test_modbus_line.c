/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_line.h"

#include "near.h"

#include <setjmp.h>
#include <stdarg.h>

#include <cmocka.h>

static const int64_t second = 1000000000, ms = 1000000;

/* Modbus over Serial Line V1.02, 2.5.1.1: 1.5 and 3.5 characters; above 19200 Bd fixed. Calculated
 * for 11 and 10 bits. */
static void character_times(void **state)
{
    (void)state;
    static const struct {
        int baud, bits;
        double t15_us, t35_us;
    } cases[] = {
        {9600, 11, 1718.75, 4010.42}, {19200, 11, 859.4, 2005.2}, {4800, 11, 3437.5, 8020.8},
        {9600, 10, 1562.5, 3645.8},   {38400, 11, 750, 1750},     {115200, 10, 750, 1750},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int64_t t15 = modbus_line_t15_ns(cases[i].baud, cases[i].bits);
        int64_t t35 = modbus_line_t35_ns(cases[i].baud, cases[i].bits);
        assert_near((double)t15 * 1e-3, cases[i].t15_us, 0.1);
        assert_near((double)t35 * 1e-3, cases[i].t35_us, 0.1);
    }
}

static struct modbus_line serial_line(int baud, int timeout_ms, int worst_reply_ms)
{
    struct modbus_line line = {0};
    modbus_line_serial(&line.timing, baud, 11, timeout_ms, worst_reply_ms);
    return line;
}

static void gaps(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 1000, 2000);
    modbus_line_opened(&line, second);
    modbus_line_answered(&line, 3, 2 * second);
    /* 3.5 characters, and one bit that a receiver may be early; for any unit */
    assert_near((double)(modbus_line_earliest_ns(&line, 3) - 2 * second) * 1e-3, 2005.2 + 52.1,
                0.1);
    assert_near((double)(modbus_line_earliest_ns(&line, 4) - 2 * second) * 1e-3, 2005.2 + 52.1,
                0.1);
    line = serial_line(1200, 1000, 2000);
    modbus_line_answered(&line, 3, 2 * second);
    assert_near((double)(modbus_line_earliest_ns(&line, 3) - 2 * second) * 1e-3, 32083.3 + 833.3,
                0.1);
    line = serial_line(115200, 1000, 2000);
    modbus_line_answered(&line, 3, 2 * second);
    assert_true(modbus_line_earliest_ns(&line, 3) - 2 * second >= 1750000);

    struct modbus_line tcp = {0};
    modbus_line_tcp(&tcp.timing, 500, 0);
    modbus_line_opened(&tcp, second);
    modbus_line_answered(&tcp, 3, 2 * second);
    assert_int_equal(modbus_line_earliest_ns(&tcp, 4), 2 * second);
}

/* The unit that was in trouble once gets more silence on both sides of its answers, for good. */
static void gaps_after_trouble(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 1000, 2000);
    modbus_line_opened(&line, second);
    modbus_line_trouble(&line, 3, 2 * second);
    modbus_line_closed(&line);
    modbus_line_opened(&line, 10 * second);
    assert_int_equal(modbus_line_earliest_ns(&line, 3), 10 * second + 10 * ms);
    assert_true(modbus_line_earliest_ns(&line, 4) < 10 * second + 3 * ms);
    modbus_line_answered(&line, 3, 11 * second);
    assert_int_equal(modbus_line_earliest_ns(&line, 3), 11 * second + 10 * ms);
    assert_int_equal(modbus_line_earliest_ns(&line, 4), 11 * second + 10 * ms);
    modbus_line_answered(&line, 4, 12 * second);
    assert_true(modbus_line_earliest_ns(&line, 5) < 12 * second + 3 * ms);

    line = serial_line(1200, 1000, 2000);
    modbus_line_trouble(&line, 3, 2 * second);
    assert_near((double)(modbus_line_earliest_ns(&line, 3) - 2 * second) * 1e-3,
                2 * (32083.3 + 833.3), 0.2);
}

/* A unit that wants more silence gets it on both sides of its answers, one that wants less does
 * not. */
static void gaps_of_a_unit(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 1000, 2000);
    line.timing.paces[3].gap_ns = 40 * ms;
    line.timing.paces[5].gap_ns = 1 * ms; /* less than 3.5 characters */
    modbus_line_opened(&line, second);
    modbus_line_answered(&line, 3, 2 * second);
    assert_int_equal(modbus_line_earliest_ns(&line, 3), 2 * second + 40 * ms);
    assert_int_equal(modbus_line_earliest_ns(&line, 4), 2 * second + 40 * ms);
    modbus_line_answered(&line, 4, 3 * second);
    assert_int_equal(modbus_line_earliest_ns(&line, 3), 3 * second + 40 * ms);
    modbus_line_answered(&line, 5, 4 * second);
    assert_true(modbus_line_earliest_ns(&line, 5) - 4 * second >= 2005200);
}

static void timeout_of_a_unit(void **state)
{
    (void)state;
    struct modbus_line line = {0};
    modbus_line_tcp(&line.timing, 500, 0);
    line.timing.paces[7].timeout_ns = 800 * ms;
    line.timing.paces[7].gap_ns = 30 * ms;
    struct modbus_request usual = {6, 3, 0, 1, 0}, slow = {7, 3, 0, 1, 0};
    assert_int_equal(modbus_line_patience_ns(&line.timing, &usual), 500 * ms);
    assert_int_equal(modbus_line_patience_ns(&line.timing, &slow), 800 * ms);
    modbus_line_opened(&line, second);
    modbus_line_answered(&line, 6, 2 * second);
    assert_int_equal(modbus_line_done_ns(&line, &slow, 2 * second), 2 * second + 830 * ms);
    assert_int_equal(modbus_line_done_ns(&line, &usual, 3 * second), 3 * second + 500 * ms);
}

static void quarantine_ends_with_silence_only(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 300, 1200);
    modbus_line_opened(&line, 10 * second);
    assert_int_equal(line.state, MODBUS_UP);
    modbus_line_trouble(&line, 1, 11 * second);
    assert_int_equal(line.state, MODBUS_QUARANTINE);
    assert_int_equal(modbus_line_step(&line, 11 * second + 1199 * ms), MODBUS_QUARANTINE);
    modbus_line_heard(&line, 11 * second + 1199 * ms); /* the late answer: silence begins anew */
    assert_int_equal(modbus_line_step(&line, 11 * second + 2398 * ms), MODBUS_QUARANTINE);
    assert_int_equal(modbus_line_step(&line, 11 * second + 2399 * ms), MODBUS_UP);
    assert_int_equal(line.misses, 1);
    modbus_line_answered(&line, 1, 14 * second);
    assert_int_equal(line.misses, 0);
}

static void quarantine_outlives_a_reopening(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 300, 1200);
    modbus_line_opened(&line, 10 * second);
    modbus_line_trouble(&line, 1, 11 * second);
    modbus_line_closed(&line);
    modbus_line_opened(&line, 11 * second + 200 * ms);
    assert_int_equal(line.state, MODBUS_QUARANTINE);
    modbus_line_closed(&line);
    modbus_line_opened(&line, 13 * second);
    assert_int_equal(line.state, MODBUS_UP);
}

static void at_least_half_a_second_after_trouble(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 50, 100);
    modbus_line_opened(&line, 10 * second);
    modbus_line_trouble(&line, 1, 11 * second);
    assert_int_equal(modbus_line_step(&line, 11 * second + 499 * ms), MODBUS_QUARANTINE);
    assert_int_equal(modbus_line_step(&line, 11 * second + 500 * ms), MODBUS_UP);
}

static void tcp_closes_instead(void **state)
{
    (void)state;
    struct modbus_line line = {0};
    modbus_line_tcp(&line.timing, 500, 3000);
    modbus_line_opened(&line, 10 * second);
    modbus_line_trouble(&line, 1, 11 * second);
    assert_int_equal(line.state, MODBUS_CLOSED);
    modbus_line_opened(&line, 11 * second);
    assert_int_equal(line.state, MODBUS_UP);
    /* a gateway's serial side may still be busy with the late answer */
    assert_int_equal(modbus_line_earliest_ns(&line, 2), 14 * second);
    modbus_line_urgent(&line);
    assert_int_equal(modbus_line_earliest_ns(&line, 2), 11 * second);
}

static void urgent_lifts_a_quarantine(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(19200, 300, 1200);
    modbus_line_opened(&line, 10 * second);
    modbus_line_trouble(&line, 1, 11 * second);
    modbus_line_urgent(&line);
    assert_int_equal(line.state, MODBUS_UP);
    modbus_line_opened(&line, 11 * second + ms); /* afterwards it counts again */
    assert_int_equal(line.state, MODBUS_QUARANTINE);
}

static void patience_holds_the_wire_time(void **state)
{
    (void)state;
    struct modbus_line line = serial_line(9600, 1000, 2000);
    struct modbus_request request = {1, MODBUS_PDU_READ_HOLDING, 0, 125, 0};
    /* at most 9 + 2 bytes out, 253 + 2 back: 266 characters of 1.1458 ms */
    assert_near((double)modbus_line_patience_ns(&line.timing, &request) * 1e-6, 1304.8, 0.1);
    assert_int_equal(modbus_line_registers_max(&line.timing), 125);
    line = serial_line(1200, 1000, 2000);
    int most = modbus_line_registers_max(&line.timing);
    assert_in_range(most, 20, 25); /* 5 + 2 n characters of 9.17 ms in half a second */
    struct modbus_timing tcp;
    modbus_line_tcp(&tcp, 500, 0);
    assert_int_equal(modbus_line_registers_max(&tcp), 125);
    assert_int_equal(modbus_line_patience_ns(&tcp, &request), 500 * ms);
}

static void dead_units_are_asked_ever_more_rarely(void **state)
{
    (void)state;
    static const int expected_s[] = {1, 2, 4, 8, 16, 32, 60, 60, 60};
    struct modbus_health health = {0};
    struct modbus_request request = {1, MODBUS_PDU_READ_HOLDING, 5, 2, 0};
    int64_t now = 100 * second;
    for (size_t i = 0; i < sizeof expected_s / sizeof *expected_s; i++) {
        assert_true(modbus_health_is_due(&health, now));
        modbus_health_failed(&health, &request, now);
        int64_t due = now + expected_s[i] * second;
        assert_false(modbus_health_is_due(&health, due - 1));
        assert_true(modbus_health_is_due(&health, due));
        now = due;
    }
    modbus_health_failed(&health, &request, now);
    modbus_health_reopened(&health);
    assert_true(modbus_health_is_due(&health, now));
    modbus_health_answered(&health);
    modbus_health_failed(&health, &request, now);
    assert_true(modbus_health_is_due(&health, now + second));
}

static void probes_are_recognisable(void **state)
{
    (void)state;
    static const struct modbus_request usuals[] = {
        {1, MODBUS_PDU_READ_HOLDING, 5, 1, 0},     {1, MODBUS_PDU_READ_HOLDING, 5, 2, 0},
        {1, MODBUS_PDU_READ_HOLDING, 65535, 1, 0}, {1, MODBUS_PDU_READ_INPUT, 0, 125, 0},
        {1, MODBUS_PDU_READ_COILS, 3, 1, 0},       {1, MODBUS_PDU_READ_COILS, 65535, 1, 0},
    };
    for (size_t i = 0; i < sizeof usuals / sizeof *usuals; i++) {
        struct modbus_health health = {0};
        struct modbus_request probe = modbus_health_probe(&health, &usuals[i]);
        assert_int_equal(probe.count, usuals[i].count); /* nothing to be mistaken for */
        modbus_health_failed(&health, &usuals[i], second);
        probe = modbus_health_probe(&health, &usuals[i]);
        assert_int_not_equal(modbus_pdu_reply_size(&probe), modbus_pdu_reply_size(&usuals[i]));
        assert_in_range(probe.address + probe.count, 1, 65536);
        assert_in_range(probe.count, 1, 125);
        /* a unit that does not answer for addresses that it lacks is asked the usual way next */
        modbus_health_failed(&health, &probe, second);
        probe = modbus_health_probe(&health, &usuals[i]);
        assert_int_equal(probe.count, usuals[i].count);
    }
    struct modbus_health health = {0};
    struct modbus_request write = {1, MODBUS_PDU_WRITE_REGISTER, 5, 1, 7};
    modbus_health_failed(&health, &write, second);
    struct modbus_request probe = modbus_health_probe(&health, &usuals[0]);
    assert_int_equal(probe.count, 1); /* another function tells it already */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(character_times),
        cmocka_unit_test(gaps),
        cmocka_unit_test(gaps_after_trouble),
        cmocka_unit_test(gaps_of_a_unit),
        cmocka_unit_test(timeout_of_a_unit),
        cmocka_unit_test(quarantine_ends_with_silence_only),
        cmocka_unit_test(quarantine_outlives_a_reopening),
        cmocka_unit_test(at_least_half_a_second_after_trouble),
        cmocka_unit_test(tcp_closes_instead),
        cmocka_unit_test(urgent_lifts_a_quarantine),
        cmocka_unit_test(patience_holds_the_wire_time),
        cmocka_unit_test(dead_units_are_asked_ever_more_rarely),
        cmocka_unit_test(probes_are_recognisable),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
