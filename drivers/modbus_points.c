/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_points.h"

#include "clock.h"
#include "err.h"
#include "modbus_options.h"
#include "modbus_socket.h"

#include <errno.h>
#include <stdlib.h>

/* Of the bus's timeout_ms, and so of a unit's own. */
enum { TIMEOUT_LEAST_MS = 20, TCP_TIMEOUT_MAX_MS = 900, RTU_TIMEOUT_MAX_MS = 1500 };

/* libmodbus would silently use 9600 for a speed it does not know. */
static int check_baud(int64_t baud, struct err *err)
{
    static const int known[] = {1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (known[i] == baud) {
            return 0;
        }
    }
    return err_fail(err, EINVAL,
                    "baud is %d: must be 1200, 2400, 4800, 9600, 19200, 38400, 57600 or 115200",
                    (int)baud);
}

int modbus_points_tcp(const struct option_value *options, struct modbus_settings *ret,
                      struct err *err)
{
    *ret = (struct modbus_settings){
        .port = {.is_tcp = true,
                 .host = options[MODBUS_TCP_HOST].text,
                 .tcp_port = (int)options[MODBUS_TCP_PORT].integer},
        .plan = {.gap_registers = (int)options[MODBUS_TCP_GAP].integer,
                 .count_max = MODBUS_PDU_REGISTERS_MAX},
        .unit = (int)options[MODBUS_TCP_UNIT].integer,
    };
    modbus_line_tcp(&ret->timing, (int)options[MODBUS_TCP_TIMEOUT].integer,
                    (int)options[MODBUS_TCP_WORST_REPLY].integer);
    return modbus_socket_check(ret->port.host, ret->port.tcp_port, err);
}

int modbus_points_rtu(const struct option_value *options, struct modbus_settings *ret,
                      struct err *err)
{
    static const char parities[] = {
        [MODBUS_PARITY_EVEN] = 'E', [MODBUS_PARITY_NONE] = 'N', [MODBUS_PARITY_ODD] = 'O'};
    int baud = (int)options[MODBUS_RTU_BAUD].integer;
    int rc = check_baud(baud, err);
    if (rc < 0) {
        return rc;
    }
    int stop_bits = (int)options[MODBUS_RTU_STOP].integer;
    int64_t parity = options[MODBUS_RTU_PARITY].integer;
    int bits = 1 + 8 + (parity == MODBUS_PARITY_NONE ? 0 : 1) + stop_bits;
    struct modbus_settings settings = {
        .port = {.device = options[MODBUS_RTU_DEVICE].text,
                 .baud = baud,
                 .parity = parities[parity],
                 .stop_bits = stop_bits,
                 .has_echo = options[MODBUS_RTU_ECHO].flag,
                 .kernel_direction = options[MODBUS_RTU_DIRECTION].integer == 1},
        .unit = (int)options[MODBUS_RTU_UNIT].integer,
    };
    modbus_line_serial(&settings.timing, baud, bits, (int)options[MODBUS_RTU_TIMEOUT].integer,
                       (int)options[MODBUS_RTU_WORST_REPLY].integer);
    settings.plan.gap_registers = (int)options[MODBUS_RTU_GAP].integer;
    settings.plan.count_max = modbus_line_registers_max(&settings.timing);
    *ret = settings;
    return 0;
}

/* The array with room for one more element behind `count`: it may have moved. NULL: no memory, the
 * old one stands. */
static void *grown(void *array, int count, size_t size)
{
    return reallocarray(array, (size_t)count + 1, size);
}

static int no_memory(struct err *err)
{
    return err_fail(err, ENOMEM, "no memory for another point");
}

static int find_unit(const struct modbus_points *points, int number)
{
    for (int i = 0; i < points->unit_count; i++) {
        if (points->units[i].number == number) {
            return i;
        }
    }
    return -1;
}

/* What several points say of their unit must agree. */
static int merge_constant(struct modbus_constant *known, const struct modbus_constant *said,
                          const char *what, struct err *err)
{
    if (!said->is_given) {
        return 0;
    }
    if (known->is_given && (known->function != said->function || known->address != said->address ||
                            known->value != said->value)) {
        return err_fail(err, EINVAL,
                        "%s is register %d = %d (function %d) here, but register %d = %d (function "
                        "%d) at another point",
                        what, said->address, said->value, said->function, known->address,
                        known->value, known->function);
    }
    *known = *said;
    return 0;
}

static struct modbus_constant constant_of(int64_t address, int64_t value, int64_t function)
{
    return (struct modbus_constant){
        .is_given = address >= 0,
        .function = (uint8_t)function,
        .address = (uint16_t)(address >= 0 ? address : 0),
        .value = (uint16_t)value,
    };
}

/* Whoever gives a value relies on what it does. */
static int need_register(int64_t address, int64_t value, const char *what, struct err *err)
{
    if (address < 0 && value != 0) {
        return err_fail(err, EINVAL, "%s_value is %d, but without %s_register it has no effect",
                        what, (int)value, what);
    }
    return 0;
}

static int take_constants(struct modbus_unit *unit, const struct option_value *options,
                          struct err *err)
{
    struct modbus_constant identity = constant_of(options[MODBUS_POINT_IDENTITY].integer,
                                                  options[MODBUS_POINT_IDENTITY_VALUE].integer,
                                                  options[MODBUS_POINT_IDENTITY_FUNCTION].integer);
    struct modbus_constant loss =
        constant_of(options[MODBUS_POINT_LOSS].integer, options[MODBUS_POINT_LOSS_VALUE].integer,
                    MODBUS_PDU_READ_HOLDING);
    int rc = need_register(options[MODBUS_POINT_IDENTITY].integer,
                           options[MODBUS_POINT_IDENTITY_VALUE].integer, "identity", err);
    if (rc == 0) {
        rc = need_register(options[MODBUS_POINT_LOSS].integer,
                           options[MODBUS_POINT_LOSS_VALUE].integer, "loss", err);
    }
    if (rc == 0) {
        rc = merge_constant(&unit->identity, &identity, "the unit's identity", err);
    }
    return rc < 0 ? rc : merge_constant(&unit->loss, &loss, "the unit's loss register", err);
}

static int merge_number(int *known, int64_t said, const char *what, struct err *err)
{
    if (said != 0 && *known != 0 && *known != said) {
        return err_fail(err, EINVAL, "%s is %d here, but %d at another point of the unit", what,
                        (int)said, *known);
    }
    *known = said != 0 ? (int)said : *known;
    return 0;
}

static int take_pace(struct modbus_unit *unit, bool is_tcp, const struct option_value *options,
                     struct err *err)
{
    int64_t timeout_ms = options[MODBUS_POINT_TIMEOUT].integer;
    int most_ms = is_tcp ? TCP_TIMEOUT_MAX_MS : RTU_TIMEOUT_MAX_MS;
    if (timeout_ms != 0 && !(timeout_ms >= TIMEOUT_LEAST_MS && timeout_ms <= most_ms)) {
        return err_fail(err, EINVAL, "unit_timeout_ms is %d: must be 0 or %d … %d", (int)timeout_ms,
                        TIMEOUT_LEAST_MS, most_ms);
    }
    int rc = merge_number(&unit->timeout_ms, timeout_ms, "unit_timeout_ms", err);
    if (rc == 0) {
        rc = merge_number(&unit->gap_ms, options[MODBUS_POINT_GAP].integer, "unit_gap_ms", err);
    }
    if (rc == 0) {
        rc = merge_number(&unit->worst_reply_ms, options[MODBUS_POINT_WORST_REPLY].integer,
                          "unit_worst_reply_ms", err);
    }
    return rc;
}

/* Finds or adds the unit of a point; returns its index. */
static int take_unit(struct modbus_points *points, const struct modbus_settings *settings,
                     const struct option_value *options, struct err *err)
{
    int64_t number = options[MODBUS_POINT_UNIT].integer;
    if (number < 0) {
        number = settings->unit;
    }
    if (!settings->port.is_tcp && !(number >= 1 && number <= 247)) {
        return err_fail(err, EINVAL, "unit %d is out of range (1 … 247 on a serial line)",
                        (int)number);
    }
    int index = find_unit(points, (int)number);
    if (index < 0) {
        struct modbus_unit *units = grown(points->units, points->unit_count, sizeof *points->units);
        if (!units) {
            return no_memory(err);
        }
        points->units = units;
        index = points->unit_count++;
        points->units[index] = (struct modbus_unit){.number = (uint8_t)number};
    }
    int rc = take_constants(&points->units[index], options, err);
    if (rc == 0) {
        rc = take_pace(&points->units[index], settings->port.is_tcp, options, err);
    }
    return rc < 0 ? rc : index;
}

static void offer_probe(struct modbus_unit *unit, uint8_t function, uint16_t address,
                        uint16_t count)
{
    if (!unit->has_probe) {
        unit->has_probe = true;
        unit->probe = (struct modbus_request){unit->number, function, address, count, 0};
    }
}

static int check_sensor(const struct modbus_sensor *sensor, int64_t address, struct err *err)
{
    int words = modbus_value_words(sensor->format.type);
    if (address + words > 65536) {
        return err_fail(err, EINVAL, "register %d is out of range (0 … %d for a 32-bit type)",
                        (int)address, 65536 - words);
    }
    if (sensor->format.scale == 0) {
        return err_fail(err, EINVAL, "scale is 0: every reading would be the offset");
    }
    if (sensor->format.small_negatives && sensor->format.type != MODBUS_U16) {
        return err_fail(err, EINVAL, "small_negatives is only for the type u16");
    }
    return 0;
}

static int append_sensor(struct modbus_points *points, const struct modbus_sensor *sensor,
                         const struct modbus_wish *wish, struct err *err)
{
    int count = points->sensor_count;
    struct modbus_sensor *sensors = grown(points->sensors, count, sizeof *sensors);
    if (!sensors) {
        return no_memory(err);
    }
    points->sensors = sensors;
    struct modbus_wish *wishes = grown(points->wishes, count, sizeof *wishes);
    if (!wishes) {
        return no_memory(err);
    }
    points->wishes = wishes;
    points->sensors[count] = *sensor;
    points->wishes[count] = *wish;
    points->sensor_count++;
    return 0;
}

int modbus_points_add_sensor(struct modbus_points *points, const struct modbus_settings *settings,
                             const struct option_value *options, struct err *err)
{
    struct modbus_sensor sensor = {
        .format = {.type = (enum modbus_type)options[MODBUS_SENSOR_TYPE].integer,
                   .order = (enum modbus_order)options[MODBUS_SENSOR_ORDER].integer,
                   .sentinels = (enum modbus_sentinels)options[MODBUS_SENSOR_SENTINELS].integer,
                   .small_negatives = options[MODBUS_SENSOR_SMALL].flag,
                   .scale = options[MODBUS_SENSOR_SCALE].real,
                   .offset = options[MODBUS_SENSOR_OFFSET].real},
    };
    int64_t address = options[MODBUS_SENSOR_REGISTER].integer;
    int rc = check_sensor(&sensor, address, err);
    if (rc < 0) {
        return rc;
    }
    sensor.unit = take_unit(points, settings, options, err);
    if (sensor.unit < 0) {
        return sensor.unit;
    }
    struct modbus_unit *unit = &points->units[sensor.unit];
    struct modbus_wish wish = {
        .unit = unit->number,
        .function = (uint8_t)options[MODBUS_SENSOR_FUNCTION].integer,
        .address = (uint16_t)address,
        .count = (uint16_t)modbus_value_words(sensor.format.type),
        .sensor = points->sensor_count,
    };
    offer_probe(unit, wish.function, wish.address, wish.count);
    return append_sensor(points, &sensor, &wish, err);
}

static int read_dim(const struct option_value *options, struct modbus_output *ret, struct err *err)
{
    ret->address = (uint16_t)options[MODBUS_DIM_REGISTER].integer;
    ret->span.zero = (uint16_t)options[MODBUS_DIM_ZERO].integer;
    ret->span.full = (uint16_t)options[MODBUS_DIM_FULL].integer;
    ret->safe = options[MODBUS_DIM_SAFE].real;
    ret->verify = options[MODBUS_DIM_VERIFY].flag;
    ret->write_function = (uint8_t)options[MODBUS_DIM_FUNCTION].integer;
    if (ret->span.zero == ret->span.full) {
        return err_fail(err, EINVAL, "full and zero are both %d: must differ", ret->span.full);
    }
    if (ret->write_function != MODBUS_PDU_WRITE_REGISTER &&
        ret->write_function != MODBUS_PDU_WRITE_REGISTERS) {
        return err_fail(err, EINVAL, "write_function is %d: must be 6 or 16", ret->write_function);
    }
    return 0;
}

static void read_switch(const struct option_value *options, struct modbus_output *ret)
{
    bool inverted = options[MODBUS_SWITCH_INVERTED].flag;
    ret->address = (uint16_t)options[MODBUS_SWITCH_COIL].integer;
    ret->span = (struct modbus_span){.zero = inverted, .full = !inverted};
    ret->verify = options[MODBUS_SWITCH_VERIFY].flag;
    ret->write_function = MODBUS_PDU_WRITE_COIL;
}

static int check_unique(const struct modbus_points *points, const struct modbus_output *output,
                        struct err *err)
{
    for (int i = 0; i < points->output_count; i++) {
        const struct modbus_output *other = &points->outputs[i];
        if (other->unit == output->unit && other->kind == output->kind &&
            other->address == output->address) {
            return err_fail(err, EINVAL, "%s %d of unit %d is already another output",
                            output->kind == OUTPUT_DIM ? "register" : "coil", output->address,
                            points->units[output->unit].number);
        }
    }
    return 0;
}

int modbus_points_add_output(struct modbus_points *points, const struct modbus_settings *settings,
                             enum output_kind kind, const struct option_value *options,
                             struct err *err)
{
    struct modbus_output output = {.kind = kind};
    if (kind == OUTPUT_SWITCH) {
        read_switch(options, &output);
    } else {
        int rc = read_dim(options, &output, err);
        if (rc < 0) {
            return rc;
        }
    }
    output.unit = take_unit(points, settings, options, err);
    if (output.unit < 0) {
        return output.unit;
    }
    int rc = check_unique(points, &output, err);
    if (rc < 0) {
        return rc;
    }
    struct modbus_output *outputs = grown(points->outputs, points->output_count, sizeof *outputs);
    if (!outputs) {
        return no_memory(err);
    }
    points->outputs = outputs;
    if (output.verify) {
        offer_probe(&points->units[output.unit],
                    kind == OUTPUT_DIM ? MODBUS_PDU_READ_HOLDING : MODBUS_PDU_READ_COILS,
                    output.address, 1);
    }
    points->outputs[points->output_count++] = output;
    return 0;
}

void modbus_points_pace(const struct modbus_points *points, struct modbus_timing *timing)
{
    for (int i = 0; i < points->unit_count; i++) {
        const struct modbus_unit *unit = &points->units[i];
        timing->paces[unit->number] = (struct modbus_pace){
            .gap_ns = unit->gap_ms * CLOCK_NS_PER_MS,
            .timeout_ns = unit->timeout_ms * CLOCK_NS_PER_MS,
        };
        int64_t worst_ns = unit->worst_reply_ms * CLOCK_NS_PER_MS;
        if (worst_ns > timing->silence_ns) {
            timing->silence_ns = worst_ns;
        }
    }
}

void modbus_points_finish(struct modbus_points *points)
{
    free(points->units);
    free(points->sensors);
    free(points->wishes);
    free(points->outputs);
    *points = (struct modbus_points){0};
}
