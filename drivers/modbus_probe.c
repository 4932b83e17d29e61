/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_bus.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <stdio.h>

enum { SERIAL_FIRST = 1, SERIAL_LAST = 247, TCP_FIRST = 0, TCP_LAST = 255 };

static int check_address(const struct bus *bus, int address, struct err *err)
{
    int first = bus->settings.port.is_tcp ? TCP_FIRST : SERIAL_FIRST;
    int last = bus->settings.port.is_tcp ? TCP_LAST : SERIAL_LAST;
    if (address >= first && address <= last) {
        return 0;
    }
    return err_fail(err, EINVAL, "unit %d is out of range (%d … %d)", address, first, last);
}

static struct modbus_unit *find_unit(const struct bus *bus, int address, int *ret_index)
{
    for (int i = 0; i < bus->points.unit_count; i++) {
        if (bus->points.units[i].number == address) {
            *ret_index = i;
            return &bus->points.units[i];
        }
    }
    return NULL;
}

/* A unit of ours is asked what it is always asked: reading its register 0 might have an effect.
 * Anyone else is asked for a holding register, the most common thing to have; who has none must
 * refuse, and that is an answer too (Modbus Application Protocol V1.1b3, 7). */
static struct modbus_request question(const struct modbus_unit *unit, int address)
{
    if (unit && unit->has_probe) {
        return modbus_health_probe(&unit->health, &unit->probe);
    }
    return (struct modbus_request){(uint8_t)address, MODBUS_PDU_READ_HOLDING, 0, 1, 0};
}

/* An empty address says nothing of the units that are ours: it makes no silent bus. */
static int ask_stranger(struct bus *bus, const struct modbus_request *request, int64_t deadline_ns,
                        struct modbus_reply *ret, struct err *err)
{
    int misses = bus->link.line.misses;
    int rc = modbus_link_exchange(&bus->link, request, deadline_ns, ret, err);
    if (rc == -ETIMEDOUT || rc == -EBADMSG) {
        bus->link.line.misses = misses;
    }
    if (rc < 0) {
        err_prefix(err, "unit %d", request->unit);
    }
    return rc;
}

static int say(const struct modbus_request *request, const struct modbus_reply *reply,
               char *ret_words, size_t size)
{
    if (modbus_pdu_check(request, reply) == MODBUS_PDU_EXCEPTION) {
        return snprintf(ret_words, size, "refuses: %s",
                        modbus_pdu_exception_name(modbus_pdu_exception(reply)));
    }
    if (request->function == MODBUS_PDU_READ_COILS) {
        return snprintf(ret_words, size, "coil %d is %s", request->address,
                        modbus_pdu_bit(reply, 0) ? "on" : "off");
    }
    int word = modbus_pdu_word(reply, 0);
    return snprintf(ret_words, size, "%sregister %d holds %d (0x%04X)",
                    request->function == MODBUS_PDU_READ_INPUT ? "input " : "", request->address,
                    word, (unsigned)word);
}

static int ready(struct bus *bus, const struct modbus_request *request, int64_t deadline_ns,
                 struct err *err)
{
    if (bus->owes_read) {
        return err_fail(err, EAGAIN, "the sensors of this bus are read first");
    }
    int rc = modbus_link_ready(&bus->link, deadline_ns, err);
    if (rc == 0 && modbus_line_done_ns(&bus->link.line, request, clock_real_ns()) > deadline_ns) {
        return err_fail(err, EAGAIN, "no time left in this call");
    }
    return rc;
}

int modbus_probe(struct bus *bus, int address, int64_t deadline_ns, char *ret_words, size_t size,
                 struct err *err)
{
    int rc = check_address(bus, address, err);
    if (rc < 0) {
        return rc;
    }
    int index;
    struct modbus_unit *unit = find_unit(bus, address, &index);
    struct modbus_request request = question(unit, address);
    rc = ready(bus, &request, deadline_ns, err);
    if (rc < 0) {
        return rc;
    }
    struct modbus_reply reply;
    if (unit) {
        modbus_health_reopened(&unit->health); /* somebody wants to know now */
        rc = modbus_unit_exchange(bus, index, &request, deadline_ns, &reply, err);
    } else {
        rc = ask_stranger(bus, &request, deadline_ns, &reply, err);
    }
    bus->owes_read = (rc == -ETIMEDOUT || rc == -EBADMSG) && bus->points.sensor_count > 0;
    if (rc < 0) {
        return rc;
    }
    if (modbus_unit_is_gateway(&reply)) {
        return err_fail(err, ETIMEDOUT, "unit %d: the gateway answers \"%s\"", address,
                        modbus_pdu_exception_name(modbus_pdu_exception(&reply)));
    }
    (void)say(&request, &reply, ret_words, size);
    return 0;
}
