/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A connection together with what may be believed of it: opens, closes, keeps the gaps, and turns
 * every trouble into a quarantine (serial) or a new connection (TCP). Knows nothing of units and
 * registers.
 */
#ifndef LAMPWARDEN_MODBUS_LINK_H
#define LAMPWARDEN_MODBUS_LINK_H

#include "modbus_line.h"
#include "modbus_port.h"

struct modbus_link {
    struct modbus_port_setup setup;
    struct modbus_line line;
    struct modbus_port *port; /* NULL while closed */
    unsigned generation; /* counts the opens: what was learned of a unit holds for one of them */
};

int modbus_link_open(struct modbus_link *link, int64_t deadline_ns, struct err *err);
void modbus_link_close(struct modbus_link *link);

/* Before a request: -EAGAIN during a quarantine; a TCP connection that trouble closed is opened
 * again. */
int modbus_link_ready(struct modbus_link *link, int64_t deadline_ns, struct err *err);

/* One request in its time, on a link that is ready: what is reopened must be recognised before it
 * is used. 0: answered (perhaps by an exception). -EAGAIN: nothing was sent, because the line is
 * not free or the time is over. -ETIMEDOUT, -EBADMSG: trouble, as above. -EIO, -ENOTCONN: the
 * connection is gone and closed (modbus_link_is_gone). */
int modbus_link_exchange(struct modbus_link *link, const struct modbus_request *request,
                         int64_t deadline_ns, struct modbus_reply *ret, struct err *err);

bool modbus_link_is_gone(int error);

#endif
