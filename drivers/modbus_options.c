/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_options.h"

const struct option modbus_tcp_options[] = {
    [MODBUS_TCP_HOST] =
        {"host", OPTION_TEXT, "", 1, 64, NULL, NULL,
         "Numeric IPv4 or IPv6 address of the device or gateway. Names are refused: "
         "a name server that does not answer would delay the light."},
    [MODBUS_TCP_PORT] = {"port", OPTION_INT, "", 1, 65535, NULL, "502", "TCP port."},
    [MODBUS_TCP_UNIT] =
        {"unit", OPTION_INT, "", 0, 255, NULL, "255",
         "Unit of points that name none. 255 (some devices: 0) addresses the device "
         "itself, 1 to 247 a unit behind a gateway."},
    [MODBUS_TCP_TIMEOUT] =
        {"timeout_ms", OPTION_INT, "ms", 20, 900, NULL, "500",
         "How long an answer may take: above the slowest device's stated maximum."},
    [MODBUS_TCP_WORST_REPLY] =
        {"worst_reply_ms", OPTION_INT, "ms", 0, 10000, NULL, "0",
         "After trouble nothing is sent for so long. For gateways: the time by "
         "which the slowest unit behind it has answered."},
    [MODBUS_TCP_GAP] =
        {"gap_registers", OPTION_INT, "", 0, 120, NULL, "0",
         "Registers between two sensors of one unit that may be read along to save a "
         "request. Leave 0 where reading a register has an effect."},
    {0},
};

const struct option modbus_rtu_options[] = {
    [MODBUS_RTU_DEVICE] = {"device", OPTION_TEXT, "", 1, 255, NULL, NULL,
                           "Serial line, best by its place: /dev/serial/by-path/…. Numbers such as "
                           "ttyUSB0 change when adapters are plugged in another order."},
    [MODBUS_RTU_BAUD] = {"baud", OPTION_INT, "Bd", 1200, 115200, NULL, "19200",
                         "1200, 2400, 4800, 9600, 19200, 38400, 57600 or 115200."},
    [MODBUS_RTU_PARITY] =
        {"parity", OPTION_CHOICE, "", 0, 0, "even none odd", "even",
         "As the devices are set; the standard's default is even, small sensors are "
         "often set to none."},
    [MODBUS_RTU_STOP] = {"stop_bits", OPTION_INT, "", 1, 2, NULL, "1",
                         "The standard wants 2 without parity; many devices use 1."},
    [MODBUS_RTU_UNIT] = {"unit", OPTION_INT, "", 1, 247, NULL, "1",
                         "Unit of points that name none."},
    [MODBUS_RTU_TIMEOUT] = {"timeout_ms", OPTION_INT, "ms", 20, 1500, NULL, "1000",
                            "How long an answer may take, beside the time of its characters: above "
                            "the slowest unit's stated maximum. A write is given up after 0.95 s."},
    [MODBUS_RTU_WORST_REPLY] = {"worst_reply_ms", OPTION_INT, "ms", 100, 10000, NULL, "2000",
                                "After trouble the line must be silent for so long before it is "
                                "believed again: the latest moment at which the slowest unit may "
                                "still answer."},
    [MODBUS_RTU_GAP] =
        {"gap_registers", OPTION_INT, "", 0, 120, NULL, "0",
         "Registers between two sensors of one unit that may be read along to save a "
         "request. Leave 0 where reading a register has an effect."},
    [MODBUS_RTU_ECHO] = {"echo", OPTION_BOOL, "", 0, 0, NULL, "false",
                         "The adapter hears its own transmission; it is checked and thrown away."},
    [MODBUS_RTU_DIRECTION] = {"direction", OPTION_CHOICE, "", 0, 0, "adapter kernel", "adapter",
                              "Who switches the RS-485 transmitter: the adapter by itself, or the "
                              "kernel's serial driver."},
    {0},
};

/* The first rows of every point. */
#define UNIT_ROWS                                                                                  \
    [MODBUS_POINT_UNIT] = {"unit", OPTION_INT,                                                     \
                           "",     -1,                                                             \
                           255,    NULL,                                                           \
                           "-1",   "Unit (slave address). -1: the unit of the bus."},              \
    [MODBUS_POINT_IDENTITY] = {"identity_register",                                                \
                               OPTION_INT,                                                         \
                               "",                                                                 \
                               -1,                                                                 \
                               65535,                                                              \
                               NULL,                                                               \
                               "-1",                                                               \
                               "Register that tells this unit from others, counted from 0; read "  \
                               "after each connection, before anything is driven. -1: not "        \
                               "checked. One point of a unit may say it for all."},                \
    [MODBUS_POINT_IDENTITY_VALUE] =                                                                \
        {"identity_value", OPTION_INT, "", 0, 65535, NULL, "0", "What that register must hold."},  \
    [MODBUS_POINT_IDENTITY_FUNCTION] = {"identity_function",                                       \
                                        OPTION_INT,                                                \
                                        "",                                                        \
                                        3,                                                         \
                                        4,                                                         \
                                        NULL,                                                      \
                                        "3",                                                       \
                                        "3: it is a holding register, 4: an input register."},     \
    [MODBUS_POINT_LOSS] =                                                                          \
        {"loss_register",                                                                          \
         OPTION_INT,                                                                               \
         "",                                                                                       \
         -1,                                                                                       \
         65535,                                                                                    \
         NULL,                                                                                     \
         "-1",                                                                                     \
         "Holding register of the time after which the unit falls back to off when it hears "      \
         "nothing. Written where it differs and read back before the unit is driven. -1: not "     \
         "set. Relay boards, 0-10 V and PWM converters and analogue output modules then mostly "   \
         "keep their last output for ever when this computer dies: pull the bus cable and look."}, \
    [MODBUS_POINT_LOSS_VALUE] = {"loss_value",                                                     \
                                 OPTION_INT,                                                       \
                                 "",                                                               \
                                 0,                                                                \
                                 65535,                                                            \
                                 NULL,                                                             \
                                 "0",                                                              \
                                 "What that register must hold, in the unit's own measure."},      \
    [MODBUS_POINT_GAP] =                                                                           \
        {"unit_gap_ms",                                                                            \
         OPTION_INT,                                                                               \
         "ms",                                                                                     \
         0,                                                                                        \
         100,                                                                                      \
         NULL,                                                                                     \
         "0",                                                                                      \
         "Silence before each question to this unit and after its answer, where it needs more "    \
         "than the line keeps anyway: 3.5 characters, and 10 ms after the unit's first missing "   \
         "or broken answer. 0: as the bus. One point of a unit may say this and the next two for " \
         "all."},                                                                                  \
    [MODBUS_POINT_TIMEOUT] = {"unit_timeout_ms",                                                   \
                              OPTION_INT,                                                          \
                              "ms",                                                                \
                              0,                                                                   \
                              1500,                                                                \
                              NULL,                                                                \
                              "0",                                                                 \
                              "How long this unit's answer may take. 0: the bus's timeout_ms, "    \
                              "whose range holds here too."},                                      \
    [MODBUS_POINT_WORST_REPLY] = {                                                                 \
        "unit_worst_reply_ms",                                                                     \
        OPTION_INT,                                                                                \
        "ms",                                                                                      \
        0,                                                                                         \
        10000,                                                                                     \
        NULL,                                                                                      \
        "0",                                                                                       \
        "The latest moment at which this unit may still answer, where that is later than the "     \
        "bus's worst_reply_ms: the slowest unit sets the silence of a bus. 0: as the bus."}

const struct option modbus_sensor_options[] = {
    UNIT_ROWS,
    [MODBUS_SENSOR_FUNCTION] = {"function", OPTION_INT, "", 3, 4, NULL, "3",
                                "3: holding register, 4: input register."},
    [MODBUS_SENSOR_REGISTER] = {"register", OPTION_INT, "", 0, 65535, NULL, NULL,
                                "First register, counted from 0: register number n is n - 1 here, "
                                "and 4xxxx or 3xxxx in a manual is a number."},
    [MODBUS_SENSOR_TYPE] = {"type", OPTION_CHOICE, "", 0, 0, "u16 s16 u32 s32 f32", "u16",
                            "Unsigned or signed integer of 16 or 32 bits, or a 32-bit float."},
    [MODBUS_SENSOR_ORDER] = {"order", OPTION_CHOICE, "", 0, 0, "abcd cdab badc dcba", "abcd",
                             "How the bytes arrive, a the most significant. Modbus fixes it for 16 "
                             "bits only: try it under a known light."},
    [MODBUS_SENSOR_SCALE] = {"scale", OPTION_REAL, "", -1e9, 1e9, NULL, "1",
                             "value = raw * scale + offset, in the sensor's unit; not 0."},
    [MODBUS_SENSOR_OFFSET] = {"offset", OPTION_REAL, "", -1e9, 1e9, NULL, "0",
                              "See scale; in the sensor's unit."},
    [MODBUS_SENSOR_SENTINELS] =
        {"sentinels", OPTION_CHOICE, "", 0, 0, "none limits all", "limits",
         "Raw values that mean 'no reading'. limits: 0x7FFF, 0x8000 (32 bit: "
         "0x7FFFFFFF, 0x80000000) and -9999; all: 0xFFFF (0xFFFFFFFF) too."},
    [MODBUS_SENSOR_SMALL] = {"small_negatives", OPTION_BOOL, "", 0, 0, NULL, "false",
                             "u16 only: raw 0xFF9C to 0xFFFF is -100 to -1, as sensors with an "
                             "offset around zero send it in the dark."},
    {0},
};

const struct option modbus_dim_options[] = {
    UNIT_ROWS,
    [MODBUS_DIM_REGISTER] = {"register", OPTION_INT, "", 0, 65535, NULL, NULL,
                             "Holding register of the output, counted from 0."},
    [MODBUS_DIM_FULL] = {"full", OPTION_INT, "", 0, 65535, NULL, NULL,
                         "What the register holds at drive 1, such as 10000 for 10 V in mV."},
    [MODBUS_DIM_ZERO] = {"zero", OPTION_INT, "", 0, 65535, NULL, "0",
                         "What it holds at drive 0; may be above full for an inverted output."},
    [MODBUS_DIM_SAFE] = {"safe", OPTION_REAL, "", 0, 1, NULL, "0",
                         "Drive while the fixture is off and when the bus is given up."},
    [MODBUS_DIM_VERIFY] = {"verify", OPTION_BOOL, "", 0, 0, NULL, "true",
                           "Read the register back after each write. The unit must answer within "
                           "0.4 s for both to fit into one write."},
    [MODBUS_DIM_FUNCTION] = {"write_function", OPTION_INT, "", 6, 16, NULL, "6",
                             "6: write single register; 16 for devices that lack it."},
    {0},
};

const struct option modbus_switch_options[] = {
    UNIT_ROWS,
    [MODBUS_SWITCH_COIL] = {"coil", OPTION_INT, "", 0, 65535, NULL, NULL,
                            "Coil of the switch, counted from 0."},
    [MODBUS_SWITCH_INVERTED] =
        {"inverted", OPTION_BOOL, "", 0, 0, NULL, "false",
         "The coil is off while the contact is closed. Such a contact closes "
         "when the device loses power: use it only where that is harmless."},
    [MODBUS_SWITCH_VERIFY] = {"verify", OPTION_BOOL, "", 0, 0, NULL, "true",
                              "Read the coil back after each write."},
    {0},
};
#undef UNIT_ROWS
