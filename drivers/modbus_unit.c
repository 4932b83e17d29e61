/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_bus.h"

#include "clock.h"
#include "err.h"

#include <errno.h>

/* So many requests in a row without an answer make a silent bus. */
enum { MISSES_OF_A_SILENT_BUS = 3, GATEWAY_PATH = 0x0A, GATEWAY_TARGET = 0x0B };

bool modbus_unit_is_gateway(const struct modbus_reply *reply)
{
    uint8_t code = modbus_pdu_exception(reply);
    return (reply->body[1] & 0x80) && (code == GATEWAY_PATH || code == GATEWAY_TARGET);
}

int modbus_unit_exchange(struct bus *bus, int unit, const struct modbus_request *request,
                         int64_t deadline_ns, struct modbus_reply *ret, struct err *err)
{
    struct modbus_unit *who = &bus->points.units[unit];
    int64_t now = clock_real_ns();
    if (!modbus_health_is_due(&who->health, now)) {
        return err_fail(err, ETIMEDOUT, "unit %d does not answer; it is asked again in %d s",
                        who->number, (int)((who->health.retry_ns - now) / CLOCK_NS_PER_S) + 1);
    }
    int rc = modbus_link_exchange(&bus->link, request, deadline_ns, ret, err);
    if (rc == 0 && !modbus_unit_is_gateway(ret)) {
        modbus_health_answered(&who->health);
        bus->has_heard = true;
        return 0;
    }
    if (rc == 0 || rc == -ETIMEDOUT || rc == -EBADMSG) {
        modbus_health_failed(&who->health, request, clock_real_ns());
        who->known_in = 0;
    }
    if (rc < 0) {
        err_prefix(err, "unit %d", who->number);
    }
    return rc;
}

int modbus_unit_ask(struct bus *bus, int unit, const struct modbus_request *request,
                    int64_t deadline_ns, struct modbus_reply *ret, struct err *err)
{
    struct modbus_reply reply;
    int rc = modbus_unit_exchange(bus, unit, request, deadline_ns, &reply, err);
    if (rc < 0) {
        return rc;
    }
    if (modbus_pdu_check(request, &reply) == MODBUS_PDU_EXCEPTION) {
        uint8_t code = modbus_pdu_exception(&reply);
        int refusal = modbus_pdu_exception_errno(code);
        return err_fail(err, refusal == -EAGAIN ? EBUSY : -refusal,
                        "unit %d answers \"%s\" (exception %02X)", request->unit,
                        modbus_pdu_exception_name(code), code);
    }
    *ret = reply;
    return 0;
}

/* A refusal of the unit itself: it is there, and the question was understood. */
static bool is_refusal(int error)
{
    return error < 0 && !modbus_link_is_gone(error) && error != -EAGAIN && error != -EBUSY &&
           error != -ETIMEDOUT && error != -EBADMSG && error != -ENETUNREACH &&
           error != -EHOSTUNREACH;
}

static int check_identity(struct bus *bus, int unit, int64_t deadline_ns, struct err *err)
{
    struct modbus_unit *who = &bus->points.units[unit];
    const struct modbus_constant *identity = &who->identity;
    struct modbus_request request = {who->number, identity->function, identity->address, 1, 0};
    struct modbus_reply reply;
    int rc = modbus_unit_ask(bus, unit, &request, deadline_ns, &reply, err);
    if (rc < 0) {
        err_prefix(err, "identity register %d", identity->address);
        return is_refusal(rc) ? -ENODEV : rc;
    }
    uint16_t value = modbus_pdu_word(&reply, 0);
    if (value != identity->value) {
        return err_fail(err, ENODEV,
                        "unit %d: identity register %d holds %d instead of %d: another device "
                        "answers, nothing is driven",
                        who->number, identity->address, value, identity->value);
    }
    return 0;
}

int modbus_unit_probe(struct bus *bus, int unit, int64_t deadline_ns, struct err *err)
{
    struct modbus_unit *who = &bus->points.units[unit];
    if (!who->has_probe) {
        return 0; /* it is written only: the echo of a write proves itself */
    }
    struct modbus_request request = modbus_health_probe(&who->health, &who->probe);
    struct modbus_reply reply;
    int rc = modbus_unit_ask(bus, unit, &request, deadline_ns, &reply, err);
    return is_refusal(rc) ? 0 : rc;
}

int modbus_unit_recognise(struct bus *bus, int unit, int64_t deadline_ns, struct err *err)
{
    int rc = modbus_link_ready(&bus->link, deadline_ns, err);
    if (rc < 0) {
        return rc; /* a reopened link makes strangers of all units: look only now */
    }
    struct modbus_unit *who = &bus->points.units[unit];
    if (who->known_in == bus->link.generation) {
        return 0;
    }
    if (who->identity.is_given) {
        rc = check_identity(bus, unit, deadline_ns, err);
    } else if (who->health.has_suspect && !bus->settings.port.is_tcp) {
        rc = modbus_unit_probe(bus, unit, deadline_ns, err);
    }
    if (rc == 0) {
        who->known_in = bus->link.generation;
    }
    return rc;
}

int modbus_unit_guard(struct bus *bus, int unit, int64_t deadline_ns, struct err *err)
{
    struct modbus_unit *who = &bus->points.units[unit];
    const struct modbus_constant *loss = &who->loss;
    if (!loss->is_given || who->guarded_in == bus->link.generation) {
        return 0;
    }
    struct modbus_request look = {who->number, loss->function, loss->address, 1, 0};
    struct modbus_request put = {who->number, MODBUS_PDU_WRITE_REGISTER, loss->address, 1,
                                 loss->value};
    struct modbus_reply reply;
    int rc = modbus_unit_ask(bus, unit, &look, deadline_ns, &reply, err);
    if (rc == 0 && modbus_pdu_word(&reply, 0) != loss->value) {
        rc = modbus_unit_ask(bus, unit, &put, deadline_ns, &reply, err);
        if (rc == 0) {
            rc = modbus_unit_ask(bus, unit, &look, deadline_ns, &reply, err);
        }
    }
    if (rc < 0) {
        err_prefix(err, "loss register %d", loss->address);
        return rc;
    }
    if (modbus_pdu_word(&reply, 0) != loss->value) {
        return err_fail(err, EPROTO,
                        "unit %d: loss register %d stays at %d instead of %d: it would not fall "
                        "back to off, and is not driven",
                        who->number, loss->address, modbus_pdu_word(&reply, 0), loss->value);
    }
    who->guarded_in = bus->link.generation;
    return 0;
}

bool modbus_unit_all_silent(const struct bus *bus)
{
    for (int i = 0; i < bus->points.unit_count; i++) {
        if (bus->points.units[i].health.failures == 0) {
            return false;
        }
    }
    return bus->link.line.misses >= MISSES_OF_A_SILENT_BUS;
}
