/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_points.h"

#include "err.h"
#include "modbus_options.h"
#include "option_fill.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

struct points_test {
    struct option_fill bus_fill, fill;
    struct modbus_settings settings;
    struct modbus_points points;
    struct err err;
};

static void begin_rtu(struct points_test *test, const char *options)
{
    *test = (struct points_test){0};
    const struct option_value *values = option_fill(&test->bus_fill, modbus_rtu_options, options);
    assert_int_equal(modbus_points_rtu(values, &test->settings, &test->err), 0);
}

static int add_sensor(struct points_test *test, const char *options)
{
    return modbus_points_add_sensor(&test->points, &test->settings,
                                    option_fill(&test->fill, modbus_sensor_options, options),
                                    &test->err);
}

static int add_dim(struct points_test *test, const char *options)
{
    return modbus_points_add_output(&test->points, &test->settings, OUTPUT_DIM,
                                    option_fill(&test->fill, modbus_dim_options, options),
                                    &test->err);
}

static int add_switch(struct points_test *test, const char *options)
{
    return modbus_points_add_output(&test->points, &test->settings, OUTPUT_SWITCH,
                                    option_fill(&test->fill, modbus_switch_options, options),
                                    &test->err);
}

static void settings_of_a_serial_bus(void **state)
{
    (void)state;
    struct points_test test;
    begin_rtu(&test, "device=/dev/null baud=9600 parity=none stop_bits=2 gap_registers=4");
    assert_int_equal(test.settings.port.parity, 'N');
    assert_int_equal(test.settings.port.stop_bits, 2);
    /* start, 8 data, 2 stop: 11 bits of 104.17 µs */
    assert_int_equal(test.settings.timing.char_ns, 1000000000LL * 11 / 9600);
    assert_int_equal(test.settings.plan.gap_registers, 4);
    begin_rtu(&test, "device=/dev/null baud=9600 parity=odd");
    assert_int_equal(test.settings.port.parity, 'O');
    assert_int_equal(test.settings.timing.char_ns, 1000000000LL * 11 / 9600);
    begin_rtu(&test, "device=/dev/null parity=none");
    assert_int_equal(test.settings.timing.char_ns, 1000000000LL * 10 / 19200);
    begin_rtu(&test, "device=/dev/null");
    assert_int_equal(test.settings.port.parity, 'E'); /* the standard's default: 19200 8E1 */
    assert_int_equal(test.settings.port.baud, 19200);
    assert_false(test.settings.port.is_tcp);

    const struct option_value *values =
        option_fill(&test.bus_fill, modbus_rtu_options, "device=/dev/null baud=9601");
    assert_int_equal(modbus_points_rtu(values, &test.settings, &test.err), -EINVAL);
    assert_non_null(strstr(test.err.text, "baud is 9601"));
}

static void settings_of_a_tcp_bus(void **state)
{
    (void)state;
    struct points_test test = {0};
    const struct option_value *values =
        option_fill(&test.bus_fill, modbus_tcp_options, "host=192.0.2.7 timeout_ms=300");
    assert_int_equal(modbus_points_tcp(values, &test.settings, &test.err), 0);
    assert_true(test.settings.port.is_tcp);
    assert_string_equal(test.settings.port.host, "192.0.2.7");
    assert_int_equal(test.settings.port.tcp_port, 502);
    assert_int_equal(test.settings.unit, 255);
    assert_int_equal(test.settings.timing.timeout_ns, 300000000);
    assert_int_equal(test.settings.plan.count_max, 125);
    assert_int_equal(add_sensor(&test, "unit=0 register=0"), 0); /* some devices want 0 */
    assert_int_equal(add_sensor(&test, "register=0"), 0);
    assert_int_equal(test.points.units[1].number, 255);
    modbus_points_finish(&test.points);
}

static void points_find_their_units(void **state)
{
    (void)state;
    struct points_test test;
    begin_rtu(&test, "device=/dev/null unit=9");
    assert_int_equal(add_sensor(&test, "register=3 type=f32 order=cdab"), 0);
    assert_int_equal(add_sensor(&test, "unit=4 register=7 function=4"), 0);
    assert_int_equal(add_dim(&test, "unit=4 register=1 full=100"), 0);
    assert_int_equal(add_switch(&test, "coil=1 inverted=true"), 0);
    assert_int_equal(test.points.unit_count, 2);
    assert_int_equal(test.points.sensor_count, 2);
    assert_int_equal(test.points.output_count, 2);
    assert_int_equal(test.points.units[0].number, 9);
    assert_int_equal(test.points.units[1].number, 4);
    assert_int_equal(test.points.wishes[0].count, 2);
    assert_int_equal(test.points.wishes[1].function, 4);
    assert_int_equal(test.points.outputs[0].unit, 1);
    assert_int_equal(test.points.outputs[1].unit, 0);
    assert_int_equal(test.points.outputs[1].span.full, 0); /* the coil is off while it is closed */
    assert_int_equal(test.points.outputs[1].span.zero, 1);
    assert_true(test.points.units[0].has_probe);
    modbus_points_finish(&test.points);
    modbus_points_finish(&test.points); /* twice is fine */
}

static void what_a_range_cannot_say(void **state)
{
    (void)state;
    struct points_test test;
    begin_rtu(&test, "device=/dev/null");
    assert_int_equal(add_dim(&test, "register=1 full=100"), 0);
    assert_int_equal(add_switch(&test, "coil=1"), 0);
    const struct {
        int (*add)(struct points_test *, const char *);
        const char *options, *words;
    } cases[] = {
        {add_sensor, "unit=0 register=1", "unit 0 is out of range (1 … 247"},
        {add_sensor, "unit=248 register=1", "unit 248"},
        {add_sensor, "register=65535 type=f32", "register 65535 is out of range (0 … 65534"},
        {add_sensor, "register=1 scale=0", "scale is 0"},
        {add_sensor, "register=1 type=s16 small_negatives=true", "only for the type u16"},
        {add_dim, "register=2 full=0", "full and zero are both 0"},
        {add_dim, "register=2 full=9 write_function=7", "write_function is 7"},
        {add_dim, "register=1 full=9", "register 1 of unit 1 is already another output"},
        {add_switch, "coil=1", "coil 1 of unit 1 is already another output"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(cases[i].add(&test, cases[i].options), -EINVAL);
        if (!strstr(test.err.text, cases[i].words)) {
            fail_msg("%s: %s", cases[i].options, test.err.text);
        }
    }
    assert_int_equal(test.points.sensor_count, 0);
    assert_int_equal(test.points.output_count, 2);
    assert_int_equal(add_sensor(&test, "register=65535"), 0);
    assert_int_equal(add_sensor(&test, "register=65534 type=u32"), 0);
    modbus_points_finish(&test.points);
}

static void one_identity_a_unit(void **state)
{
    (void)state;
    struct points_test test;
    begin_rtu(&test, "device=/dev/null");
    assert_int_equal(add_sensor(&test, "register=1"), 0);
    assert_false(test.points.units[0].identity.is_given);
    assert_int_equal(add_sensor(&test, "register=2 identity_register=0 identity_value=77"), 0);
    assert_true(test.points.units[0].identity.is_given);
    assert_int_equal(test.points.units[0].identity.value, 77);
    assert_int_equal(add_sensor(&test, "register=3 identity_register=0 identity_value=77"), 0);
    assert_int_equal(add_sensor(&test, "register=4 identity_register=0 identity_value=78"),
                     -EINVAL);
    assert_non_null(strstr(test.err.text, "the unit's identity is register 0 = 78"));
    assert_int_equal(
        add_dim(&test,
                "register=5 full=9 identity_register=0 identity_value=77 identity_function=4"),
        -EINVAL);
    assert_int_equal(add_dim(&test, "unit=2 register=5 full=9 identity_register=1"), 0);
    assert_int_equal(add_switch(&test, "coil=3 loss_register=40 loss_value=50"), 0);
    assert_int_equal(test.points.units[0].loss.value, 50);
    assert_int_equal(add_switch(&test, "coil=4 loss_register=40 loss_value=51"), -EINVAL);
    assert_non_null(strstr(test.err.text, "the unit's loss register is register 40 = 51"));
    assert_int_equal(add_switch(&test, "coil=4 loss_value=50"), -EINVAL);
    assert_string_equal(test.err.text,
                        "loss_value is 50, but without loss_register it has no effect");
    assert_int_equal(add_switch(&test, "coil=4 identity_value=7"), -EINVAL);
    assert_non_null(strstr(test.err.text, "without identity_register"));
    modbus_points_finish(&test.points);
}

static void one_pace_a_unit(void **state)
{
    (void)state;
    struct points_test test;
    begin_rtu(&test, "device=/dev/null worst_reply_ms=800");
    struct modbus_timing timing = test.settings.timing;
    assert_int_equal(add_sensor(&test, "unit=1 register=1"), 0);
    assert_int_equal(add_sensor(&test, "unit=2 register=1 unit_gap_ms=40"), 0);
    assert_int_equal(add_sensor(&test, "unit=2 register=2 unit_timeout_ms=1500"), 0);
    assert_int_equal(add_switch(&test, "unit=2 coil=1 unit_gap_ms=40"), 0);
    assert_int_equal(add_sensor(&test, "unit=3 register=1 unit_worst_reply_ms=700"), 0);
    modbus_points_pace(&test.points, &timing);
    assert_int_equal(timing.paces[1].gap_ns, 0);
    assert_int_equal(timing.paces[1].timeout_ns, 0);
    assert_int_equal(timing.paces[2].gap_ns, 40000000);
    assert_int_equal(timing.paces[2].timeout_ns, 1500000000);
    assert_int_equal(timing.silence_ns, 800000000); /* unit 1 is as slow as the bus */
    assert_int_equal(add_sensor(&test, "unit=3 register=2 unit_worst_reply_ms=900"), -EINVAL);
    assert_non_null(strstr(test.err.text, "unit_worst_reply_ms is 900 here, but 700"));
    assert_int_equal(add_sensor(&test, "unit=2 register=2 unit_gap_ms=41"), -EINVAL);
    assert_int_equal(add_dim(&test, "unit=2 register=2 full=9 unit_timeout_ms=1499"), -EINVAL);
    assert_int_equal(add_switch(&test, "unit=1 coil=1 unit_timeout_ms=19"), -EINVAL);
    assert_non_null(strstr(test.err.text, "unit_timeout_ms is 19: must be 0 or 20 … 1500"));
    assert_int_equal(add_switch(&test, "unit=4 coil=1 unit_worst_reply_ms=10000"), 0);
    modbus_points_pace(&test.points, &timing);
    assert_int_equal(timing.silence_ns, 10000000000);
    test.settings.port.is_tcp = true; /* the whole of a read has less time there */
    assert_int_equal(add_switch(&test, "unit=5 coil=1 unit_timeout_ms=901"), -EINVAL);
    assert_non_null(strstr(test.err.text, "20 … 900"));
    modbus_points_finish(&test.points);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(settings_of_a_serial_bus), cmocka_unit_test(settings_of_a_tcp_bus),
        cmocka_unit_test(points_find_their_units),  cmocka_unit_test(what_a_range_cannot_say),
        cmocka_unit_test(one_identity_a_unit),      cmocka_unit_test(one_pace_a_unit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
