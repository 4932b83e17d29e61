/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Functions, registers and exceptions of the bench device. Codes and limits: MODBUS Application
 * Protocol Specification V1.1b3, section 6 (functions) and 7 (exceptions 01 function, 02 address,
 * 03 value). Float examples: IEEE 754 single precision, 500.0 = 43FA0000.
 */
#include "bench_device.h"
#include "near.h"

#include "clock.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>
#include <cmocka.h>

static struct bench_device device;
static uint8_t answer[BENCH_PDU_MAX];

static int begin(void **state)
{
    (void)state;
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    setup.ppfd_noise = 0;
    setup.room_swing_c = 0;
    setup.heat_noise_c = 0;
    int code = bench_setup_layout(&setup, "1,1", 500, 300, NULL);
    device = (struct bench_device){.model = bench_model_create(&setup), .pace = 1};
    return code == 0 && device.model ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    bench_model_destroy(device.model);
    return 0;
}

static int ask(int unit, const char *bytes, size_t size)
{
    memset(answer, 0xEE, sizeof answer);
    return bench_device_answer(&device, unit, (const uint8_t *)bytes, size, answer);
}

/* The request as a string literal with its NUL bytes. */
#define ASK(unit, bytes) ask(unit, bytes, sizeof(bytes) - 1)

#define ASSERT_ANSWER(unit, request, reply)                                                        \
    do {                                                                                           \
        assert_int_equal(ASK(unit, request), sizeof(reply) - 1);                                   \
        assert_memory_equal(answer, reply, sizeof(reply) - 1);                                     \
    } while (0)

static unsigned reg(int i)
{
    return (unsigned)(answer[2 + 2 * i] << 8 | answer[3 + 2 * i]);
}

static double real(int i)
{
    uint32_t bits = reg(i) << 16 | reg(i + 1);
    float value = 0;
    memcpy(&value, &bits, sizeof value);
    return (double)value;
}

static void live(int seconds)
{
    bench_model_run(device.model, seconds);
}

static void test_outputs(void **state)
{
    (void)state;
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x01", "\x03\x02\x00\x00");
    ASSERT_ANSWER(1, "\x06\x00\x00\x27\x10", "\x06\x00\x00\x27\x10");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x01", "\x03\x02\x27\x10");
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x01\x02\x15\x7C", "\x10\x00\x00\x00\x01");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x01", "\x03\x02\x15\x7C"); /* 5500 */
    ASSERT_ANSWER(1, "\x01\x00\x00\x00\x01", "\x01\x01\x00");
    ASSERT_ANSWER(1, "\x05\x00\x00\xFF\x00", "\x05\x00\x00\xFF\x00");
    ASSERT_ANSWER(1, "\x01\x00\x00\x00\x01", "\x01\x01\x01");
    ASSERT_ANSWER(1, "\x0F\x00\x00\x00\x01\x01\x00", "\x0F\x00\x00\x00\x01");
    ASSERT_ANSWER(1, "\x01\x00\x00\x00\x01", "\x01\x01\x00");
    ASSERT_ANSWER(1, "\x0F\x00\x00\x00\x01\x01\xFF", "\x0F\x00\x00\x00\x01");
    ASSERT_ANSWER(1, "\x01\x00\x00\x00\x01", "\x01\x01\x01");
    ASSERT_ANSWER(2, "\x01\x00\x00\x00\x01", "\x01\x01\x00"); /* the other fixture is untouched */
    ASSERT_ANSWER(2, "\x03\x00\x00\x00\x01", "\x03\x02\x00\x00");
    double drive = 0;
    assert_int_equal(bench_model_drive(device.model, 0, &drive), 0);
    assert_near(drive, 0.55, 0);
}

static void test_inputs(void **state)
{
    (void)state;
    bench_model_set_drive(device.model, 1, 1);
    bench_model_set_switch(device.model, 1, true);
    live(3600);
    double ppfd = bench_model_true_umol(device.model, 1), heat = 0, power = 0, air = 0, rh = 0;
    assert_int_equal(bench_model_heat(device.model, 1, &heat), 0);
    assert_int_equal(bench_model_power(device.model, 1, &power), 0);
    assert_int_equal(bench_model_air(device.model, &air, &rh), 0);

    for (int holding = 0; holding < 2; holding++) {
        assert_int_equal(holding ? ASK(2, "\x03\x00\x64\x00\x05") : ASK(2, "\x04\x00\x00\x00\x05"),
                         12);
        assert_int_equal(answer[0], holding ? 3 : 4);
        assert_int_equal(answer[1], 10);
        assert_near(reg(0) / 10.0, ppfd, 0.11);
        assert_near(reg(1) / 10.0, heat, 0.06);
        assert_near(reg(2) / 10.0, power, 0.06);
        assert_near(reg(3) / 10.0, air, 0.06);
        assert_near(reg(4) / 10.0, rh, 0.06);
        assert_int_equal(holding ? ASK(2, "\x03\x00\x6D\x00\x07") : ASK(2, "\x04\x00\x09\x00\x07"),
                         16);
        assert_int_equal(reg(0), 0x4C57);
        assert_near(real(1), ppfd, 0.06);
        assert_near(real(3), heat, 1e-4);
        assert_near(real(5), power, 1e-4);
    }
    ASSERT_ANSWER(1, "\x04\x00\x0A\x00\x02", "\x04\x04\x00\x00\x00\x00");
    bench_model_set_daylight(device.model, 0, 500);
    live(1);
    ASSERT_ANSWER(1, "\x04\x00\x0A\x00\x02", "\x04\x04\x43\xFA\x00\x00");
    ASSERT_ANSWER(1, "\x04\x00\x00\x00\x01", "\x04\x02\x13\x88");
    bench_model_set_daylight(device.model, 0, 9000); /* beyond the register: its largest number */
    live(1);
    ASSERT_ANSWER(1, "\x04\x00\x00\x00\x01", "\x04\x02\xFF\xFE");
}

static void test_negative_temperature(void **state)
{
    (void)state;
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    setup.room_c = -12.5;
    setup.room_swing_c = 0;
    assert_int_equal(bench_setup_layout(&setup, "1", 500, 300, NULL), 0);
    bench_model_destroy(device.model);
    device.model = bench_model_create(&setup);
    ASSERT_ANSWER(1, "\x04\x00\x01\x00\x01", "\x04\x02\xFF\x83"); /* −125 */
}

static void test_exceptions(void **state)
{
    (void)state;
    /* functions that are not there */
    ASSERT_ANSWER(1, "\x02\x00\x00\x00\x01", "\x82\x01");
    ASSERT_ANSWER(1, "\x08\x00\x00\xA5\x37", "\x88\x01");
    ASSERT_ANSWER(1, "\x2B\x0E\x01\x00", "\xAB\x01");
    ASSERT_ANSWER(1, "\x00", "\x80\x01");
    ASSERT_ANSWER(1, "\xFF", "\xFF\x01");
    /* quantities and lengths */
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x00", "\x83\x03");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x7E", "\x83\x03");
    ASSERT_ANSWER(1, "\x04\x00\x00\xFF\xFF", "\x84\x03");
    ASSERT_ANSWER(1, "\x01\x00\x00\x07\xD1", "\x81\x03");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00", "\x83\x03");
    ASSERT_ANSWER(1, "\x03", "\x83\x03");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x01\x00", "\x83\x03");
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x01\x02\x00", "\x90\x03");
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x01\x04\x00\x00\x00\x00", "\x90\x03");
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x01\x04\x00\x00", "\x90\x03"); /* byte count lies */
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x00\x00", "\x90\x03");
    ASSERT_ANSWER(1, "\x0F\x00\x00\xFF\xFF\x01\x00", "\x8F\x03");
    ASSERT_ANSWER(1, "\x05\x00\x00\x00\x01", "\x85\x03");
    ASSERT_ANSWER(1, "\x05\x00\x00\xFF\xFF", "\x85\x03");
    /* addresses */
    ASSERT_ANSWER(1, "\x03\x00\x01\x00\x01", "\x83\x02");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x02", "\x83\x02");
    ASSERT_ANSWER(1, "\x03\xFF\xFF\x00\x7D", "\x83\x02");
    ASSERT_ANSWER(1, "\x04\x00\x04\x00\x02", "\x84\x02");
    ASSERT_ANSWER(1, "\x04\x00\x0F\x00\x02", "\x84\x02");
    ASSERT_ANSWER(1, "\x04\x00\x64\x00\x01", "\x84\x02");
    ASSERT_ANSWER(1, "\x01\x00\x00\x00\x02", "\x81\x02");
    ASSERT_ANSWER(1, "\x01\x00\x01\x00\x01", "\x81\x02");
    ASSERT_ANSWER(1, "\x05\x00\x01\xFF\x00", "\x85\x02");
    ASSERT_ANSWER(1, "\x06\x00\x64\x00\x01", "\x86\x02");
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x02\x04\x00\x00\x00\x00", "\x90\x02");
    ASSERT_ANSWER(1, "\x0F\x00\x01\x00\x01\x01\x01", "\x8F\x02");
    /* values */
    ASSERT_ANSWER(1, "\x06\x00\x00\x27\x11", "\x86\x03");
    ASSERT_ANSWER(1, "\x10\x00\x00\x00\x01\x02\xFF\xFF", "\x90\x03");
    /* none of it changed anything */
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x01", "\x03\x02\x00\x00");
    ASSERT_ANSWER(1, "\x01\x00\x00\x00\x01", "\x01\x01\x00");

    assert_int_equal(ASK(0, "\x03\x00\x00\x00\x01"), -ENXIO);
    assert_int_equal(ASK(3, "\x03\x00\x00\x00\x01"), -ENXIO);
    assert_int_equal(ASK(255, "\x03\x00\x00\x00\x01"), -ENXIO);
    assert_int_equal(ASK(1, ""), 0);
    static const char huge[BENCH_PDU_MAX + 1] = "\x03";
    assert_int_equal(ask(1, huge, sizeof huge), 0);
}

static void fault(enum bench_fault_kind kind, int unit, double value)
{
    bench_model_cut_faults(device.model, 0);
    const struct bench_fault spec = {.length_s = 1e9, .kind = kind, .unit = unit, .value = value};
    assert_int_equal(bench_model_add_fault(device.model, &spec), 0);
}

static void test_faults(void **state)
{
    (void)state;
    fault(BENCH_PPFD_NAN, 0, 0);
    ASSERT_ANSWER(1, "\x04\x00\x00\x00\x01", "\x04\x02\xFF\xFF");
    assert_int_equal(ASK(1, "\x04\x00\x0A\x00\x02"), 6);
    assert_true(isnan(real(0)));

    fault(BENCH_PPFD_SILENT, 0, 0);
    assert_int_equal(ASK(1, "\x04\x00\x00\x00\x01"), 0);
    assert_int_equal(ASK(1, "\x04\x00\x00\x00\x05"),
                     0); /* one silent register silences the request */
    assert_int_equal(ASK(1, "\x04\x00\x01\x00\x04"), 10);
    assert_int_equal(ASK(2, "\x04\x00\x00\x00\x05"), 12);
    ASSERT_ANSWER(1, "\x04\x00\x00\x00\x07", "\x84\x02");

    fault(BENCH_HEAT_SILENT, 1, 0);
    assert_int_equal(ASK(2, "\x04\x00\x0C\x00\x02"), 0);
    assert_int_equal(ASK(2, "\x04\x00\x0E\x00\x02"), 6);

    fault(BENCH_DIM_STUCK, 0, 0);
    ASSERT_ANSWER(1, "\x06\x00\x00\x27\x10", "\x06\x00\x00\x27\x10");
    ASSERT_ANSWER(1, "\x03\x00\x00\x00\x01", "\x03\x02\x00\x00");

    fault(BENCH_BUS_DOWN, 0, 0);
    assert_int_equal(ASK(1, "\x06\x00\x00\x27\x10"), 0);
    assert_int_equal(ASK(9, "\x03\x00\x00\x00\x01"), 0);

    fault(BENCH_LATE, 0, 1.5);
    assert_int_equal(bench_device_lateness_ns(&device), 1500 * CLOCK_NS_PER_MS);
    bench_model_cut_faults(device.model, 0);
    assert_int_equal(bench_device_lateness_ns(&device), 0);
}

static void test_catch_up(void **state)
{
    (void)state;
    device.pace = 10;
    bench_device_catch_up(&device, 2 * CLOCK_NS_PER_S);
    assert_near(bench_model_seconds(device.model), 20, 1e-9);
    bench_device_catch_up(&device, 2 * CLOCK_NS_PER_S + CLOCK_NS_PER_MS);
    assert_near(bench_model_seconds(device.model), 20, 1e-9);
    bench_device_catch_up(&device, INT64_MAX / 2); /* a century asleep: ten days are lived */
    assert_near(bench_model_seconds(device.model), 20 + 864000, 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_outputs, begin, end),
        cmocka_unit_test_setup_teardown(test_inputs, begin, end),
        cmocka_unit_test_setup_teardown(test_negative_temperature, begin, end),
        cmocka_unit_test_setup_teardown(test_exceptions, begin, end),
        cmocka_unit_test_setup_teardown(test_faults, begin, end),
        cmocka_unit_test_setup_teardown(test_catch_up, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
