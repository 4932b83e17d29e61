/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whatever a device answers: the bytes go through libmodbus and our checks, on a TCP connection and
 * on a pseudo-terminal, and what is believed must belong to the question. Input: byte 0 chooses the
 * request, byte 1 how much of the framing is made right, the rest is the answer from the unit on.
 */
#include "clock.h"
#include "modbus_line.h"
#include "modbus_port.h"
#include "modbus_value.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { ANSWER_MAX = 400, RIGHT_FRAME = 1, TAIL = 2 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct peer {
    struct modbus_port *port;
    int descriptor; /* the device's end */
    bool is_tcp;
    uint8_t transaction[2]; /* of the last request */
};

static const struct modbus_request requests[] = {
    {1, MODBUS_PDU_READ_HOLDING, 0, 1, 0},   {1, MODBUS_PDU_READ_INPUT, 9, 2, 0},
    {1, MODBUS_PDU_READ_HOLDING, 3, 125, 0}, {1, MODBUS_PDU_READ_COILS, 0, 1, 0},
    {1, MODBUS_PDU_READ_COILS, 5, 9, 0},     {1, MODBUS_PDU_WRITE_COIL, 2, 1, 1},
    {1, MODBUS_PDU_WRITE_REGISTER, 1, 1, 3}, {1, MODBUS_PDU_WRITE_REGISTERS, 1, 1, 10},
};

static uint16_t crc16(const uint8_t *bytes, size_t size)
{
    uint16_t crc = 0xFFFF;
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = (uint16_t)(crc & 1 ? crc >> 1 ^ 0xA001 : crc >> 1);
        }
    }
    return crc;
}

static void must(bool is_true)
{
    if (!is_true) {
        abort();
    }
}

/* What the port has sent; leaves the transaction number of the newest request. */
static void swallow(struct peer *peer)
{
    uint8_t bytes[512];
    ssize_t got;
    while ((got = read(peer->descriptor, bytes, sizeof bytes)) > 0) {
        if (peer->is_tcp && got >= 2) {
            memcpy(peer->transaction, bytes, 2);
        }
    }
}

static void open_tcp(struct peer *peer)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    must(bind(listener, (struct sockaddr *)&address, size) == 0 && listen(listener, 1) == 0 &&
         getsockname(listener, (struct sockaddr *)&address, &size) == 0);
    struct modbus_port_setup setup = {
        .is_tcp = true, .host = "127.0.0.1", .tcp_port = ntohs(address.sin_port)};
    must(modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &peer->port, NULL) == 0);
    peer->descriptor = accept4(listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    must(peer->descriptor >= 0);
    (void)close(listener); /* it has done its work */
    peer->is_tcp = true;
    /* one request that nobody answers, to learn where the transaction numbers begin */
    struct modbus_reply reply;
    must(modbus_port_exchange(peer->port, &requests[0], clock_boot_ns(), &reply, NULL) < 0);
    swallow(peer);
}

static void open_serial(struct peer *peer)
{
    char device[64];
    peer->descriptor = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    must(peer->descriptor >= 0 && grantpt(peer->descriptor) == 0 &&
         unlockpt(peer->descriptor) == 0 &&
         ptsname_r(peer->descriptor, device, sizeof device) == 0);
    struct modbus_port_setup setup = {
        .device = device, .baud = 19200, .parity = 'N', .stop_bits = 1};
    must(modbus_port_open(&setup, clock_boot_ns() + CLOCK_NS_PER_S, &peer->port, NULL) == 0);
}

/* The frame around the answer: right, or whatever the input holds. */
static size_t frame(const struct peer *peer, uint8_t how, const uint8_t *answer, size_t size,
                    uint8_t *ret)
{
    if (!(how & RIGHT_FRAME)) {
        memcpy(ret, answer, size);
        return size;
    }
    size_t length = 0;
    if (peer->is_tcp) {
        uint16_t next = (uint16_t)((peer->transaction[0] << 8 | peer->transaction[1]) + 1);
        modbus_pdu_header(next, size, ret);
        length = MODBUS_PDU_HEADER;
    }
    memcpy(ret + length, answer, size);
    length += size;
    if (!peer->is_tcp) {
        uint16_t crc = crc16(answer, size);
        ret[length++] = (uint8_t)crc;
        ret[length++] = (uint8_t)(crc >> 8);
    }
    if (how & TAIL) {
        memcpy(ret + length, answer, size); /* and the beginning of another */
        length += size;
    }
    return length;
}

static void check_believed(const struct modbus_request *request, const struct modbus_reply *reply)
{
    must(reply->size <= sizeof reply->body);
    enum modbus_pdu_verdict verdict = modbus_pdu_check(request, reply);
    must(verdict == MODBUS_PDU_OK || verdict == MODBUS_PDU_EXCEPTION);
    must(reply->body[0] == request->unit && (reply->body[1] & 0x7F) == request->function);
    if (verdict == MODBUS_PDU_EXCEPTION) {
        must(modbus_pdu_exception_errno(modbus_pdu_exception(reply)) < 0);
        return;
    }
    must(reply->size == modbus_pdu_reply_size(request));
    if (request->function != MODBUS_PDU_READ_HOLDING &&
        request->function != MODBUS_PDU_READ_INPUT) {
        return;
    }
    for (int type = MODBUS_U16; type <= MODBUS_F32; type++) {
        struct modbus_format format = {.type = (enum modbus_type)type,
                                       .order = (enum modbus_order)(reply->body[4] & 3),
                                       .sentinels = MODBUS_SENTINELS_ALL,
                                       .scale = 0.1};
        uint16_t words[2] = {modbus_pdu_word(reply, 0), modbus_pdu_word(reply, request->count - 1)};
        (void)modbus_value_decode(&format, words); /* any number will do; it must be defined */
    }
}

static void answer_with(struct peer *peer, const struct modbus_request *request,
                        const uint8_t *bytes, size_t size)
{
    ssize_t sent = write(peer->descriptor, bytes, size);
    (void)sent; /* what does not fit was not sent */
    struct modbus_reply reply;
    int64_t started = clock_boot_ns();
    int rc = modbus_port_exchange(peer->port, request, started + CLOCK_NS_PER_MS, &reply, NULL);
    must(clock_boot_ns() - started < CLOCK_NS_PER_S);
    if (rc == 0) {
        check_believed(request, &reply);
    }
    swallow(peer);
    size_t rest;
    (void)modbus_port_discard(peer->port, 0, &rest, NULL);
    (void)modbus_port_discard(peer->port, 0, &rest, NULL); /* at most 508 bytes were left */
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct peer peers[2];
    if (!peers[0].port) {
        open_tcp(&peers[0]);
        open_serial(&peers[1]);
    }
    if (size < 3) {
        return 0;
    }
    const struct modbus_request *request =
        &requests[data[0] % (sizeof requests / sizeof *requests)];
    size_t length = size - 2 < ANSWER_MAX ? size - 2 : ANSWER_MAX;
    if (data[1] & RIGHT_FRAME && length > MODBUS_PDU_BODY_MAX) {
        length = MODBUS_PDU_BODY_MAX;
    }
    for (int i = 0; i < 2; i++) {
        uint8_t bytes[2 * ANSWER_MAX];
        size_t framed = frame(&peers[i], data[1], data + 2, length, bytes);
        answer_with(&peers[i], request, bytes, framed);
    }
    return 0;
}
