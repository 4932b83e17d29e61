/* SPDX-License-Identifier: Apache-2.0 */
/* The tables and their indices agree; that the tables are well formed is checked for every driver
 * at once. */
#include "modbus_options.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

static void rows_carry_their_names(void **state)
{
    (void)state;
    const struct {
        const struct option *table;
        int row;
        const char *name;
    } cases[] = {
        {modbus_tcp_options, MODBUS_TCP_HOST, "host"},
        {modbus_tcp_options, MODBUS_TCP_GAP, "gap_registers"},
        {modbus_rtu_options, MODBUS_RTU_DEVICE, "device"},
        {modbus_rtu_options, MODBUS_RTU_PARITY, "parity"},
        {modbus_rtu_options, MODBUS_RTU_DIRECTION, "direction"},
        {modbus_sensor_options, MODBUS_POINT_UNIT, "unit"},
        {modbus_sensor_options, MODBUS_POINT_GAP, "unit_gap_ms"},
        {modbus_dim_options, MODBUS_POINT_TIMEOUT, "unit_timeout_ms"},
        {modbus_switch_options, MODBUS_POINT_WORST_REPLY, "unit_worst_reply_ms"},
        {modbus_sensor_options, MODBUS_SENSOR_REGISTER, "register"},
        {modbus_sensor_options, MODBUS_SENSOR_SMALL, "small_negatives"},
        {modbus_dim_options, MODBUS_POINT_IDENTITY_FUNCTION, "identity_function"},
        {modbus_dim_options, MODBUS_DIM_FUNCTION, "write_function"},
        {modbus_switch_options, MODBUS_SWITCH_COIL, "coil"},
        {modbus_switch_options, MODBUS_SWITCH_VERIFY, "verify"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_string_equal(cases[i].table[cases[i].row].name, cases[i].name);
    }
    assert_int_equal(option_count(modbus_tcp_options), MODBUS_TCP_GAP + 1);
    assert_int_equal(option_count(modbus_rtu_options), MODBUS_RTU_DIRECTION + 1);
    assert_int_equal(option_count(modbus_sensor_options), MODBUS_SENSOR_SMALL + 1);
    assert_int_equal(option_count(modbus_dim_options), MODBUS_DIM_FUNCTION + 1);
    assert_int_equal(option_count(modbus_switch_options), MODBUS_SWITCH_VERIFY + 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(rows_carry_their_names)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
