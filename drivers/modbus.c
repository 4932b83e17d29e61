/* SPDX-License-Identifier: Apache-2.0 */
/*
 * modbus_port over libmodbus: on a serial line it frames, checks CRCs, and bounds the wait for a
 * whole answer; on TCP, whose frames say their length, it only holds the connection. What it does
 * not check (the echo of a write) is checked here with modbus_pdu. Its error
 * recovery stays off: LINK recovery reconnects for ever inside one call. Its byte timeout stays
 * off: it starts anew with every byte, so that a dripping device could hold a call for a minute.
 */
#include "modbus_port.h"

#include "clock.h"
#include "err.h"
#include "modbus_line.h"
#include "modbus_socket.h"
#include "modbus_tty.h"

#include <modbus.h>

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/select.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { CRC = 2 };

struct modbus_port {
    modbus_t *context;
    bool is_tcp, has_echo;
    int lock; /* second descriptor of the tty, which carries the lock; −1 on TCP */
    uint16_t transaction;
    int64_t char_ns; /* one character on the line; 0 on TCP */
};

static int gone(const struct modbus_port *port, struct err *err, const char *doing, int code)
{
    return err_fail(err, port->is_tcp ? ENOTCONN : EIO, "%s: the connection is gone (%s)", doing,
                    code == 0 ? "closed by the other side" : err_name(code));
}

/* libmodbus waits with select(): a descriptor beyond its set would abort the process. */
static int check_descriptor(int descriptor, struct err *err)
{
    if (descriptor >= FD_SETSIZE) {
        return err_fail(err, EMFILE, "descriptor %d is out of range (0 … %d): too many open files",
                        descriptor, FD_SETSIZE - 1);
    }
    return 0;
}

static int prepare_context(modbus_t *context, struct err *err)
{
    if (modbus_set_error_recovery(context, MODBUS_ERROR_RECOVERY_NONE) != 0 ||
        modbus_set_byte_timeout(context, 0, 0) != 0) {
        return err_fail(err, EINVAL, "libmodbus refuses its settings");
    }
    return 0;
}

static int open_tcp(struct modbus_port *port, const struct modbus_port_setup *setup,
                    int64_t deadline_ns, struct err *err)
{
    port->context =
        modbus_new_tcp(NULL, setup->tcp_port); /* the address is not needed: see below */
    if (!port->context) {
        return err_fail(err, ENOMEM, "no memory for the connection");
    }
    int rc = prepare_context(port->context, err);
    if (rc < 0) {
        return rc;
    }
    int descriptor;
    rc = modbus_socket_connect(setup->host, setup->tcp_port, deadline_ns, &descriptor, err);
    if (rc < 0) {
        return rc;
    }
    rc = check_descriptor(descriptor, err);
    if (rc < 0) {
        (void)close(descriptor); /* nothing was sent on it */
        return rc;
    }
    (void)modbus_set_socket(port->context, descriptor); /* fails only without a context */
    return 0;
}

static int open_serial(struct modbus_port *port, const struct modbus_port_setup *setup,
                       struct err *err)
{
    int rc = modbus_tty_lock(setup->device, &port->lock, err);
    if (rc < 0) {
        return rc;
    }
    port->context = modbus_new_rtu(setup->device, setup->baud, setup->parity, 8, setup->stop_bits);
    if (!port->context) {
        return err_fail(err, ENOMEM, "no memory for the connection");
    }
    rc = prepare_context(port->context, err);
    if (rc < 0) {
        return rc;
    }
    if (modbus_connect(port->context) != 0) {
        int code = errno;
        return err_fail(err, code ? code : EIO, "%s: cannot be opened as a serial line (%s)",
                        setup->device, err_name(code));
    }
    int descriptor = modbus_get_socket(port->context);
    rc = check_descriptor(descriptor, err);
    if (rc < 0) {
        return rc;
    }
    int bits = 9 + (setup->parity != 'N') + setup->stop_bits;
    port->char_ns = modbus_line_char_ns(setup->baud, bits);
    return modbus_tty_claim(descriptor, port->lock, setup->kernel_direction, err);
}

void modbus_port_close(struct modbus_port *port)
{
    if (!port) {
        return;
    }
    if (port->context) {
        int descriptor = modbus_get_socket(port->context);
        if (descriptor >= 0 && !port->is_tcp) {
            modbus_tty_release(descriptor);
        }
        modbus_close(port->context);
        modbus_free(port->context);
    }
    if (port->lock >= 0) {
        (void)close(port->lock); /* a failing close still releases the descriptor */
    }
    free(port);
}

int modbus_port_open(const struct modbus_port_setup *setup, int64_t deadline_ns,
                     struct modbus_port **ret, struct err *err)
{
    struct modbus_port *port = calloc(1, sizeof *port);
    if (!port) {
        return err_fail(err, ENOMEM, "no memory for the connection");
    }
    port->lock = -1;
    port->is_tcp = setup->is_tcp;
    port->has_echo = setup->has_echo && !setup->is_tcp;
    /* Another number in each connection: a device that sends an old answer on a new one is found
     * out. */
    port->transaction = (uint16_t)(clock_real_ns() / CLOCK_NS_PER_MS);
    int rc =
        setup->is_tcp ? open_tcp(port, setup, deadline_ns, err) : open_serial(port, setup, err);
    if (rc < 0) {
        modbus_port_close(port);
        return rc;
    }
    *ret = port;
    return 0;
}

/* Waits for bytes until the deadline and reads at most `size` of them; 0 when the time is over. */
static ssize_t read_some(struct modbus_port *port, uint8_t *buffer, size_t size, int64_t until_ns,
                         struct err *err)
{
    struct pollfd wait = {.fd = modbus_get_socket(port->context), .events = POLLIN};
    int64_t left = until_ns - clock_real_ns();
    if (left < 0) {
        left = 0;
    }
    struct timespec time = {left / CLOCK_NS_PER_S, left % CLOCK_NS_PER_S};
    int ready = ppoll(&wait, 1, &time, NULL);
    if (ready == 0 || (ready < 0 && errno == EINTR)) {
        return 0;
    }
    ssize_t got = ready < 0 ? -1 : read(wait.fd, buffer, size);
    int code = got < 0 ? errno : 0;
    if (got > 0) {
        return got;
    }
    return code == EAGAIN || code == EINTR ? 0 : gone(port, err, "listening", code);
}

int modbus_port_discard(struct modbus_port *port, int64_t until_ns, size_t *ret_bytes,
                        struct err *err)
{
    size_t bytes = 0;
    uint8_t buffer[MODBUS_PDU_BODY_MAX];
    do {
        ssize_t got = read_some(port, buffer, sizeof buffer, until_ns, err);
        if (got < 0) {
            return (int)got;
        }
        bytes += (size_t)got;
    } while (clock_real_ns() < until_ns);
    *ret_bytes = bytes;
    return 0;
}

/* The raw request of libmodbus leaves the transaction number at 0, by which no late answer could be
 * told. */
static int send_tcp(struct modbus_port *port, const uint8_t *body, size_t size, struct err *err)
{
    uint8_t frame[MODBUS_PDU_HEADER + MODBUS_PDU_REQUEST_MAX];
    modbus_pdu_header(++port->transaction, size, frame);
    memcpy(frame + MODBUS_PDU_HEADER, body, size);
    size += MODBUS_PDU_HEADER;
    ssize_t sent = send(modbus_get_socket(port->context), frame, size, MSG_NOSIGNAL | MSG_DONTWAIT);
    int code = errno;
    if (sent != (ssize_t)size) {
        return gone(port, err, "sending", sent < 0 ? code : EPIPE);
    }
    return 0;
}

/* Our own transmission, heard by our own receiver: it must be ours, or two have talked at once. */
static int skip_echo(struct modbus_port *port, const uint8_t *body, size_t size,
                     int64_t deadline_ns, struct err *err)
{
    uint8_t echo[MODBUS_PDU_REQUEST_MAX + CRC];
    size_t expected = size + CRC; /* the CRC was appended by libmodbus */
    size_t heard = 0;
    while (heard < expected) {
        ssize_t got = read_some(port, echo + heard, expected - heard, deadline_ns, err);
        if (got < 0) {
            return (int)got;
        }
        heard += (size_t)got;
        if (got == 0 && clock_real_ns() >= deadline_ns) {
            return err_fail(err, ETIMEDOUT, "our own transmission did not come back as an echo");
        }
    }
    if (memcmp(echo, body, size) != 0) {
        return err_fail(err, EBADMSG, "our own transmission came back changed");
    }
    return 0;
}

static int send_serial(struct modbus_port *port, const uint8_t *body, size_t size,
                       int64_t deadline_ns, struct err *err)
{
    if (modbus_set_slave(port->context, body[0]) != 0) {
        return err_fail(err, EINVAL, "unit %d is out of range (1 … 247)", body[0]);
    }
    errno = 0;
    if (modbus_send_raw_request(port->context, body, (int)size) < 0) {
        return gone(port, err, "sending", errno);
    }
    return port->has_echo ? skip_echo(port, body, size, deadline_ns, err) : 0;
}

/* The frame that begins like this, or the header while it is not complete. 0: neither the answer
 * that is expected nor a refusal is of that size. */
static size_t frame_size(const uint8_t *frame, size_t heard, size_t expected)
{
    enum { REFUSAL = MODBUS_PDU_HEADER + 3 };
    if (heard < MODBUS_PDU_HEADER) {
        return MODBUS_PDU_HEADER;
    }
    size_t size = MODBUS_PDU_HEADER + ((size_t)frame[4] << 8 | frame[5]);
    return size == expected || size == REFUSAL ? size : 0;
}

/* In one piece as a rule; libmodbus takes three and waits for each. What follows the answer is left
 * for the next discard. */
static int receive_tcp(struct modbus_port *port, size_t expected, int64_t deadline_ns,
                       uint8_t *frame, struct err *err)
{
    size_t heard = 0, size = MODBUS_PDU_HEADER;
    while (heard < size) {
        ssize_t got = read_some(port, frame + heard, expected - heard, deadline_ns, err);
        if (got < 0) {
            return (int)got;
        }
        if (got == 0 && clock_real_ns() >= deadline_ns) {
            return err_fail(err, ETIMEDOUT, "no answer in time");
        }
        heard += (size_t)got;
        size = frame_size(frame, heard, expected);
    }
    if (heard != size) {
        return err_fail(err, EBADMSG, "the answer is not of the size that was asked for");
    }
    return (int)size;
}

/* Receives a whole frame into `frame` (MODBUS_MAX_ADU_LENGTH bytes). */
static int receive_serial(struct modbus_port *port, size_t expected, int64_t deadline_ns,
                          uint8_t *frame, struct err *err)
{
    modbus_tty_sleep_through(modbus_get_socket(port->context), expected, port->char_ns,
                             deadline_ns);
    int64_t left = deadline_ns - clock_real_ns();
    if (left < CLOCK_NS_PER_MS) {
        left = CLOCK_NS_PER_MS; /* libmodbus refuses a timeout of 0 */
    }
    (void)modbus_set_response_timeout(port->context, (uint32_t)(left / CLOCK_NS_PER_S),
                                      (uint32_t)(left % CLOCK_NS_PER_S / 1000));
    errno = 0;
    int size = modbus_receive_confirmation(port->context, frame);
    int code = errno;
    if (size > 0) {
        return size;
    }
    if (size == 0) {
        return err_fail(err, EBADMSG, "another unit answered");
    }
    if (code == ETIMEDOUT) {
        return err_fail(err, ETIMEDOUT, "no answer in time");
    }
    if (code == EMBBADCRC) {
        return err_fail(err, EBADMSG, "the answer was damaged on the line (its CRC is wrong)");
    }
    if (code > MODBUS_ENOBASE || code == EAGAIN || code == EINTR) {
        return err_fail(err, EBADMSG, "the answer is not well formed");
    }
    return gone(port, err, "waiting for the answer", code);
}

/* Strips what the line added around the body. */
static int unwrap(const struct modbus_port *port, const uint8_t *frame, size_t size,
                  struct modbus_reply *ret, struct err *err)
{
    size_t before = 0, after = CRC;
    if (port->is_tcp) {
        if (!modbus_pdu_header_fits(port->transaction, frame, size)) {
            return err_fail(err, EBADMSG, "the answer belongs to another transaction");
        }
        before = MODBUS_PDU_HEADER;
        after = 0;
    }
    if (size < before + after + 3 || size - before - after > sizeof ret->body) {
        return err_fail(err, EBADMSG, "the answer is not well formed");
    }
    ret->size = size - before - after;
    memcpy(ret->body, frame + before, ret->size);
    return 0;
}

int modbus_port_exchange(struct modbus_port *port, const struct modbus_request *request,
                         int64_t deadline_ns, struct modbus_reply *ret, struct err *err)
{
    uint8_t body[MODBUS_PDU_REQUEST_MAX];
    size_t size = modbus_pdu_encode(request, body);
    int rc = port->is_tcp ? send_tcp(port, body, size, err)
                          : send_serial(port, body, size, deadline_ns, err);
    if (rc < 0) {
        return rc;
    }
    uint8_t frame[MODBUS_MAX_ADU_LENGTH] = {0};
    size_t expected = modbus_pdu_reply_size(request) + (port->is_tcp ? MODBUS_PDU_HEADER : CRC);
    int received = port->is_tcp ? receive_tcp(port, expected, deadline_ns, frame, err)
                                : receive_serial(port, expected, deadline_ns, frame, err);
    if (received < 0) {
        return received;
    }
    struct modbus_reply reply = {.arrived_ns = clock_real_ns()};
    rc = unwrap(port, frame, (size_t)received, &reply, err);
    if (rc < 0) {
        return rc;
    }
    enum modbus_pdu_verdict verdict = modbus_pdu_check(request, &reply);
    if (verdict != MODBUS_PDU_OK && verdict != MODBUS_PDU_EXCEPTION) {
        return err_fail(err, EBADMSG, "%s", modbus_pdu_verdict_name(verdict));
    }
    *ret = reply;
    return 0;
}
