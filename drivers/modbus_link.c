/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_link.h"

#include "clock.h"
#include "err.h"

#include <errno.h>

/* Switching an RS-485 transmitter on or off may give a false byte or two; a frame has at least
 * five. */
enum { STRAY_BYTES_MAX = 3 };

/* A request that could not be waited for is not begun. */
#define LEAST_PATIENCE_NS (20 * CLOCK_NS_PER_MS)
/* The longest pause that a call sits out; a longer one is waited for by coming back. */
#define PAUSE_MAX_NS (100 * CLOCK_NS_PER_MS)

int modbus_link_open(struct modbus_link *link, int64_t deadline_ns, struct err *err)
{
    modbus_link_close(link);
    int rc = modbus_port_open(&link->setup, deadline_ns, &link->port, err);
    if (rc < 0) {
        return rc;
    }
    link->generation++;
    modbus_line_opened(&link->line, clock_real_ns());
    return 0;
}

void modbus_link_close(struct modbus_link *link)
{
    modbus_port_close(link->port);
    link->port = NULL;
    modbus_line_closed(&link->line);
}

bool modbus_link_is_gone(int error)
{
    return error == -EIO || error == -ENOTCONN;
}

static int lose(struct modbus_link *link, int error)
{
    modbus_link_close(link);
    return error;
}

static int listen_quarantine(struct modbus_link *link, struct err *err)
{
    size_t bytes;
    int rc = modbus_port_discard(link->port, 0, &bytes, err);
    if (rc < 0) {
        return lose(link, rc);
    }
    int64_t now = clock_real_ns();
    if (bytes > 0) {
        modbus_line_heard(&link->line, now);
    }
    if (modbus_line_step(&link->line, now) == MODBUS_QUARANTINE) {
        return err_fail(err, EAGAIN, "the line is in quarantine until it was silent for %d ms",
                        (int)(link->line.timing.silence_ns / CLOCK_NS_PER_MS));
    }
    return 0;
}

int modbus_link_ready(struct modbus_link *link, int64_t deadline_ns, struct err *err)
{
    if (link->port) {
        return link->line.state == MODBUS_QUARANTINE ? listen_quarantine(link, err) : 0;
    }
    if (!link->setup.is_tcp) {
        return err_fail(err, EIO, "%s: closed", link->setup.device);
    }
    int rc = modbus_link_open(link, deadline_ns, err);
    return rc < 0 ? -ENOTCONN : 0;
}

/* The silence before a request. Whatever is heard in it was not asked for. */
static int keep_gap(struct modbus_link *link, uint8_t unit, int64_t deadline_ns, struct err *err)
{
    int64_t earliest = modbus_line_earliest_ns(&link->line, unit);
    int64_t now = clock_real_ns();
    if (earliest - now > PAUSE_MAX_NS) {
        return err_fail(err, EAGAIN, "the line rests for %d ms after trouble",
                        (int)((earliest - now) / CLOCK_NS_PER_MS));
    }
    if ((earliest > now ? earliest : now) + LEAST_PATIENCE_NS > deadline_ns) {
        return err_fail(err, EAGAIN, "no time left in this call");
    }
    size_t stray;
    int rc = modbus_port_discard(link->port, earliest, &stray, err);
    if (rc < 0) {
        return lose(link, rc);
    }
    if (stray <= (link->setup.is_tcp ? 0 : STRAY_BYTES_MAX)) {
        return 0;
    }
    modbus_line_trouble(&link->line, unit, clock_real_ns());
    if (link->setup.is_tcp) {
        modbus_link_close(link);
    }
    return err_fail(err, EAGAIN, "%zu bytes came that nobody had asked for", stray);
}

int modbus_link_exchange(struct modbus_link *link, const struct modbus_request *request,
                         int64_t deadline_ns, struct modbus_reply *ret, struct err *err)
{
    if (link->line.state != MODBUS_UP) {
        return err_fail(err, EAGAIN, "the line is not free after trouble");
    }
    int rc = keep_gap(link, request->unit, deadline_ns, err);
    if (rc < 0) {
        return rc;
    }
    int64_t limit = clock_real_ns() + modbus_line_patience_ns(&link->line.timing, request);
    if (limit > deadline_ns) {
        limit = deadline_ns;
    }
    rc = modbus_port_exchange(link->port, request, limit, ret, err);
    if (rc == 0) {
        modbus_line_answered(&link->line, request->unit, ret->arrived_ns);
    } else if (modbus_link_is_gone(rc)) {
        modbus_link_close(link);
    } else {
        modbus_line_trouble(&link->line, request->unit, clock_real_ns());
        if (link->setup.is_tcp) {
            modbus_link_close(link);
        }
    }
    return rc;
}
