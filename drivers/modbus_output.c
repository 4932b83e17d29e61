/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_bus.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

/* Some outputs show a new value only after a moment. */
#define SECOND_LOOK_NS (60 * CLOCK_NS_PER_MS)
/* Enough for one write at 9600 baud and a prompt device. */
#define SHARE_LEAST_NS (60 * CLOCK_NS_PER_MS)
/* Steps of 8 bits, and a little. */
#define STEP_OF_RANGE 0.005

static struct modbus_request write_request(const struct bus *bus,
                                           const struct modbus_output *output, double value)
{
    return (struct modbus_request){
        .unit = bus->points.units[output->unit].number,
        .function = output->write_function,
        .address = output->address,
        .count = 1,
        .value = modbus_value_from_drive(&output->span, value),
    };
}

static struct modbus_request seen_request(const struct bus *bus, const struct modbus_output *output)
{
    return (struct modbus_request){
        .unit = bus->points.units[output->unit].number,
        .function = output->kind == OUTPUT_DIM ? MODBUS_PDU_READ_HOLDING : MODBUS_PDU_READ_COILS,
        .address = output->address,
        .count = 1,
    };
}

static uint16_t seen_raw(const struct modbus_output *output, const struct modbus_reply *reply)
{
    return output->kind == OUTPUT_DIM ? modbus_pdu_word(reply, 0) : modbus_pdu_bit(reply, 0);
}

static const char *noun(const struct modbus_output *output)
{
    return output->kind == OUTPUT_DIM ? "register" : "coil";
}

enum { NOT_SEEN = -1 };

/* Reads what the output holds; once more after a moment when that is not what was written. */
static int look(struct bus *bus, const struct modbus_output *output, uint16_t written,
                int64_t deadline_ns, int *ret_raw, struct err *err)
{
    struct modbus_request request = seen_request(bus, output);
    struct modbus_reply reply;
    int rc = modbus_unit_ask(bus, output->unit, &request, deadline_ns, &reply, err);
    int64_t later = clock_real_ns() + SECOND_LOOK_NS;
    if (rc == 0 && seen_raw(output, &reply) != written && later + SECOND_LOOK_NS < deadline_ns) {
        (void)clock_sleep_until_real(later, NULL);
        rc = modbus_unit_ask(bus, output->unit, &request, deadline_ns, &reply, err);
    }
    if (rc < 0) {
        err_prefix(err, "reading back %s %d", noun(output), output->address);
        return rc;
    }
    *ret_raw = seen_raw(output, &reply);
    return 0;
}

/* Writes, and reads back into *ret_raw where the output is verified: else NOT_SEEN. */
static int put(struct bus *bus, const struct modbus_output *output, double value,
               int64_t deadline_ns, int *ret_raw, struct err *err)
{
    struct modbus_request request = write_request(bus, output, value);
    struct modbus_reply reply;
    int rc = modbus_unit_ask(bus, output->unit, &request, deadline_ns, &reply, err);
    if (rc < 0) {
        err_prefix(err, "writing %s %d", noun(output), output->address);
        return rc;
    }
    if (!output->verify) {
        *ret_raw = NOT_SEEN;
        return 0;
    }
    return look(bus, output, request.value, deadline_ns, ret_raw, err);
}

int modbus_output_write(struct bus *bus, int index, double value, int64_t deadline_ns,
                        double *ret_seen, struct err *err)
{
    struct modbus_output *output = &bus->points.outputs[index];
    int raw;
    int rc = put(bus, output, value, deadline_ns, &raw, err);
    if (rc == 0) {
        *ret_seen =
            raw == NOT_SEEN ? (double)NAN : modbus_value_to_drive(&output->span, (uint16_t)raw);
    }
    return rc;
}

/* A converter may hold the nearest of its own steps; a contact holds what it was told. */
static bool is_held(const struct modbus_output *output, int raw, int expected)
{
    double range = fabs((double)output->span.full - output->span.zero);
    double slack = output->kind == OUTPUT_DIM ? STEP_OF_RANGE * range : 0;
    return raw == NOT_SEEN || abs(raw - expected) <= slack;
}

static int put_safe(struct bus *bus, struct modbus_output *output, int64_t deadline_ns,
                    struct err *err)
{
    int raw;
    int rc = put(bus, output, output->safe, deadline_ns, &raw, err);
    if (rc < 0) {
        return rc;
    }
    int expected = modbus_value_from_drive(&output->span, output->safe);
    if (!is_held(output, raw, expected)) {
        return err_fail(err, EPROTO, "unit %d: %s %d reads back %d instead of the safe value %d",
                        bus->points.units[output->unit].number, noun(output), output->address, raw,
                        expected);
    }
    output->is_safe = true;
    return 0;
}

/* The outputs of one unit and kind. After a trouble the rest of the unit waits; a refusal or a
 * wrong read-back concerns one output only. Returns the first error. */
static int settle_kind(struct bus *bus, int unit, enum output_kind kind, int64_t deadline_ns,
                       struct err *err)
{
    int first = 0;
    for (int i = 0; i < bus->points.output_count; i++) {
        struct modbus_output *output = &bus->points.outputs[i];
        if (output->unit != unit || output->kind != kind || output->is_safe) {
            continue;
        }
        int rc = put_safe(bus, output, deadline_ns, first == 0 ? err : NULL);
        if (first == 0) {
            first = rc;
        }
        if (rc < 0 && bus->points.units[unit].health.failures > 0) {
            break;
        }
        if (rc == -EAGAIN || modbus_link_is_gone(rc)) {
            return rc;
        }
    }
    return first;
}

static bool has_unsafe(const struct bus *bus, int unit)
{
    for (int i = 0; i < bus->points.output_count; i++) {
        if (bus->points.outputs[i].unit == unit && !bus->points.outputs[i].is_safe) {
            return true;
        }
    }
    return false;
}

int modbus_output_settle_unit(struct bus *bus, int unit, int64_t deadline_ns, struct err *err)
{
    if (!has_unsafe(bus, unit)) {
        return 0;
    }
    int rc = modbus_unit_recognise(bus, unit, deadline_ns, err);
    if (rc < 0) {
        return rc;
    }
    rc = settle_kind(bus, unit, OUTPUT_SWITCH, deadline_ns, err);
    int dims = settle_kind(bus, unit, OUTPUT_DIM, deadline_ns, rc == 0 ? err : NULL);
    return rc == 0 || modbus_link_is_gone(dims) ? dims : rc;
}

/* Switches, or dims, of the units that have not failed lately, or of the others. */
static int settle_round(struct bus *bus, enum output_kind kind, bool ailing, int64_t deadline_ns,
                        struct err *err)
{
    int first = 0;
    for (int i = 0; i < bus->points.unit_count; i++) {
        if ((bus->points.units[i].health.failures > 0) != ailing) {
            continue;
        }
        struct err *out = first == 0 ? err : NULL;
        int rc = modbus_unit_recognise(bus, i, deadline_ns, out);
        if (rc == 0) {
            rc = settle_kind(bus, i, kind, deadline_ns, out);
        }
        if (first == 0) {
            first = rc;
        }
        if (rc == -EAGAIN || rc == -ENODEV || modbus_link_is_gone(rc)) {
            return rc;
        }
    }
    return first;
}

int modbus_output_settle(struct bus *bus, int64_t deadline_ns, struct err *err)
{
    static const struct {
        enum output_kind kind;
        bool ailing;
    } rounds[] = {
        {OUTPUT_SWITCH, false}, {OUTPUT_DIM, false}, {OUTPUT_SWITCH, true}, {OUTPUT_DIM, true}};
    int first = 0;
    for (size_t i = 0; i < sizeof rounds / sizeof *rounds; i++) {
        int rc = settle_round(bus, rounds[i].kind, rounds[i].ailing, deadline_ns,
                              first == 0 ? err : NULL);
        if (first == 0) {
            first = rc;
        }
        if (rc == -EAGAIN || rc == -ENODEV || modbus_link_is_gone(rc)) {
            return rc;
        }
    }
    return first;
}

/* A slow or dead unit may use its share of the time, not that of the outputs behind it. */
static int64_t share(int64_t deadline_ns, int outputs_left)
{
    int64_t now = clock_real_ns();
    int64_t part = deadline_ns > now ? (deadline_ns - now) / outputs_left : 0;
    int64_t end = now + (part > SHARE_LEAST_NS ? part : SHARE_LEAST_NS);
    return end < deadline_ns ? end : deadline_ns;
}

/* Quarantine and rest do not count here: the write carries address and value, and its answer
 * repeats them. */
static int put_safe_now(struct bus *bus, struct modbus_output *output, int64_t deadline_ns,
                        struct err *err)
{
    if (!bus->link.port) {
        int rc = modbus_link_open(&bus->link, deadline_ns, err);
        if (rc < 0) {
            return rc;
        }
    }
    struct modbus_unit *unit = &bus->points.units[output->unit];
    modbus_line_urgent(&bus->link.line);
    modbus_health_reopened(&unit->health);
    if (unit->identity.is_given) {
        int rc = modbus_unit_recognise(bus, output->unit, deadline_ns, err);
        if (rc == -ENODEV || modbus_link_is_gone(rc)) {
            return rc;
        }
        modbus_line_urgent(&bus->link.line);
        modbus_health_reopened(&unit->health);
    }
    return put_safe(bus, output, deadline_ns, err);
}

static int make_kind_safe(struct bus *bus, enum output_kind kind, int64_t deadline_ns, int *left,
                          struct err *err)
{
    int first = 0;
    for (int i = 0; i < bus->points.output_count; i++) {
        struct modbus_output *output = &bus->points.outputs[i];
        if (output->kind != kind || output->is_safe) {
            continue;
        }
        int rc = put_safe_now(bus, output, share(deadline_ns, *left > 0 ? *left : 1),
                              first == 0 ? err : NULL);
        first = first == 0 ? rc : first;
        (*left)--;
    }
    return first;
}

int modbus_output_make_safe(struct bus *bus, int64_t deadline_ns, struct err *err)
{
    for (int i = 0; i < bus->points.output_count; i++) {
        bus->points.outputs[i].is_safe = false;
    }
    int first = 0;
    for (int round = 0; round < 2; round++) {
        int left = 0;
        for (int i = 0; i < bus->points.output_count; i++) {
            left += !bus->points.outputs[i].is_safe;
        }
        if (round > 0 && (left == 0 || clock_real_ns() + SHARE_LEAST_NS > deadline_ns)) {
            break;
        }
        int switches = make_kind_safe(bus, OUTPUT_SWITCH, deadline_ns, &left, err);
        int dims = make_kind_safe(bus, OUTPUT_DIM, deadline_ns, &left, switches == 0 ? err : NULL);
        first = switches != 0 ? switches : dims;
    }
    modbus_line_opened(&bus->link.line, clock_real_ns());
    if (!bus->link.port) {
        modbus_line_closed(&bus->link.line);
    }
    return first;
}
